//! Causes that switch: settings are changed for the nights that matter, so an unfair cause may be on and off.
//!
//! Whatever may switch in the unfair family may change in the honest one: honest explanations are kept twice, without a
//! change and with one, on any night, from any explanation to any other.
//!
//! Players who share a set-up share its switch. So that they need not be weighed together, a row keeps a pair of
//! densities for each night and cause, with the cause off and on, both predicted from what was received of that row before.
//!
//! # Formula
//! ```text
//! round    off = Σ over habits of w · h      on = Σ over habits of w · u      h, u: likelihoods with the cause off and on
//!          post = o on / (o on + (1 - o) off)      π ∝ π (o on + (1 - o) off)      o = 0.9 post + 0.1 (1 - post)
//!          w ∝ w Σ over causes of π (post u / on + (1 - post) h / off)
//! change   with = h · max(with, best of without before the round)      without = h · without
//! set-up   a night's factor is the product of on / off over the rows; for each cause and prior a chain of two states:
//!          P(on after Δ) = s + (on - s) (1 - a - b)^(Δ / 7 days)      s = a / (a + b)
//! evidence mean over causes and priors, times the product of off, over the best honest explanation with a change
//! ```
//! Along one course of the switch each product is a density, and evidence is a mean of such densities with weights fixed
//! beforehand: the bound on false alarms holds. Time runs between dates, so a round that comes late changes nothing else.
//!
//! # Source
//! Prequential predictions (Dawid 1984) and hidden Markov chains (forward and backward; Rabiner 1989), both from memory.
//! Numbers are evenfield estimates.

use super::logs::{best, best_at, ln_mean, ln_sum};
use crate::packing::{Packer, Unpacker};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// The unit of honest cells in nats. They are rounded up and the unfair densities down: rounding never accuses.
const CELL_NATS: f64 = 1.0 / 64.0;
/// A cell is never further below the best one: it could only be too good.
const LEAST_CELL: i32 = 60 * 64;
/// The unit of a night's factor in nats.
const NIGHT_NATS: f64 = 1.0 / 512.0;
/// The unit of the density without the cause, and of beliefs, in nats.
const FINE_NATS: f64 = 1.0 / 65_536.0;
/// What the rounding of beliefs can make of a density, in nats: taken off each.
const MARGIN_NATS: f64 = 2.0 * FINE_NATS;
/// The chance that a cause is on, in 65,536ths: at first, and what is left of certainty from round to round.
const WHOLE: f64 = 65_536.0;
const FIRST_ON: f64 = 0.3;
const STAYS: f64 = 0.9;
/// The most nights of a row, and the most habits and causes; rounds on further nights speak as with the cause off.
const MOST_NIGHTS: usize = 400;
const MOST_BELIEFS: usize = 512;
/// Chances of being switched on and off in a week; beside these a cause may be on all the time.
const SWITCHES: [(f64, f64); 4] = [(0.03, 0.03), (0.1, 0.1), (0.3, 0.3), (0.15, 0.5)];
/// A night's factor counts at most so much, in nats.
const MOST_NATS: f64 = 600.0;

/// What an honest explanation ends with that needs a change.
pub(super) const AFTER_A_CHANGE: &str = ", after something about the simulator or the player changed on some night";

/// For each night, ln of how much likelier its records are with each cause on than with it off, in units.
pub(super) type Nights = BTreeMap<Date, Vec<i64>>;

/// What a row keeps for causes that switch; empty before the first usable reading.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Switching {
    /// ln of the density of all records with the cause off, in fine units.
    off: i64,
    /// ln of the weight of each habit, in fine units.
    habits: Vec<i32>,
    /// For each cause ln of its weight, in fine units, and the chance that it is on, in 65,536ths.
    causes: Vec<[i32; 2]>,
    /// A night's factors, a cause each.
    pub(super) nights: Nights,
}

