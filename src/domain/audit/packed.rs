//! What evidence reads of a round, in few bytes: a row of few rounds is kept as these, and its cells are made again.
//!
//! # Shape
//! ```text
//! round   place among the received · day · green speed · conceded putts · number of holes · each hole · number of putts · each putt
//! hole    strokes over par, signed, times 2, and 1 more where its putts were recorded
//! putt    a byte of marks · distance · the level putt that it plays like · then what the marks tell of:
//!         level roll, ball speed, measured line, played line, leave
//! ```
//! A level roll is left out where it is what the ball speed gives on that green, as that of every round is.

use super::readings::{HoleReading, PuttReading, RoundReadings};
use crate::packing::{Packer, Unpacker};
use crate::putting::roll;
use crate::units::Stimp;

const HOLED: u8 = 1;
const DECLARED: u8 = 1 << 1;
/// Its level roll follows from its ball speed.
const ROLLS: u8 = 1 << 2;
const LEVEL_ROLL: u8 = 1 << 3;
const BALL_SPEED: u8 = 1 << 4;
const START_LINE: u8 = 1 << 5;
const PLAYED_LINE: u8 = 1 << 6;
const LEAVE: u8 = 1 << 7;

/// The most holes and putts of a round: 18 holes of 30 strokes.
const MOST_HOLES: usize = 18;
const MOST_PUTTS: usize = 18 * 30;

impl RoundReadings {
    /// Writes the readings, always the same bytes for the same ones.
    pub fn pack(&self, packer: &mut Packer) {
        packer.whole(self.received);
        packer.date(self.played_on);
        packer.real(self.stimp.get());
        packer.whole(self.conceded);
        packer.whole(self.holes.len() as u64);
        for hole in &self.holes {
            packer.signed(2 * i64::from(hole.to_par) + i64::from(hole.is_recorded));
        }
        packer.whole(self.putts.len() as u64);
        self.putts.iter().for_each(|putt| pack(putt, self.stimp, packer));
    }

    /// Reads readings; `None` where the bytes are none.
    pub fn unpack(bytes: &mut Unpacker<'_>) -> Option<Self> {
        let (received, played_on) = (bytes.whole()?, bytes.date()?);
        let (stimp, conceded) = (Stimp::new(bytes.real()?).ok()?, bytes.whole()?);
        let holes = many(bytes, MOST_HOLES, |bytes| {
            let both: i64 = bytes.signed()?;
            Some(HoleReading { to_par: i32::try_from(both >> 1).ok()?, is_recorded: both & 1 == 1 })
        })?;
        let putts = many(bytes, MOST_PUTTS, |bytes| unpack(bytes, stimp))?;
        Some(Self { received, played_on, stimp, putts, holes, conceded })
    }
}

fn many<'a, T>(
    bytes: &mut Unpacker<'a>,
    most: usize,
    mut one: impl FnMut(&mut Unpacker<'a>) -> Option<T>,
) -> Option<Vec<T>> {
    let many = bytes.whole::<usize>().filter(|many| *many <= most)?;
    (0..many).map(|_| one(bytes)).collect()
}

fn follows(ball_speed_mph: Option<f64>, stimp: Stimp) -> Option<f64> {
    ball_speed_mph.map(|speed| roll::level_roll_ft(speed, stimp))
}

fn pack(putt: &PuttReading, stimp: Stimp, packer: &mut Packer) {
    let rolls = putt.level_roll_ft.is_some() && putt.level_roll_ft == follows(putt.ball_speed_mph, stimp);
    let level_roll = putt.level_roll_ft.filter(|_| !rolls);
    let parts = [
        (LEVEL_ROLL, level_roll),
        (BALL_SPEED, putt.ball_speed_mph),
        (START_LINE, putt.start_line_deg),
        (PLAYED_LINE, putt.played_line_deg),
        (LEAVE, putt.leave_ft),
    ];
    let marks = [(HOLED, putt.is_holed), (DECLARED, putt.is_declared), (ROLLS, rolls)];
    let marks = marks.into_iter().chain(parts.iter().map(|(mark, part)| (*mark, part.is_some())));
    packer.byte(marks.filter(|(_, is_so)| *is_so).map(|(mark, _)| mark).sum());
    packer.real(putt.distance_ft);
    packer.real(putt.plays_like_ft);
    parts.iter().filter_map(|(_, part)| *part).for_each(|part| packer.real(part));
}

fn unpack(bytes: &mut Unpacker<'_>, stimp: Stimp) -> Option<PuttReading> {
    let marks = bytes.byte()?;
    let (distance_ft, plays_like_ft) = (bytes.real()?, bytes.real()?);
    let mut part = |mark: u8| if marks & mark == 0 { Some(None) } else { bytes.real().map(Some) };
    let (level_roll, ball_speed_mph) = (part(LEVEL_ROLL)?, part(BALL_SPEED)?);
    let (start_line_deg, played_line_deg, leave_ft) = (part(START_LINE)?, part(PLAYED_LINE)?, part(LEAVE)?);
    let level_roll_ft = match (marks & ROLLS != 0, level_roll) {
        (false, level_roll) => level_roll,
        (true, None) => Some(follows(ball_speed_mph, stimp)?),
        (true, Some(_)) => return None,
    };
    Some(PuttReading {
        distance_ft,
        plays_like_ft,
        level_roll_ft,
        ball_speed_mph,
        start_line_deg,
        played_line_deg,
        is_holed: marks & HOLED != 0,
        leave_ft,
        is_declared: marks & DECLARED != 0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::Date;
    use proptest::collection::vec;
    use proptest::option::of;
    use proptest::prelude::*;

    /// A number as a sensor shows it, or any.
    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![3 => (-4_500..20_000i32).prop_map(|n| f64::from(n) / 100.0), 1 => -45.0..200.0f64]
    }

    prop_compose! {
        fn any_putt()(
            (distance_ft, plays_like_ft) in (number(), number()),
            (level_roll, rolls, ball_speed_mph) in (of(number()), any::<bool>(), of(0.1..30.0f64)),
            (start_line_deg, played_line_deg, leave_ft) in (of(number()), of(number()), of(number())),
            (is_holed, is_declared) in any::<(bool, bool)>(),
        ) -> PuttReading {
            let stimp = Stimp::new(10.5).unwrap();
            let level_roll_ft = if rolls { follows(ball_speed_mph, stimp) } else { level_roll };
            PuttReading {
                distance_ft, plays_like_ft, level_roll_ft, ball_speed_mph, start_line_deg, played_line_deg, is_holed,
                leave_ft, is_declared,
            }
        }
    }

    proptest! {
        #[test]
        fn readings_come_back(
            received in any::<u64>(),
            conceded in 0..18u32,
            holes in vec((-3..27i32, any::<bool>()), 0..=MOST_HOLES),
            putts in vec(any_putt(), 0..60),
        ) {
            let holes = holes.into_iter().map(|(to_par, is_recorded)| HoleReading { to_par, is_recorded }).collect();
            let (played_on, stimp) = (Date::constant(2027, 1, 31), Stimp::new(10.5).unwrap());
            let due = RoundReadings { received, played_on, stimp, putts, holes, conceded };
            let mut packer = Packer::default();
            due.pack(&mut packer);
            let bytes = packer.finish();
            let mut reader = Unpacker::of(&bytes);
            prop_assert_eq!(RoundReadings::unpack(&mut reader), Some(due));
            prop_assert!(reader.is_at_end());
            for end in 0..bytes.len() {
                prop_assert_eq!(RoundReadings::unpack(&mut Unpacker::of(&bytes[..end])), None);
            }
        }
    }
}
