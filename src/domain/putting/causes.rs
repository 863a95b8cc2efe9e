//! Why putts were missed.

use super::capture::capture;
use super::pacing::MEANT_PAST_FT;
use super::player::Struck;
use super::roll::{self, INCHES_PER_FOOT};
use super::sums::per_round;
use crate::domain::putting::PuttResult;
use crate::domain::units::{Degrees, Inches, Mph, OutOfRange, Overrun, StrokesGained};
use serde::Serialize;

/// The fewest missed putts from which causes are told.
pub const FEWEST_MISSES: usize = 10;

/// Strokes lost on missed putts for 18 recorded holes, by cause.
///
/// Together they are what the missed putts lost against the baseline. A cause may be below zero: a long putt that dies
/// beside the hole gains although it misses.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Causes {
    /// On the intended line the putt falls.
    pub line: f64,
    /// At the meant pace it falls.
    pub pace: f64,
    /// Only both together make it fall.
    pub both: f64,
    /// It falls as it was struck, had the intended line been right: the read, or the putt's slopes.
    pub read: f64,
    /// Line or speed was not recorded.
    pub unknown: f64,
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

impl Causes {
    /// Splits the strokes that missed putts lost; `None` below ten misses.
    ///
    /// Each miss counts for the one of line and pace whose removal holes it in the model of a straight putt: half for
    /// each where either would; for both where neither alone would; for the read where the putt falls in the model as it
    /// was struck. Removed line: 0° off the intended one. Removed pace: the meant roll, 1 ft past the hole. A miss with
    /// no putt after it (a picked-up hole) has no value and is left out.
    ///
    /// # Source
    /// evenfield's own convention, on the capture model of [`capture`].
    pub(super) fn of(struck: &[Struck], ratio: impl Fn(&Struck) -> f64, recorded_holes: u32) -> Option<Self> {
        let misses = struck.iter().filter(|putt| putt.putt.result == PuttResult::Missed && putt.leave_ft.is_some());
        let mut count = 0;
        let [mut line, mut pace, mut both, mut read, mut unknown] = [0; 5];
        for putt in misses {
            count += 1;
            let StrokesGained(gain) = putt.gain;
            match cause(putt, ratio(putt)) {
                Some(Cause::Line) => line -= gain,
                Some(Cause::Pace) => pace -= gain,
                Some(Cause::LineOrPace) => {
                    line -= gain / 2;
                    pace -= gain - gain / 2;
                }
                Some(Cause::Both) => both -= gain,
                Some(Cause::Read) => read -= gain,
                None => unknown -= gain,
            }
        }
        if count < FEWEST_MISSES {
            return None;
        }
        let strokes = |billionths| per_round(billionths, recorded_holes);
        Some(Self {
            line: strokes(line)?,
            pace: strokes(pace)?,
            both: strokes(both)?,
            read: strokes(read)?,
            unknown: strokes(unknown)?,
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
    use crate::domain::facts::Putt;
    use crate::domain::units::{Feet, Stimp};

    #[test]
    fn a_miss_counts_for_what_would_have_holed_it() {
        let check = |distance, line: Option<f64>, speed: Option<f64>, expect: Option<Cause>| {
            let putt = Putt {
                distance_ft: Feet::new(distance).unwrap(),
                elevation_in: None,
                ball_speed_mph: speed.map(|speed| Mph::new(speed).unwrap()),
                start_line_deg: line.map(|line| Degrees::new(line).unwrap()),
                played_line_deg: None,
                result: PuttResult::Missed,
            };
            let (stimp, gain) = (Stimp::new(11.0).unwrap(), StrokesGained(0));
            let struck = Struck { setup: None, stimp, putt, leave_ft: Feet::new(2.0).ok(), gain };
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
