//! Rows of evidence in few bytes. A member on a set-up has one blob for all kinds: of few rounds the readings, from which the
//! rows are made again, and else the rows themselves. What begins anew after a ruling has a blob of its own, of one row.
//!
//! # Shape
//! ```text
//! readings   0 · number of rounds · the readings of each
//! rows       1 · deflated: the row of each kind, in the order of the kinds
//! ```

use crate::domain::audit::ledger::FEW_ROUNDS;
use crate::domain::audit::{KINDS, Kind, MOST_ROW_BYTES, RoundReadings, State};
use crate::domain::packing::{Packer, Unpacker};
use flate2::Compression;
use flate2::read::{DeflateDecoder, DeflateEncoder};
use std::io::Read;

const READINGS: u8 = 0;
const ROWS: u8 = 1;
/// The most bytes that rows inflate to.
const MOST_BYTES: usize = KINDS.len() * MOST_ROW_BYTES;

/// Packs the readings of few rounds.
pub(super) fn readings(rounds: &[RoundReadings]) -> Vec<u8> {
    let mut packer = Packer::with_room_for(1024 * rounds.len());
    packer.byte(READINGS);
    packer.whole(rounds.len() as u64);
    rounds.iter().for_each(|round| round.pack(&mut packer));
    packer.finish()
}

/// Packs rows, one of each kind or one alone.
pub(super) fn rows<'a>(rows: impl IntoIterator<Item = &'a State>) -> Vec<u8> {
    let mut packer = Packer::default();
    rows.into_iter().for_each(|row| row.pack(&mut packer));
    let (plain, mut bytes) = (packer.finish(), vec![ROWS]);
    // Higher levels saved less than a hundredth of what rows of a demo league took.
    let mut encoder = DeflateEncoder::new(plain.as_slice(), Compression::fast());
    encoder.read_to_end(&mut bytes).expect("bytes in memory can be read");
    bytes
}

#[derive(Debug, PartialEq)]
pub(super) enum Packed {
    Readings(Vec<RoundReadings>),
    Rows(Vec<State>),
}

/// Unpacks a blob; `None` where the bytes are none.
pub(super) fn of(bytes: &[u8]) -> Option<Packed> {
    let (first, rest) = bytes.split_first()?;
    match *first {
        READINGS => {
            let mut rest = Unpacker::of(rest);
            let many = rest.whole::<u32>().filter(|many| (1..FEW_ROUNDS).contains(many))?;
            let rounds = (0..many).map(|_| RoundReadings::unpack(&mut rest)).collect::<Option<_>>()?;
            rest.is_at_end().then_some(Packed::Readings(rounds))
        }
        ROWS => {
            let mut plain = Vec::new();
            DeflateDecoder::new(rest).take(MOST_BYTES as u64).read_to_end(&mut plain).ok()?;
            let (mut plain, mut rows) = (Unpacker::of(&plain), Vec::new());
            while !plain.is_at_end() {
                rows.push(State::unpack(&mut plain)?);
            }
            (rows.len() == 1 || rows.len() == KINDS.len()).then_some(Packed::Rows(rows))
        }
        _ => None,
    }
}

/// Makes the row of each kind from the readings of few rounds.
pub(super) fn made(rounds: &[RoundReadings]) -> Vec<State> {
    let row = |kind: &Kind| {
        let mut row = State::default();
        rounds.iter().for_each(|round| row.add(kind, round));
        row
    };
    KINDS.into_iter().map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::audit::PuttReading;
    use crate::domain::units::Stimp;

    fn round(received: u64) -> RoundReadings {
        let putt = |n: u32| PuttReading {
            distance_ft: 3.0 + f64::from(n),
            plays_like_ft: 3.1 + f64::from(n),
            level_roll_ft: Some(4.0 + f64::from(n)),
            ball_speed_mph: Some(4.2),
            start_line_deg: Some(0.4),
            played_line_deg: Some(f64::from(n) / 10.0),
            is_holed: n.is_multiple_of(2),
            leave_ft: (!n.is_multiple_of(2)).then_some(1.5),
            is_declared: false,
        };
        let putts = (0..27).map(putt).collect();
        let (played_on, stimp) = (jiff::civil::Date::constant(2027, 1, 14), Stimp::new(10.0).unwrap());
        RoundReadings { received, played_on, stimp, putts, holes: vec![], conceded: 1 }
    }

    #[test]
    fn few_rounds_are_their_readings_and_many_their_rows() {
        let rounds: Vec<RoundReadings> = (1..20).map(round).collect();
        let few = &rounds[..FEW_ROUNDS as usize - 1];
        let bytes = readings(few);
        assert!(bytes.len() <= 1024 * few.len(), "{}", bytes.len());
        assert_eq!(of(&bytes), Some(Packed::Readings(few.to_vec())));
        let all = made(&rounds);
        let packed = rows(&all);
        assert!(packed.len() < all.iter().map(State::size).sum::<usize>() / 2, "{}", packed.len());
        assert_eq!(of(&rows([&all[0]])), Some(Packed::Rows(vec![all[0].clone()])));
        for bytes in [&bytes, &packed] {
            assert_eq!(of(&bytes[..bytes.len() - 1]), None);
        }
        assert_eq!(of(&packed), Some(Packed::Rows(all)));
        assert_eq!(of(&readings(&rounds)), None, "many rounds are no readings");
        assert_eq!(of(&readings(&[])), None);
    }

    #[test]
    fn what_inflates_without_end_is_refused() {
        let mut bytes = vec![ROWS];
        let zeros = vec![0; 2 * MOST_BYTES];
        DeflateEncoder::new(zeros.as_slice(), Compression::best()).read_to_end(&mut bytes).unwrap();
        assert_eq!(of(&bytes), None);
    }
}
