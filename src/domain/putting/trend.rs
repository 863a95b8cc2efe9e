//! A player's putting night by night, and whether it has changed.

use super::band::FEWEST_FOR_INTERVAL;
use super::baseline::{Baseline, Yardstick};
use super::gained;
use super::pacing::{PaceSpread, Rolled};
use super::player::{PlayerPutting, ratio_of};
use super::report::PuttedRound;
use super::spread::t_975;
use super::startline::StartLine;
use super::struck::{Struck, rounded};
use super::sums::per_round;
use crate::facts::PuttResult;
use crate::ids::{EventId, MemberId};
use jiff::civil::Date;
use serde::Serialize;

/// The fewest recorded holes on either side from which a change is told.
const FEWEST_HOLES: usize = 18;

/// A player's putting by night, oldest first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PuttingTrend {
    pub member_id: MemberId,
    /// What strokes gained are compared with.
    pub baseline: Yardstick,
    pub items: Vec<PuttedNight>,
    /// What changed; `None` while there are fewer than 18 recorded holes on either side.
    pub change: Option<Change>,
    /// There is one page.
    pub next: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PuttedNight {
    pub event_id: EventId,
    pub date: Date,
    /// Holes whose putts were recorded.
    pub recorded_holes: u32,
    /// All putts, bare counts included; `None` where a hole tells nothing.
    pub putts: Option<u32>,
    /// Strokes gained for 18 recorded holes; `None` without one.
    pub strokes_gained_per_round: Option<f64>,
    /// Lower end of its 95 % interval; `None` below five holes.
    pub low_per_round: Option<f64>,
    pub high_per_round: Option<f64>,
    /// How straight the ball started; `None` below 20 putts with a measured line.
    pub start_line: Option<StartLine>,
    /// How well putts were paced; `None` below 20 putts with a recorded speed.
    pub pace: Option<PaceSpread>,
}

/// The later half of the nights against the earlier one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Change {
    /// The first night of the later half.
    pub since: Date,
    /// Strokes gained for 18 holes, the later half less the earlier one.
    pub strokes_gained_per_round: f64,
    /// Lower end of its 95 % interval.
    pub low_per_round: f64,
    pub high_per_round: f64,
    /// The interval holds 0: luck alone could have done it.
    pub may_be_luck: bool,
}

impl PuttingTrend {
    /// Works out the trend of a member's counting rounds.
    ///
    /// # Formula
    /// ```text
    /// night:  18 · (mean ± t(0.975, n - 1) · s / √n)                       of the n holes' strokes gained
    /// change: 18 · (mean₂ - mean₁ ± t(0.975, k) · sqrt(s₁²/n₁ + s₂²/n₂))
    /// ```
    /// k: Welch's degrees of freedom. The later half are the last ⌊nights / 2⌋.
    ///
    /// # Shape
    /// `rounds` in the order of events.
    ///
    /// # Source
    /// Student's and Welch's intervals (from memory).
    pub fn of(member_id: MemberId, rounds: &[PuttedRound], baseline: &Baseline) -> Self {
        let nights: Vec<Night> = rounds.iter().map(|round| Night::of(round, baseline)).collect();
        let all: Vec<Struck> = nights.iter().flat_map(|night| &night.struck).copied().collect();
        let setups = PlayerPutting::of(&all, 0).setups;
        let items = rounds.iter().zip(&nights).map(|(round, Night { struck, gains })| {
            let found = Sample::of(gains.iter().map(|gain| strokes(*gain)));
            let told = (gains.len() >= FEWEST_FOR_INTERVAL as usize).then_some(found.half_interval());
            let a_round = |strokes: f64| rounded(18.0 * strokes);
            let errors = struck.iter().filter_map(|putt| Some(Rolled::of(putt)?.error(ratio_of(&setups, putt))));
            PuttedNight {
                event_id: round.event,
                date: round.date,
                recorded_holes: round.recorded_holes,
                putts: round.putts,
                strokes_gained_per_round: per_round(gains.iter().sum(), round.recorded_holes),
                low_per_round: told.map(|half| a_round(found.mean - half)),
                high_per_round: told.map(|half| a_round(found.mean + half)),
                start_line: StartLine::of(struck),
                pace: PaceSpread::of(errors.collect()),
            }
        });
        let later = rounds.len() - rounds.len() / 2;
        let half = |nights: &[Night]| -> Vec<f64> {
            nights.iter().flat_map(|night| &night.gains).map(|gain| strokes(*gain)).collect()
        };
        let (before, after) = (half(&nights[..later]), half(&nights[later..]));
        let change = rounds.get(later).and_then(|first| Change::of(first.date, &before, &after));
        Self { member_id, baseline: baseline.name(), items: items.collect(), change, next: None }
    }
}

