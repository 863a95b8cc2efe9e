//! What the evidence needs of a round, boiled down from its card.

use crate::facts::course::Layout;
use crate::facts::{PuttResult, round::CardHole, round::Round};
use crate::putting::roll;
use crate::units::{Feet, Inches, Stimp};
use jiff::civil::Date;

/// The longest putt that any kind looks at, in feet (evenfield's own convention: longer ones say next to nothing).
pub const LONGEST_FT: f64 = 60.0;

/// The steps in which sensors round a line, in degrees, the coarsest first.
pub(super) const STEPS_DEG: [f64; 4] = [1.0, 0.5, 0.25, 0.1];
/// A step is that of a round if this share of its readings other than 0 lies on it, and there are so many of them
/// (evenfield's own choices: a few values that somebody typed change nothing).
const SHARE_ON_STEP: f64 = 0.9;
const FEWEST_FOR_A_STEP: usize = 8;
/// More zeros than this share of the putts inside [`NEAR_FT`], and more than so many times the share beyond [`FAR_FT`],
/// are no readings (evenfield's own choices).
const MOST_ZEROS: f64 = 1.0 / 3.0;
const MOST_ZEROS_RATIO: f64 = 2.0;
pub(super) const NEAR_FT: f64 = 10.0;
pub(super) const FAR_FT: f64 = 20.0;
/// The points of a cell that its likelihood is the mean of, in steps from its middle.
const POINTS: [f64; 5] = [-0.4, -0.2, 0.0, 0.2, 0.4];

/// Which of a putt's two lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LineField {
    /// That the sensor measured.
    Measured,
    /// That the simulator used.
    Played,
}

impl LineField {
    /// Returns a putt's line.
    pub(super) fn of(self, putt: &PuttReading) -> Option<f64> {
        match self {
            LineField::Measured => putt.start_line_deg,
            LineField::Played => putt.played_line_deg,
        }
    }
}

/// How the lines of one field of a round are to be read. Nothing of it is kept from round to round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lines {
    /// Their step's place among [`STEPS_DEG`].
    pub(super) step: usize,
    /// Whether a line of exactly 0 is no reading: a sensor that writes 0 where it saw nothing.
    pub(super) are_zeros_missing: bool,
}

impl Lines {
    /// Returns the middle of the cell that a line lies in, in steps.
    pub(super) fn cell(self, line_deg: f64) -> f64 {
        (line_deg / STEPS_DEG[self.step]).round()
    }

    /// Returns the middle of the cell that a line lies in, in degrees.
    pub(super) fn middle_deg(self, line_deg: f64) -> f64 {
        self.cell(line_deg) * STEPS_DEG[self.step]
    }

    /// Returns the points that stand for the cell that a line lies in, in degrees.
    pub(super) fn points_deg(self, line_deg: f64) -> [f64; POINTS.len()] {
        POINTS.map(|point| (self.cell(line_deg) + point) * STEPS_DEG[self.step])
    }
}

/// How many lines of a field are exactly 0, of how many: inside [`NEAR_FT`] and beyond [`FAR_FT`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Zeros {
    pub(super) near: [u32; 2],
    pub(super) far: [u32; 2],
}

impl Zeros {
    /// Says whether shares of zeros are too many near the hole for readings.
    pub(super) fn are_too_many(near: f64, far: f64) -> bool {
        near > MOST_ZEROS && near > MOST_ZEROS_RATIO * far
    }

    /// Says whether these zeros are no readings.
    pub(super) fn are_missing(self) -> bool {
        let share = |[zeros, all]: [u32; 2]| f64::from(zeros) / f64::from(all.max(1));
        Self::are_too_many(share(self.near), share(self.far))
    }
}

/// One struck putt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PuttReading {
    /// From the ball to the hole, in feet.
    pub distance_ft: f64,
    /// The level putt that it plays like, in feet; the distance itself where the fall is too steep for the ball to stop.
    pub plays_like_ft: f64,
    /// How far the measured speed rolls on the level, in feet.
    pub level_roll_ft: Option<f64>,
    /// The measured ball speed in mph.
    pub ball_speed_mph: Option<f64>,
    /// The measured line in degrees.
    pub start_line_deg: Option<f64>,
    /// The line that the simulator used, in degrees.
    pub played_line_deg: Option<f64>,
    /// Whether it fell.
    pub is_holed: bool,
    /// Where a miss stopped: the next putt's distance in feet.
    pub leave_ft: Option<f64>,
    /// Whether it lies inside the softening that was declared when the round was received.
    pub is_declared: bool,
}