impl Switching {
    /// Returns how many bytes it takes in memory.
    pub(super) fn size(&self) -> usize {
        4 * self.habits.len() + 8 * self.causes.len() + self.nights.len() * (8 + 8 * self.causes.len())
    }

    /// Learns a round. `cells` are the honest explanations, without a change and then with one; the others are the
    /// log-likelihoods of the round, in nats: honest, of each habit with the cause off, of each cause's habits with it on.
    pub(super) fn learn_beside(&mut self, cells: &mut Vec<i32>, night: Date, [honest, off, on]: [&[f64]; 3]) {
        cells.resize(2 * honest.len(), 0);
        let (without, with) = cells.split_at_mut(honest.len());
        let before = greatest(without);
        let best = best(honest);
        for ((without, with), log) in without.iter_mut().zip(with.iter_mut()).zip(honest) {
            let units = ((log - best) / CELL_NATS).max(-f64::from(LEAST_CELL)).ceil() as i32;
            *with = units + before.max(*with);
            *without += units;
        }
        for cells in [without, with] {
            let least = greatest(cells) - LEAST_CELL;
            cells.iter_mut().for_each(|cell| *cell = least.max(*cell));
        }
        let below = |logs: &[f64]| logs.iter().map(|log| log - best).collect::<Vec<_>>();
        self.learn(night, &below(off), &below(on));
    }

    /// Returns ln of the density of all records with the cause off over the best honest explanation, in nats.
    pub(super) fn off_over_honest(&self, cells: &[i32]) -> f64 {
        let honest = if cells.is_empty() { 0.0 } else { f64::from(greatest(cells)) * CELL_NATS };
        self.off as f64 * FINE_NATS - honest
    }

    /// Returns how many causes there are.
    pub(super) fn causes(&self) -> usize {
        self.causes.len()
    }

    /// Learns the log-likelihoods of each habit with the cause off, and of each cause's habits with it on.
    fn learn(&mut self, night: Date, off: &[f64], on: &[f64]) {
        let causes = on.len() / off.len();
        self.habits.resize(off.len(), 0);
        self.causes.resize(causes, [0, (FIRST_ON * WHOLE) as i32]);
        let weights = normal(self.habits.iter().map(|units| f64::from(*units) * FINE_NATS).collect());
        let predicted = |logs: &[f64]| ln_sum(weights.iter().zip(logs).map(|(weight, log)| weight + log));
        let ln_off = predicted(off);
        let ln_on: Vec<f64> = on.chunks(off.len()).map(predicted).collect();
        self.off += ((ln_off - MARGIN_NATS) / FINE_NATS).floor() as i64;
        if self.nights.len() < MOST_NIGHTS || self.nights.contains_key(&night) {
            let factors = self.nights.entry(night).or_insert_with(|| vec![0; causes]);
            for (factor, ln_on) in factors.iter_mut().zip(&ln_on) {
                let most = (MOST_NATS / NIGHT_NATS) as i64;
                *factor = (*factor + ((ln_on - ln_off) / NIGHT_NATS).floor() as i64).clamp(-most, most);
            }
        }
        let (mut found, mut posts) = (Vec::with_capacity(causes), Vec::with_capacity(causes));
        for ([weight, is_on], ln_on) in self.causes.iter().zip(&ln_on) {
            let is_on = f64::from(*is_on) / WHOLE;
            let (with, without) = (is_on.ln() + ln_on, (1.0 - is_on).ln() + ln_off);
            let either = ln_sum([with, without].into_iter());
            found.push(f64::from(*weight) * FINE_NATS + either);
            posts.push((with - either).exp());
        }
        let found = normal(found);
        // What a habit gains while no cause is on is the same for all causes.
        let none = ln_sum(found.iter().zip(&posts).map(|(weight, post)| weight + (1.0 - post).ln()));
        let gains = |habit: usize| {
            let while_on = found.iter().zip(&posts).zip(&ln_on).enumerate();
            let while_on = while_on
                .map(|(cause, ((weight, post), ln_on))| weight + post.ln() + on[cause * off.len() + habit] - ln_on);
            ln_sum(while_on.chain([none + off[habit] - ln_off]))
        };
        let weights: Vec<f64> = weights.iter().enumerate().map(|(habit, weight)| weight + gains(habit)).collect();
        self.habits = fine(&weights);
        for ((cause, weight), post) in self.causes.iter_mut().zip(fine(&found)).zip(posts) {
            *cause = [weight, ((STAYS * post + (1.0 - STAYS) * (1.0 - post)) * WHOLE).round() as i32];
        }
    }

