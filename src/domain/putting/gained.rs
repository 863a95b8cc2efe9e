//! Strokes gained: what each putt was worth against a baseline.

use super::PuttResult;
use super::baseline::Baseline;
use crate::facts::{CardHole, Putt};
use crate::units::{Feet, StrokesGained};
use serde::{Serialize, Serializer};

/// The strokes gained on one finished hole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HoleGained {
    /// The hole's total, the exact sum of its putts.
    #[serde(serialize_with = "as_strokes")]
    pub strokes_gained: StrokesGained,
    /// One value a putt, in the order in which they were struck.
    #[serde(serialize_with = "as_strokes_each")]
    pub by_putt: Vec<StrokesGained>,
}

/// Putts that are not those of one finished hole.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum GainedError {
    /// The last putt was missed.
    #[error("putt {putt} was missed and no putt follows it")]
    NoPuttAfterMiss {
        /// The putt's number on the hole, from 1.
        putt: usize,
    },
    /// A putt follows one that was holed or conceded.
    #[error("putt {putt} ended the hole, yet another putt follows it")]
    PuttAfterTheHole {
        /// The number of the putt that ended the hole, from 1.
        putt: usize,
    },
}

/// Returns the strokes gained by each putt of a hole.
///
/// An unfinished last putt (missed, and nothing after it: the hole was picked up) has no value and gains 0. A hole
/// without putts (a chip-in) gains nothing.
///
/// # Formula
/// ```text
/// missed from d leaving d':  E(d) - E(d') - 1
/// holed or conceded:         E(d) - 1
/// ```
/// Each value is rounded once, to a billionth of a stroke, so a finished hole telescopes to `E(first) - putts` within
/// half a billionth a putt. A conceded putt counts one stroke and gains as holed.
///
/// # Shape
/// One value a putt, in the order of `putts`.
///
/// # Source
/// Broadie 2011 (*Putts Gained*). Conceded and unfinished putts: evenfield's own convention.
///
/// # Examples
/// ```
/// use evenfield_domain::putting::{PuttResult, baseline::Baseline, gained};
/// use evenfield_domain::units::Feet;
///
/// let putts = [(Feet::new(31.0)?, PuttResult::Missed), (Feet::new(2.5)?, PuttResult::Holed)];
/// let gained = gained::hole(&putts, Baseline::tour());
/// assert_eq!(gained[1].to_strokes(), 0.01517);
/// # Ok::<(), evenfield_domain::units::OutOfRange>(())
/// ```
pub fn hole(putts: &[(Feet, PuttResult)], baseline: &Baseline) -> Vec<StrokesGained> {
    let mut next: Option<f64> = None;
    let mut gained: Vec<StrokesGained> = putts
        .iter()
        .rev()
        .map(|(distance, result)| {
            let here = baseline.expected_putts(*distance);
            let left = next.replace(here);
            match (result, left) {
                (PuttResult::Holed | PuttResult::Conceded, _) => StrokesGained::from_strokes(here - 1.0),
                (PuttResult::Missed, Some(left)) => StrokesGained::from_strokes(here - left - 1.0),
                (PuttResult::Missed, None) => StrokesGained::default(),
            }
        })
        .collect();
    gained.reverse();
    gained
}

/// What one hole of a card gained.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardHoleGained {
    /// The sum of its putts that count.
    pub strokes_gained: StrokesGained,
    /// One value a putt; `None` for one that has no value, and for one that counts for nothing.
    pub by_putt: Vec<Option<StrokesGained>>,
}

/// Returns what each hole of a card gained, but for what was gained by putts up to `left_out`; `None` for a hole whose
/// putts were not recorded.
///
/// # Formula
/// As [`hole`]. Together they are the gains of the card's [`PuttingTotals`](super::sums::PuttingTotals).
///
/// # Shape
/// One value a hole, in the order of `holes`.
pub fn card(holes: &[CardHole], baseline: &Baseline, left_out: Option<Feet>) -> Vec<Option<CardHoleGained>> {
    let of_hole = |recorded: &Vec<Putt>| {
        let putts: Vec<_> = recorded.iter().map(|putt| (putt.distance_ft, putt.result)).collect();
        let counted = |(n, gain): (usize, StrokesGained)| {
            let (distance, result) = putts[n];
            let has_value = result != PuttResult::Missed || n + 1 < putts.len();
            let counts = left_out.is_none_or(|left_out| distance > left_out);
            (has_value && counts).then_some(gain)
        };
        let by_putt: Vec<_> = hole(&putts, baseline).into_iter().enumerate().map(counted).collect();
        CardHoleGained { strokes_gained: by_putt.iter().flatten().copied().sum(), by_putt }
    };
    holes.iter().map(|hole| hole.putts.as_ref().map(of_hole)).collect()
}