/// One hole whose score is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HoleReading {
    /// Strokes over par; negative is under.
    pub to_par: i32,
    /// Whether its putts were recorded.
    pub is_recorded: bool,
}

/// A round as the evidence reads it.
#[derive(Clone, Debug, PartialEq)]
pub struct RoundReadings {
    /// The round's place in the order in which the league received its rounds.
    pub received: u64,
    /// The day on which it was played.
    pub played_on: Date,
    /// The green speed of the night.
    pub stimp: Stimp,
    /// Its struck putts, in order; conceded ones are left out.
    pub putts: Vec<PuttReading>,
    /// Its holes with a score, picked-up ones left out.
    pub holes: Vec<HoleReading>,
    /// How many putts were conceded.
    pub conceded: u32,
}

/// What a round met: its place among the received, its day, its green and what was declared on its set-up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Met {
    /// The round's place in the order in which the league received its rounds.
    pub received: u64,
    /// The day on which it was played.
    pub played_on: Date,
    /// The green speed of the night.
    pub stimp: Stimp,
    /// The softening radius that was declared when the round was received.
    pub declared_radius_ft: Option<Feet>,
}

impl RoundReadings {
    /// Boils a round down to its readings.
    pub fn of(round: &Round, layout: &Layout, met: Met) -> Self {
        Self::of_holes(&round.holes, layout, met)
    }

    /// Boils the holes of a round down to its readings.
    pub fn of_holes(holes: &[CardHole], layout: &Layout, met: Met) -> Self {
        let struck = |putts: &[crate::facts::Putt]| -> Vec<PuttReading> {
            let leaves = putts.iter().skip(1).map(|next| Some(next.distance_ft)).chain([None]);
            putts.iter().zip(leaves).filter_map(|(putt, leave)| reading(putt, leave, met)).collect()
        };
        let par = |hole: &CardHole| layout.holes.iter().find(|on_card| on_card.number == hole.number);
        let recorded = holes.iter().filter_map(|hole| hole.putts.as_deref());
        Self {
            received: met.received,
            played_on: met.played_on,
            stimp: met.stimp,
            putts: recorded.clone().flat_map(struck).collect(),
            holes: holes
                .iter()
                .filter(|hole| !hole.picked_up && !hole.not_played)
                .filter_map(|hole| {
                    let to_par = i32::from(hole.strokes?.get()) - i32::from(par(hole)?.par.get());
                    Some(HoleReading { to_par, is_recorded: hole.putts.is_some() })
                })
                .collect(),
            conceded: recorded.flatten().filter(|putt| putt.result == PuttResult::Conceded).count() as u32,
        }
    }

    /// Says how the lines of a field are to be read.
    ///
    /// # Formula
    /// ```text
    /// step: the coarsest of 1°, 0.5°, 0.25° and 0.1° on which 90 % of the readings other than 0 lie; fewer than 8: 1°
    /// ```
    pub(super) fn lines(&self, field: LineField) -> Lines {
        let readings: Vec<f64> =
            self.putts.iter().filter_map(|putt| field.of(putt)).filter(|line| *line != 0.0).collect();
        let lie_on = |step: f64| {
            let on_step = |line: &&f64| (**line / step - (**line / step).round()).abs() < 1e-6;
            readings.iter().filter(on_step).count() as f64 >= SHARE_ON_STEP * readings.len() as f64
        };
        let step = match readings.len() {
            0..FEWEST_FOR_A_STEP => 0,
            _ => STEPS_DEG.iter().position(|step| lie_on(*step)).unwrap_or(STEPS_DEG.len() - 1),
        };
        Lines { step, are_zeros_missing: self.zeros(field).are_missing() }
    }

