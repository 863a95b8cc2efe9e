//! Why putts were missed.

use super::capture::capture;
use super::pacing::MEANT_PAST_FT;
use super::roll::{self, INCHES_PER_FOOT};
use super::sums::per_round;
use super::sums::squared;
use crate::putting::PuttResult;
use crate::putting::spread::half_interval;
use crate::putting::struck::{Struck, rounded};
use crate::units::{Degrees, Inches, Mph, OutOfRange, Overrun, StrokesGained};
use serde::Serialize;

/// The fewest missed putts from which causes are told.
pub const FEWEST_MISSES: usize = 10;

/// Strokes lost on missed putts, by cause.
///
/// Together they are what the missed putts lost against the baseline. A cause may be below zero: a long putt that dies
/// beside the hole gains although it misses.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Causes {
    /// On the intended line the putt falls.
    pub line: LostPerRound,
    /// At the meant pace it falls.
    pub pace: LostPerRound,
    /// Only both together make it fall.
    pub both: LostPerRound,
    /// It falls as it was struck, had the intended line been right: the read, or the putt's slopes.
    pub read: LostPerRound,
    /// Line or speed was not recorded.
    pub unknown: LostPerRound,
}

/// Strokes lost for 18 recorded holes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LostPerRound {
    pub lost_per_round: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of it.
    pub high: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cause {
    Line,
    Pace,
    /// Either one alone would have done.
    LineOrPace,
    Both,
    Read,
}

/// What was lost to one cause, summed in whole numbers as the bands are.
#[derive(Clone, Copy, Default)]
struct Lost {
    /// In billionths.
    total: i64,
    /// Squares of each putt's loss, in 10⁻¹² of a squared stroke.
    squares: i64,
}

impl Lost {
    fn add(&mut self, billionths: i64) {
        self.total += billionths;
        self.squares += squared(billionths);
    }
}

/// What misses lost by cause.
#[derive(Clone, Copy, Default)]
struct Losses {
    /// Struck putts that have a value.
    putts: u32,
    misses: usize,
    line: Lost,
    pace: Lost,
    both: Lost,
    read: Lost,
    unknown: Lost,
}

impl Losses {
    fn of(struck: &[Struck], ratio: impl Fn(&Struck) -> f64) -> Self {
        let mut lost = Self::default();
        for putt in struck {
            let is_missed = putt.putt.result == PuttResult::Missed;
            if is_missed && putt.leave_ft.is_none() {
                continue;
            }
            lost.putts += 1;
            if !is_missed {
                continue;
            }
            lost.misses += 1;
            let StrokesGained(gain) = putt.gain;
            match cause(putt, ratio(putt)) {
                Some(Cause::Line) => lost.line.add(-gain),
                Some(Cause::Pace) => lost.pace.add(-gain),
                Some(Cause::LineOrPace) => {
                    lost.line.add(-(gain / 2));
                    lost.pace.add(-(gain - gain / 2));
                }
                Some(Cause::Both) => lost.both.add(-gain),
                Some(Cause::Read) => lost.read.add(-gain),
                None => lost.unknown.add(-gain),
            }
        }
        lost
    }
}

impl Causes {
    /// Splits the strokes that missed putts lost; `None` below ten misses, and without a recorded hole.
    ///
    /// Each miss counts for the one of line and pace whose removal holes it in the model of a straight putt: half for
    /// each where either would; for both where neither alone would; for the read where the putt falls in the model as it
    /// was struck. Removed line: 0° off the intended one. Removed pace: the meant roll, 1 ft past the hole. A miss with
    /// no putt after it (a picked-up hole) has no value and is left out.
    ///
    /// # Formula
    /// ```text
    /// (total ± half) · 18 / recorded holes     half: that of a band of distance
    /// ```
    /// Its values are what each struck putt lost to the cause that has a value: nothing for a holed putt and for a miss
    /// with another cause.
    ///
    /// # Source
    /// evenfield's own convention, on the capture model of [`capture`].
    pub(super) fn of(struck: &[Struck], ratio: impl Fn(&Struck) -> f64, recorded_holes: u32) -> Option<Self> {
        let lost = Losses::of(struck, ratio);
        if lost.misses < FEWEST_MISSES {
            return None;
        }
        let n = f64::from(lost.putts);
        let told = |Lost { total, squares }: Lost| {
            let strokes = total as f64 / 1e9;
            let half = half_interval(n, strokes, squares);
            let a_round = |strokes: f64| rounded(strokes * 18.0 / f64::from(recorded_holes));
            let lost_per_round = per_round(total, recorded_holes)?;
            Some(LostPerRound { lost_per_round, low: a_round(strokes - half), high: a_round(strokes + half) })
        };
        Some(Self {
            line: told(lost.line)?,
            pace: told(lost.pace)?,
            both: told(lost.both)?,
            read: told(lost.read)?,
            unknown: told(lost.unknown)?,
        })
    }
}

