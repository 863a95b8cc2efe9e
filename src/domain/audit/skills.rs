//! What putts that nothing softens show of a player's skill, in the middle habits of `short_range_excess`.

use super::evidence::ln_sum;
use super::geometry::bin;
use super::readings::PuttReading;
use super::short_range_excess::{LEVELS, MIDDLE_HABIT, MIDDLE_PACE, Row, SKILLS, TABLES, outcome};

/// The skills that some putts show, each with its weight, and the chance to hole with it.
pub(super) struct Skills {
    weights: Row,
}

impl Skills {
    /// Weighs skills by putts that nothing softens, starting from what players are like.
    pub(super) fn shown_by<'a>(putts: impl Iterator<Item = &'a PuttReading>) -> Self {
        let tables = &*TABLES;
        let mut logs: Row = std::array::from_fn(|skill| {
            ln_sum(tables.priors.iter().zip(LEVELS).map(|(prior, (_, weight))| prior[skill] + weight.ln()))
        });
        for putt in putts {
            let bin = bin(putt.distance_ft);
            for (log, spread) in logs.iter_mut().zip(tables.plain[bin][MIDDLE_HABIT]) {
                *log += f64::from(tables.logs[bin][outcome(putt)][MIDDLE_PACE][usize::from(spread)]);
            }
        }
        let all = ln_sum(logs.into_iter());
        Self { weights: logs.map(|log| (log - all).exp()) }
    }

    /// Returns the spread of line at 10 ft below which this share of the weight lies.
    pub(super) fn quantile(&self, share: f64) -> usize {
        let mut below = 0.0;
        let found = self.weights.iter().position(|weight| {
            below += weight;
            below >= share
        });
        found.unwrap_or(SKILLS - 1)
    }

    /// Returns the chance that a player of that skill holes a putt.
    pub(super) fn chance(skill: usize, distance_ft: f64) -> f64 {
        let (tables, bin) = (&*TABLES, bin(distance_ft));
        let spread = usize::from(tables.plain[bin][MIDDLE_HABIT][skill]);
        f64::from(tables.logs[bin][0][MIDDLE_PACE][spread]).exp()
    }
}