    /// Counts the lines of exactly 0.
    pub(super) fn zeros(&self, field: LineField) -> Zeros {
        let mut zeros = Zeros::default();
        for (putt, line) in self.putts.iter().filter_map(|putt| Some((putt, field.of(putt)?))) {
            let counts = match putt.distance_ft {
                feet if feet <= NEAR_FT => &mut zeros.near,
                feet if feet > FAR_FT => &mut zeros.far,
                _ => continue,
            };
            counts[0] += u32::from(line == 0.0);
            counts[1] += 1;
        }
        zeros
    }

    /// Returns the putts that a kind about softening may look at: short enough for the tables and not declared.
    pub(super) fn undeclared(&self) -> impl Iterator<Item = &PuttReading> {
        self.putts.iter().filter(|putt| putt.distance_ft <= LONGEST_FT && !putt.is_declared)
    }
}

fn reading(putt: &crate::facts::Putt, leave: Option<Feet>, met: Met) -> Option<PuttReading> {
    let is_holed = match putt.result {
        PuttResult::Holed => true,
        PuttResult::Missed => false,
        PuttResult::Conceded => return None,
    };
    let distance_ft = putt.distance_ft.get();
    let elevation = putt.elevation_in.map_or_else(|| Inches::new(0.0), Ok).ok()?;
    let plays_like_ft = roll::plays_like_ft(putt.distance_ft, met.stimp, elevation).unwrap_or(distance_ft);
    Some(PuttReading {
        distance_ft,
        plays_like_ft,
        level_roll_ft: putt.ball_speed_mph.map(|speed| roll::level_roll_ft(speed.get(), met.stimp)),
        ball_speed_mph: putt.ball_speed_mph.map(|speed| speed.get()),
        start_line_deg: putt.start_line_deg.map(|line| line.get()),
        played_line_deg: putt.played_line_deg.map(|line| line.get()),
        is_holed,
        leave_ft: if is_holed { None } else { leave.map(Feet::get) },
        is_declared: met.declared_radius_ft.is_some_and(|radius| distance_ft <= radius.get()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::round::Outcome;
    use crate::facts::{Putt, course::Hole};
    use crate::ids::{ClientRoundId, MemberId};
    use crate::units::{HoleCount, HoleNumber, Mph, Par, SlopeRating, StrokeIndex, Strokes, Tenths};
    use uuid::Uuid;

    fn lines(readings: &[f64]) -> RoundReadings {
        let putt = |line: &f64| PuttReading { start_line_deg: Some(*line), ..super::super::simulated::putt(8.0) };
        super::super::simulated::round(readings.iter().map(putt).collect())
    }

    #[test]
    fn the_step_is_the_coarsest_that_nine_in_ten_readings_lie_on() {
        let step = |readings: &[f64]| STEPS_DEG[lines(readings).lines(LineField::Measured).step];
        let whole = [1.0, -2.0, 3.0, 1.0, -1.0, 2.0, 1.0, -1.0, 2.0];
        assert_eq!(step(&whole), 1.0);
        let one_typed = [&whole[..], &[0.3]].concat();
        assert_eq!(step(&one_typed), 1.0, "nine of ten lie on it");
        assert_eq!(step(&[&whole[1..], &[0.3]].concat()), 0.1, "eight of nine do not");
        assert_eq!(step(&whole.map(|line| line / 2.0)), 0.5);
        assert_eq!(step(&whole.map(|line| line / 4.0)), 0.25);
        assert_eq!(step(&[0.1, 0.2, 0.7, -0.4, 1.3, 0.9, -0.3, 0.6]), 0.1);
        assert_eq!(step(&[0.1, 0.2, 0.7, -0.4, 1.3, 0.9, -0.3, 0.0]), 1.0, "seven that are not 0 tell nothing");
        assert_eq!(step(&[0.013, 0.2, 0.7, -0.4, 1.39, 0.9, -0.3, 0.6]), 0.1, "nothing finer is read");
    }

    #[test]
    fn a_line_is_sorted_into_a_cell_after_rounding() {
        let whole = Lines { step: 0, are_zeros_missing: false };
        assert_eq!((whole.cell(0.4), whole.cell(-1.6), whole.middle_deg(2.3)), (0.0, -2.0, 2.0));
        let points = whole.points_deg(2.3);
        assert!(points.iter().zip([1.6, 1.8, 2.0, 2.2, 2.4]).all(|(point, due)| (point - due).abs() < 1e-12));
    }

    #[test]
    fn zeros_near_the_hole_and_not_far_from_it_are_no_readings() {
        let missing = |near: [u32; 2], far: [u32; 2]| {
            let putts = |distance: f64, [zeros, all]: [u32; 2]| {
                (0..all).map(move |n| PuttReading {
                    start_line_deg: Some(if n < zeros { 0.0 } else { 0.7 }),
                    ..super::super::simulated::putt(distance)
                })
            };
            let round = super::super::simulated::round(putts(6.0, near).chain(putts(25.0, far)).collect());
            round.lines(LineField::Measured).are_zeros_missing
        };
        assert!(missing([4, 9], [1, 9]));
        assert!(!missing([3, 9], [0, 9]), "a third is not more than a third");
        assert!(!missing([8, 9], [4, 9]), "twice as many are not more than twice");
        assert!(missing([9, 9], [4, 9]));
    }

    fn putt(distance: f64, result: PuttResult) -> Putt {
        Putt {
            distance_ft: Feet::new(distance).unwrap(),
            elevation_in: None,
            ball_speed_mph: Mph::new(5.0).ok(),
            start_line_deg: None,
            played_line_deg: None,
            result,
        }
    }

    fn hole(number: i64, strokes: i64, putts: Option<Vec<Putt>>) -> CardHole {
        CardHole {
            number: HoleNumber::new(number).unwrap(),
            strokes: Strokes::new(strokes).ok(),
            picked_up: false,
            not_played: false,
            putts,
            putt_count: None,
        }
    }

    #[test]
    fn a_card_is_boiled_down_to_struck_putts_with_leaves_and_scores_to_par() {
        let misses =
            vec![putt(30.0, PuttResult::Missed), putt(4.0, PuttResult::Missed), putt(1.0, PuttResult::Conceded)];
        let picked = CardHole { picked_up: true, ..hole(4, 9, Some(vec![putt(9.0, PuttResult::Missed)])) };
        let round = Round {
            client_round_id: ClientRoundId(Uuid::nil()),
            member_id: MemberId(Uuid::nil()),
            setup_id: None,
            played_on: jiff::civil::Date::constant(2027, 1, 14),
            outcome: Outcome::Complete,
            holes: vec![hole(1, 5, Some(misses)), hole(2, 3, Some(vec![])), hole(3, 6, None), picked],
        };
        let on_card = |n: i64| Hole {
            number: HoleNumber::new(n).unwrap(),
            par: Par::new(4).unwrap(),
            stroke_index: StrokeIndex::new(n).unwrap(),
        };
        let layout = Layout {
            holes: (1..=9).map(on_card).collect(),
            course_rating: Tenths(355),
            slope_rating: SlopeRating::new(113).unwrap(),
            count: HoleCount::Nine,
        };
        let stimp = Stimp::new(10.0).unwrap();
        let (played_on, declared_radius_ft) = (round.played_on, Feet::new(6.0).ok());
        let met = Met { received: 7, played_on, stimp, declared_radius_ft };
        let found = RoundReadings::of(&round, &layout, met);

        let seen: Vec<_> = found.putts.iter().map(|putt| (putt.distance_ft, putt.leave_ft, putt.is_declared)).collect();
        assert_eq!(seen, [(30.0, Some(4.0), false), (4.0, Some(1.0), true), (9.0, None, false)]);
        // 5 mph: (5 · 0.44704 · 0.9)² · 10 ft / 1.83² = 12.08 ft
        assert!((found.putts[0].level_roll_ft.unwrap() - 12.08).abs() < 0.01);
        assert!((found.putts[0].plays_like_ft - 30.0).abs() < 1e-9);
        let holes: Vec<_> = found.holes.iter().map(|hole| (hole.to_par, hole.is_recorded)).collect();
        assert_eq!(holes, [(1, true), (-1, true), (2, false)]);
        assert_eq!((found.conceded, found.received, found.played_on), (1, 7, played_on));
    }
}