fn cause(struck: &Struck, ratio: f64) -> Option<Cause> {
    let line = struck.putt.start_line_deg?;
    let speed = Mph::new(struck.putt.ball_speed_mph?.get() / ratio).ok()?;
    removal(struck, line, speed).ok().flatten()
}

/// Returns the cause of a miss; `None` where the fall is too steep for any pace to be meant.
fn removal(struck: &Struck, line: Degrees, speed: Mph) -> Result<Option<Cause>, OutOfRange> {
    let (distance, stimp) = (struck.putt.distance_ft, struck.stimp);
    let elevation = struck.putt.elevation_in.map_or_else(|| Inches::new(0.0), Ok)?;
    let past = Overrun::new(MEANT_PAST_FT * INCHES_PER_FOOT)?;
    let Ok(meant) = roll::pace(distance, stimp, elevation, past) else { return Ok(None) };
    let (straight, meant) = (Degrees::new(0.0)?, Mph::new(meant.ball_speed_mph)?);
    let falls = |line, speed| capture(line, distance, speed, stimp, elevation).holed;
    Ok(Some(match (falls(line, speed), falls(straight, speed), falls(line, meant)) {
        (true, ..) => Cause::Read,
        (_, true, true) => Cause::LineOrPace,
        (_, true, false) => Cause::Line,
        (_, false, true) => Cause::Pace,
        (_, false, false) => Cause::Both,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Putt;
    use crate::units::{Feet, Stimp};

    fn struck(result: PuttResult, distance: f64, line: Option<f64>, speed: Option<f64>, gain: i64) -> Struck {
        let putt = Putt {
            distance_ft: Feet::new(distance).unwrap(),
            elevation_in: None,
            ball_speed_mph: speed.map(|speed| Mph::new(speed).unwrap()),
            start_line_deg: line.map(|line| Degrees::new(line).unwrap()),
            played_line_deg: None,
            result,
        };
        let (stimp, gain) = (Stimp::new(11.0).unwrap(), StrokesGained(gain));
        Struck { setup: None, stimp, putt, leave_ft: Feet::new(2.0).ok(), gain }
    }

    /// Twelve misses off line that lose half a stroke each, twelve holed: 6 strokes over 36 holes are 3 a round. By hand:
    /// squares 3, s² = (3 − 36/24) / 23 = 0.065217, s·√24 = 1.25109, t(23) = 2.0687 (tabled): ± 2.5881, ± 1.2941 a round.
    #[test]
    fn intervals_of_causes_are_those_worked_by_hand() {
        let mut putts = vec![struck(PuttResult::Missed, 10.0, Some(2.0), Some(4.55), -500_000_000); 12];
        putts.extend(vec![struck(PuttResult::Holed, 10.0, Some(0.1), Some(4.55), 600_000_000); 12]);
        // a miss with nothing after it has no value
        putts.push(Struck { leave_ft: None, ..struck(PuttResult::Missed, 9.0, Some(2.0), Some(4.55), 0) });
        let causes = Causes::of(&putts, |_| 1.0, 36).unwrap();
        assert_eq!(causes.line.lost_per_round, 3.0);
        assert_eq!(causes.pace, LostPerRound { lost_per_round: 0.0, low: 0.0, high: 0.0 });
        // the expansion of t is good to a hundredth
        assert!((causes.line.low - (3.0 - 1.2941)).abs() < 0.01, "{causes:?}");
        assert!((causes.line.high - (3.0 + 1.2941)).abs() < 0.01, "{causes:?}");
        assert_eq!(Causes::of(&putts, |_| 1.0, 0), None);
        assert_eq!(Causes::of(&putts[3..], |_| 1.0, 36), None, "nine misses tell no causes");
    }

    #[test]
    fn a_miss_counts_for_what_would_have_holed_it() {
        let check = |distance, line: Option<f64>, speed: Option<f64>, expect: Option<Cause>| {
            let struck = struck(PuttResult::Missed, distance, line, speed, 0);
            assert_eq!(cause(&struck, 1.0), expect, "{distance} ft, {line:?}, {speed:?}");
        };
        // 10 ft at 11: 4.34 mph just arrives, 5.93 is the fastest that falls; 4.6 runs about a foot past
        check(10.0, Some(2.0), Some(4.55), Some(Cause::Line));
        check(10.0, Some(0.1), Some(4.2), Some(Cause::Pace));
        check(10.0, Some(0.6), Some(5.7), Some(Cause::LineOrPace));
        check(10.0, Some(2.0), Some(4.0), Some(Cause::Both));
        check(10.0, Some(0.1), Some(4.55), Some(Cause::Read));
        check(10.0, None, Some(4.55), None);
        check(10.0, Some(2.0), None, None);
    }
}