/// Returns the strokes gained by a putt that stands alone, as in practice.
///
/// # Formula
/// ```text
/// holed:                       E(d) - 1
/// missed, leaving d':          E(d) - E(d') - 1
/// missed, the leave unknown:   E(d) - M(d) - 1      M(d) = (E(d) - 1) / (1 - p(d))
/// ```
/// M: what the baseline takes after a miss from d, from E = 1 + (1 - p) M; p: its one-putts. Where it misses next to
/// never the quotient says nothing, and M is held within 1 to 2.
///
/// # Source
/// Broadie 2011 (*Putts Gained*); the unknown leave: evenfield's own convention.
pub fn alone(distance: Feet, result: PuttResult, leave: Option<Feet>, baseline: &Baseline) -> StrokesGained {
    let here = baseline.expected_putts(distance);
    StrokesGained::from_strokes(match (result, leave) {
        (PuttResult::Holed | PuttResult::Conceded, _) => here - 1.0,
        (PuttResult::Missed, Some(leave)) => here - baseline.expected_putts(leave) - 1.0,
        (PuttResult::Missed, None) => {
            let missed = 1.0 - baseline.one_putt(distance);
            let left = if missed > 0.0 { (here - 1.0) / missed } else { 1.0 };
            here - left.clamp(1.0, 2.0) - 1.0
        }
    })
}

/// Returns the strokes gained on a hole that was played out.
///
/// # Formula
/// As [`hole`], and the total is the sum of its putts.
///
/// # Errors
/// [`GainedError`] where the putts are not those of one finished hole: a miss with nothing after it, or a putt after
/// the hole was over. No putts at all is a chip-in and gains 0.
pub fn finished_hole(putts: &[(Feet, PuttResult)], baseline: &Baseline) -> Result<HoleGained, GainedError> {
    for (index, (_, result)) in putts.iter().enumerate() {
        let putt = index + 1;
        match (result, putt == putts.len()) {
            (PuttResult::Missed, true) => return Err(GainedError::NoPuttAfterMiss { putt }),
            (PuttResult::Holed | PuttResult::Conceded, false) => return Err(GainedError::PuttAfterTheHole { putt }),
            _ => {}
        }
    }
    let by_putt = hole(putts, baseline);
    Ok(HoleGained { strokes_gained: by_putt.iter().copied().sum(), by_putt })
}

fn as_strokes<S: Serializer>(gained: &StrokesGained, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(gained.to_strokes())
}