    /// Writes it, always the same bytes for the same.
    pub(super) fn pack(&self, packer: &mut Packer) {
        packer.whole(self.habits.len() as u64);
        packer.whole(self.causes.len() as u64);
        if self.habits.is_empty() {
            return;
        }
        packer.signed(self.off);
        self.habits.iter().chain(self.causes.iter().flatten()).for_each(|number| packer.signed(*number));
        packer.whole(self.nights.len() as u64);
        for (night, factors) in &self.nights {
            packer.date(*night);
            factors.iter().for_each(|factor| packer.signed(*factor));
        }
    }

    /// Reads it; `None` where the bytes are none.
    pub(super) fn unpack(bytes: &mut Unpacker<'_>) -> Option<Self> {
        let (habits, causes): (usize, usize) = (bytes.whole()?, bytes.whole()?);
        if habits > MOST_BELIEFS || causes > MOST_BELIEFS || (habits == 0) != (causes == 0) {
            return None;
        }
        if habits == 0 {
            return Some(Self::default());
        }
        let off = bytes.signed()?;
        let habits = (0..habits).map(|_| bytes.signed()).collect::<Option<_>>()?;
        let both = (0..causes).map(|_| Some([bytes.signed()?, bytes.signed()?])).collect::<Option<_>>()?;
        let many = bytes.whole().filter(|many: &usize| *many <= MOST_NIGHTS)?;
        let mut nights = Nights::new();
        for _ in 0..many {
            let (night, factors) = (bytes.date()?, (0..causes).map(|_| bytes.signed()).collect::<Option<_>>()?);
            if nights.last_key_value().is_some_and(|(last, _)| *last >= night) {
                return None;
            }
            nights.insert(night, factors);
        }
        Some(Self { off, habits, causes: both, nights })
    }
}

/// Returns log-weights that add up to 1.
fn normal(logs: Vec<f64>) -> Vec<f64> {
    let all = ln_sum(logs.iter().copied());
    logs.into_iter().map(|log| log - all).collect()
}

/// Returns log-weights in fine units, the greatest being 0.
fn fine(logs: &[f64]) -> Vec<i32> {
    let best = best(logs);
    logs.iter().map(|log| ((log - best) / FINE_NATS).round().max(f64::from(i32::MIN / 2)) as i32).collect()
}

fn greatest(cells: &[i32]) -> i32 {
    cells.iter().copied().fold(i32::MIN, i32::max)
}

/// Returns the place of the best honest explanation, and whether it needs a change.
pub(super) fn nearest_honest(cells: &[i32]) -> (usize, bool) {
    let (without, with) = cells.split_at(cells.len() / 2);
    let (still, changed) = (best_at(without), best_at(with));
    // An explanation that must change is one more to believe: it has to be twenty times as good.
    let gain = with.get(changed).zip(without.get(still)).map_or(0, |(with, without)| with - without);
    if f64::from(gain) * CELL_NATS > 20f64.ln() { (changed, true) } else { (still, false) }
}

/// A prior of the switch: always on, or a chain with chances of being switched on and off in a week.
type Prior = Option<(f64, f64)>;

fn priors() -> impl Iterator<Item = Prior> + Clone {
    std::iter::once(None).chain(SWITCHES.map(Some))
}