/// A night's struck putts, and what each recorded hole gained, in billionths.
struct Night {
    struck: Vec<Struck>,
    gains: Vec<i64>,
}

impl Night {
    fn of(round: &PuttedRound, baseline: &Baseline) -> Self {
        let (mut struck, mut gains) = (Vec::new(), Vec::new());
        for hole in &round.by_hole {
            let putts: Vec<_> = hole.iter().map(|putt| (putt.distance_ft, putt.result)).collect();
            let of_hole: Vec<Struck> = round.struck(hole, gained::hole(&putts, baseline)).collect();
            gains.push(of_hole.iter().map(|putt| putt.gain.0).sum::<i64>());
            struck.extend(of_hole.into_iter().filter(|putt| putt.putt.result != PuttResult::Conceded));
        }
        // chip-ins were recorded too, and gained nothing on the green
        gains.resize(gains.len().max(round.recorded_holes as usize), 0);
        Self { struck, gains }
    }
}

fn strokes(billionths: i64) -> f64 {
    billionths as f64 / 1e9
}

/// The mean of some values and how well it is known.
struct Sample {
    count: f64,
    mean: f64,
    /// The square of the mean's standard error.
    error: f64,
}

impl Sample {
    fn of(values: impl Iterator<Item = f64>) -> Self {
        let values: Vec<f64> = values.collect();
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let square: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
        Self { count, mean, error: square / (count - 1.0) / count }
    }

    fn half_interval(&self) -> f64 {
        t_975(self.count - 1.0) * self.error.sqrt()
    }
}

impl Change {
    fn of(since: Date, before: &[f64], after: &[f64]) -> Option<Self> {
        if before.len().min(after.len()) < FEWEST_HOLES {
            return None;
        }
        let (before, after) = (Sample::of(before.iter().copied()), Sample::of(after.iter().copied()));
        let error = before.error + after.error;
        let own = |sample: &Sample| sample.error * sample.error / (sample.count - 1.0);
        let freedom = error * error / (own(&before) + own(&after));
        // without any spread there is nothing to be uncertain of
        let half = if error > 0.0 { t_975(freedom) * error.sqrt() } else { 0.0 };
        let by = after.mean - before.mean;
        let a_round = |strokes: f64| rounded(18.0 * strokes);
        Some(Self {
            since,
            strokes_gained_per_round: a_round(by),
            low_per_round: a_round(by - half),
            high_per_round: a_round(by + half),
            may_be_luck: by - half <= 0.0 && 0.0 <= by + half,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// By hand: means −0.1 and 0.1; squares 18 · 0.25 each, s²/n = 4.5 / 17 / 18 = 0.0147059; error 0.0294118, its root
    /// 0.171499; Welch's k = 34; t(34) = 2.0322 (tabled): ± 0.348521, a round ± 6.27337 around 3.6.
    #[test]
    fn a_change_is_that_worked_by_hand() {
        let values = |mean: f64| -> Vec<f64> { (0..18).map(|n| mean + if n % 2 == 0 { 0.5 } else { -0.5 }).collect() };
        let found = Change::of(date(2027, 1, 14), &values(-0.1), &values(0.1)).unwrap();
        assert!((found.strokes_gained_per_round - 3.6).abs() < 1e-6);
        // the expansion of t is good to a hundredth
        assert!((found.high_per_round - 3.6 - 6.273_37).abs() < 0.03, "{found:?}");
        assert!(found.may_be_luck);
        assert!(!Change::of(date(2027, 1, 14), &values(-1.0), &values(1.0)).unwrap().may_be_luck);
        assert_eq!(Change::of(date(2027, 1, 14), &values(0.0)[1..], &values(0.0)), None);
    }
}