fn as_strokes_each<S: Serializer>(gained: &[StrokesGained], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(gained.iter().map(|value| value.to_strokes()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::putting::PuttingTotals;
    use PuttResult::{Conceded, Holed, Missed};
    use proptest::prelude::*;

    fn feet(d: f64) -> Feet {
        Feet::new(d).unwrap()
    }

    fn strokes(putts: &[(Feet, PuttResult)]) -> Vec<f64> {
        hole(putts, Baseline::tour()).into_iter().map(StrokesGained::to_strokes).collect()
    }

    #[test]
    fn a_holed_putt_gains_what_was_expected_less_the_stroke() {
        assert_eq!(strokes(&[(feet(8.0), Holed)]), [0.50429]);
    }

    #[test]
    fn a_conceded_putt_gains_as_holed() {
        assert_eq!(strokes(&[(feet(8.0), Conceded)]), strokes(&[(feet(8.0), Holed)]));
    }

    #[test]
    fn a_miss_gains_by_what_it_leaves() {
        assert_eq!(strokes(&[(feet(8.0), Missed), (feet(2.0), Holed)]), [-0.49943, 0.00372]);
    }

    #[test]
    fn the_unfinished_putt_of_a_picked_up_hole_has_no_value() {
        assert_eq!(strokes(&[(feet(40.0), Missed), (feet(8.0), Missed)]), [-0.44506, 0.0]);
    }

    #[test]
    fn a_putt_alone_gains_as_on_a_hole() {
        let alone =
            |result, leave: Option<f64>| alone(feet(8.0), result, leave.map(feet), Baseline::tour()).to_strokes();
        assert_eq!(alone(Holed, None), 0.50429);
        assert_eq!(alone(Missed, Some(2.0)), -0.49943);
        // E(8) = 1.50429, p(8) = 0.49664: a miss leaves 0.50429 / 0.50336 = 1.0018476
        assert!((alone(Missed, None) - (1.50429 - 1.001_847_6 - 1.0)).abs() < 1e-7);
    }

    #[test]
    fn a_chip_in_gains_nothing_on_the_green() {
        assert_eq!(strokes(&[]), [0.0; 0]);
        assert_eq!(finished_hole(&[], Baseline::tour()).unwrap().strokes_gained, StrokesGained(0));
    }

    #[test]
    fn putts_that_are_not_one_finished_hole_are_refused() {
        let check = |results: &[PuttResult], expect: GainedError| {
            let putts: Vec<_> = results.iter().map(|result| (feet(5.0), *result)).collect();
            assert_eq!(finished_hole(&putts, Baseline::tour()), Err(expect));
        };
        check(&[Missed, Missed], GainedError::NoPuttAfterMiss { putt: 2 });
        check(&[Holed, Holed], GainedError::PuttAfterTheHole { putt: 1 });
        check(&[Missed, Conceded, Holed], GainedError::PuttAfterTheHole { putt: 2 });
    }

    #[test]
    fn a_hole_is_written_in_strokes() {
        let gained = finished_hole(&[(feet(8.0), Missed), (feet(2.0), Holed)], Baseline::tour()).unwrap();
        let json = serde_json::to_string(&gained).unwrap();
        assert_eq!(json, r#"{"strokes_gained":-0.49571,"by_putt":[-0.49943,0.00372]}"#);
    }

    #[test]
    fn a_card_gains_hole_by_hole_what_its_totals_gain() {
        let card: Vec<CardHole> = serde_json::from_value(serde_json::json!([
            { "number": 1, "strokes": 4, "putts": [
                { "distance_ft": 30, "result": "missed" }, { "distance_ft": 3, "result": "holed" }] },
            { "number": 2, "strokes": 4, "putt_count": 2 },
            { "number": 3, "strokes": 3, "putts": [] },
            { "number": 4, "picked_up": true, "putts": [
                { "distance_ft": 40, "result": "missed" }, { "distance_ft": 8, "result": "missed" }] },
            { "number": 5, "strokes": 4, "putts": [{ "distance_ft": 2, "result": "conceded" }] },
        ]))
        .unwrap();
        for left_out in [None, Feet::new(3.0).ok()] {
            let gained = super::card(&card, Baseline::tour(), left_out);
            let total: StrokesGained = gained.iter().flatten().map(|hole| hole.strokes_gained).sum();
            assert_eq!(total.0, PuttingTotals::of(&card, Baseline::tour(), left_out).gains);
            let known: Vec<Vec<bool>> =
                gained.iter().flatten().map(|hole| hole.by_putt.iter().map(Option::is_some).collect()).collect();
            let short = left_out.is_none();
            assert_eq!(known, [vec![true, short], vec![], vec![true, false], vec![short]]);
            assert!(gained[1].is_none());
        }
    }

    proptest! {
        #[test]
        fn a_hole_telescopes(distances in prop::collection::vec(1e-6..200.0f64, 1..20), is_conceded: bool) {
            let last = distances.len() - 1;
            let end = if is_conceded { Conceded } else { Holed };
            let putts: Vec<_> =
                distances.iter().enumerate().map(|(i, d)| (feet(*d), if i == last { end } else { Missed })).collect();
            let total = finished_hole(&putts, Baseline::tour()).unwrap().strokes_gained.to_strokes();
            let expect = Baseline::tour().expected_putts(putts[0].0) - putts.len() as f64;
            // each putt is rounded to a billionth: half of one a putt, and the floats' own 1e-12
            prop_assert!((total - expect).abs() <= 0.5e-9 * putts.len() as f64 + 1e-12);
        }
    }
}