/// The nights of one cause: weeks since the one before, and how much likelier the records are with the cause on.
fn of_cause(nights: &Nights, cause: usize) -> Vec<(f64, f64)> {
    let mut before = None;
    let night = |(night, factors): (&Date, &Vec<i64>)| {
        let days = before.replace(*night).map_or(0, |before: Date| (*night - before).get_days());
        let nats = factors.get(cause).map_or(0.0, |units| *units as f64 * NIGHT_NATS);
        (f64::from(days) / 7.0, nats.clamp(-MOST_NATS, MOST_NATS).exp())
    };
    nights.iter().map(night).collect()
}

/// Returns the chance of being on that a chance before leads to, some weeks later.
fn later((a, b): (f64, f64), weeks: f64, before: f64) -> f64 {
    let settled = a / (a + b);
    settled + (before - settled) * (1.0 - a - b).powf(weeks)
}

/// Returns ln of how much likelier the nights are under a prior than with the cause always off.
fn ln_ratio(nights: &[(f64, f64)], prior: Prior) -> f64 {
    let Some(chances @ (a, b)) = prior else { return nights.iter().map(|(_, ratio)| ratio.ln()).sum() };
    let (mut on, mut sum) = (a / (a + b), 0.0);
    for (weeks, ratio) in nights {
        let before = later(chances, *weeks, on);
        let either = 1.0 - before + before * ratio;
        sum += either.ln();
        on = before * ratio / either;
    }
    sum
}

/// Returns the chance that the cause was on, for each night, given all nights.
fn smoothed(nights: &[(f64, f64)], prior: Prior) -> Vec<f64> {
    let Some(chances @ (a, b)) = prior else { return vec![1.0; nights.len()] };
    let mut on = a / (a + b);
    let mut known: Vec<(f64, f64)> = Vec::with_capacity(nights.len());
    for (weeks, ratio) in nights {
        let before = later(chances, *weeks, on);
        on = before * ratio / (1.0 - before + before * ratio);
        known.push((before, on));
    }
    let mut found = vec![0.0; nights.len()];
    for n in (0..nights.len()).rev() {
        let on = known[n].1;
        found[n] = match (nights.get(n + 1), known.get(n + 1)) {
            (Some((weeks, _)), Some((before, _))) => {
                let (next, stays) = (found[n + 1], later(chances, *weeks, 1.0));
                on * (stays * next / before + (1.0 - stays) * (1.0 - next) / (1.0 - before))
            }
            _ => on,
        };
    }
    found
}

/// Returns each cause's evidence in nats: the mean over the priors of its switch.
pub(super) fn causes(nights: &Nights, causes: usize, off_over_honest: f64) -> Vec<f64> {
    let cause = |cause| {
        let nights = of_cause(nights, cause);
        off_over_honest + ln_mean(&priors().map(|prior| ln_ratio(&nights, prior)).collect::<Vec<_>>())
    };
    (0..causes).map(cause).collect()
}

/// Returns the chance that a cause was on, for each night, over all causes and priors as far as the nights speak for them.
pub(super) fn chances(nights: &Nights, causes: usize) -> Vec<f64> {
    let explanations = (0..causes).flat_map(|cause| {
        let nights = of_cause(nights, cause);
        priors().map(move |prior| (ln_ratio(&nights, prior), smoothed(&nights, prior))).collect::<Vec<_>>()
    });
    let explanations: Vec<(f64, Vec<f64>)> = explanations.collect();
    let all = ln_sum(explanations.iter().map(|(log, _)| *log));
    let mut sum = vec![0.0; nights.len()];
    for (log, chances) in explanations {
        let weight = (log - all).exp();
        sum.iter_mut().zip(chances).for_each(|(sum, chance)| *sum += weight * chance);
    }
    sum
}

#[cfg(test)]
mod tests;
