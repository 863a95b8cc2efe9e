//! What a set-up's recorded ball speeds are worth: how they compare with where the balls stopped.

use super::capture::{HOLE_RADIUS_IN, reach_ft};
use super::make::TOUR_LINE_SPREAD_DEG;
use super::pacing::Rolled;
use super::roll::INCHES_PER_FOOT;
use crate::ids::SetupId;
use crate::putting::PuttResult;
use crate::putting::spread::t_975;
use crate::putting::struck::{FEWEST_PUTTS, Struck, rounded};
use serde::Serialize;
use std::f64::consts::PI;

/// The share of readings that may be absurd (evenfield's own convention).
const MISREAD_SHARE: f64 = 0.03;
/// The shape of the error of a stop: a share of the roll, and feet for rounded leaves and what the line adds (evenfield
/// estimates). Its size is fitted.
const STOP_ERROR_SHARE: f64 = 0.03;
const STOP_ERROR_FT: f64 = 0.3;
/// How far reads are off where the start line is measured, in degrees (evenfield estimate).
const READ_DEG: f64 = 0.5;
/// Slices of speed at the hole in which the line's chance to fall is held constant: their edges over v_max.
const SLICES: usize = 4;
const SLICE_EDGES: [f64; SLICES + 1] = [0.0, 0.3, 0.55, 0.8, 1.0];
/// The bounds of the fitted size of that error, as a natural logarithm.
const LN_SIZE: (f64, f64) = (-3.0, 1.6);
/// The bounds of the ratio, as a natural logarithm: 0.61 to 1.65.
const LN_RATIO: (f64, f64) = (-0.5, 0.5);
/// The first look at the ratios: at this many, with errors of this size.
const FIRST_RATIOS: u32 = 51;
const FIRST_LN_SIZE: f64 = 0.7;
/// The most putts of the first look.
const FIRST_PUTTS: usize = 250;
/// How closely the ratio and its ends are found: far inside any interval.
const PRECISION: f64 = 1e-5;
/// The fewest misses that a fit rests on: two numbers are fitted, and Student's t needs four more.
const FEWEST_MISSES: usize = 6;
/// Putts whose chances are multiplied before a logarithm is taken; none is small enough to vanish.
const PUTTS_A_LOGARITHM: usize = 16;
const HOLE_FT: f64 = HOLE_RADIUS_IN / INCHES_PER_FOOT;

/// What one set-up records of a ball's speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SetupRatio {
    /// The set-up.
    pub setup_id: SetupId,
    /// Putts that the fit rests on.
    pub putts: u32,
    /// Recorded ball speed over the speed that the roll needed; 1 is as modelled.
    pub speed_ratio: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of it.
    pub high: f64,
}

/// A putt that tells something about the ratio: distances in feet, level.
#[derive(Clone, Copy, Debug)]
struct Reading {
    /// The roll at ratio 1.
    level_ft: f64,
    /// Where the ball came to rest, or would have: short, and long.
    stop: Stop,
    /// The chance, or the density, of what happened where the reading is absurd.
    absurd: f64,
}

#[derive(Clone, Copy, Debug)]
enum Stop {
    /// It fell: it would have stopped beyond the first edge. With each slice the line's chance to fall.
    Within { edges_ft: [f64; SLICES + 1], falls: [f64; SLICES] },
    /// It was left short or long: a leave has no sign. What ran long had this chance not to fall.
    Either { short_ft: Option<f64>, long_ft: f64, missed: f64 },
}

impl SetupRatio {
    /// Fits the ratio of one set-up's putts; `None` below 20 that tell something or 6 misses among them, and where
    /// they leave it open.
    ///
    /// # Formula
    /// ```text
    /// stop ~ N(L / r², (k · e)²)      e² = (0.03 L / r²)² + (0.3 ft)²
    /// missed with a leave l:  density of stop at (d - l') P / d, and at P + l' times the chance that the line misses
    ///                         l'² = l² - (d tan line)² - (d tan 0.5°)²
    /// holed:                  chance of a stop between P and P + v_max² / (2 a), times that the line falls
    /// each mixed with 3 % of absurd readings
    /// ```
    /// The line falls where it and a read of ± 0.5° stay within the room that the speed at the hole leaves, in four
    /// slices of that speed. The square beside the line is at least the hole's where the ball is taken to have run past.
    /// Without a measured line the tour's spread stands for line and read.
    ///
    /// r: the ratio, k: the size of the errors, both by maximum likelihood in turns, within bounds. The interval is that
    /// of the likelihood ratio at the fitted k: it ends where the logarithm has fallen by t²/2, t(0.975, misses − 2) in
    /// place of the normal point because k is fitted to the misses.
    ///
    /// # Units
    /// L: level roll of the recorded speed, P: plays-like distance, d: distance, all in feet.
    ///
    /// # Source
    /// evenfield's own model; intervals of a likelihood ratio are standard (from memory).
    pub(super) fn of(setup_id: SetupId, struck: &[&Struck]) -> Option<Self> {
        let readings: Vec<Reading> = struck.iter().filter_map(|putt| Reading::of(putt)).collect();
        let misses = readings.iter().filter(|one| matches!(one.stop, Stop::Either { .. })).count();
        if readings.len() < FEWEST_PUTTS || misses < FEWEST_MISSES {
            return None;
        }
        let step = (LN_RATIO.1 - LN_RATIO.0) / f64::from(FIRST_RATIOS - 1);
        let at = |ln_ratio, ln_size| ln_likelihood(&readings, ln_ratio, ln_size);
        // a part of many putts is enough to find the place where all of them look closely
        let some: Vec<Reading> = readings.iter().step_by(readings.len().div_ceil(FIRST_PUTTS)).copied().collect();
        let roughly = |ln_ratio, ln_size| ln_likelihood(&some, ln_ratio, ln_size);
        let (mut best, mut height) = (0.0, f64::NEG_INFINITY);
        for n in 0..FIRST_RATIOS {
            let ln_ratio = LN_RATIO.0 + step * f64::from(n);
            let found = roughly(ln_ratio, FIRST_LN_SIZE);
            if found > height {
                (best, height) = (ln_ratio, found);
            }
        }
        best = highest((best - step, best + step), 1e-3, |ln_ratio| roughly(ln_ratio, FIRST_LN_SIZE));
        let rough = highest(LN_SIZE, 0.05, |ln_size| roughly(best, ln_size));
        best = highest((best - step, best + step), 1e-4, |ln_ratio| at(ln_ratio, rough));
        let size = highest((rough - 0.5, rough + 0.5), 0.01, |ln_size| at(best, ln_size));
        best = highest((best - 0.5 * step, best + 0.5 * step), PRECISION, |ln_ratio| at(ln_ratio, size));
        let floor = at(best, size) - 0.5 * t_975((misses - 2) as f64).powi(2);
        let end = |sign: f64| edge(best, sign, |ln_ratio| at(ln_ratio, size) - floor);
        Some(Self {
            setup_id,
            putts: readings.len() as u32,
            speed_ratio: rounded(best.exp()),
            low: rounded(end(-1.0)?.exp()),
            high: rounded(end(1.0)?.exp()),
        })
    }
}

impl Reading {
    fn of(struck: &Struck) -> Option<Self> {
        let Rolled { plays_like_ft, level_ft } = Rolled::of(struck)?;
        let distance_ft = struck.putt.distance_ft.get();
        let reach_ft = reach_ft(struck.stimp);
        let (line_deg, unmeasured_deg) = match struck.putt.start_line_deg {
            Some(line) => (line.get(), READ_DEG),
            None => (0.0, TOUR_LINE_SPREAD_DEG),
        };
        let beside = |deg: f64| distance_ft * deg.to_radians().tan();
        let (off, unmeasured) = (beside(line_deg).abs(), beside(unmeasured_deg));
        let falls = |speed_share: f64| {
            let room = HOLE_FT * (1.0 - speed_share).max(0.0).sqrt();
            share_below((room - off) / unmeasured) - share_below((0.0 - room - off) / unmeasured)
        };
        let (stop, absurd) = match (struck.putt.result, struck.leave_ft) {
            (PuttResult::Holed, _) => {
                let edges_ft = SLICE_EDGES.map(|edge| plays_like_ft + reach_ft * edge * edge);
                let slices = std::array::from_fn(|n| falls(0.5 * (SLICE_EDGES[n] + SLICE_EDGES[n + 1])));
                (Stop::Within { edges_ft, falls: slices }, 0.5)
            }
            (PuttResult::Missed, Some(leave)) => {
                let along = |square_beside: f64| (leave.get() * leave.get() - square_beside).max(0.0).sqrt();
                let square_beside = off * off + unmeasured * unmeasured;
                let short = along(square_beside);
                let short_ft = (short < distance_ft).then(|| plays_like_ft * (1.0 - short / distance_ft));
                // what rolls past without falling passes outside the hole
                let long = along(square_beside.max(HOLE_FT * HOLE_FT));
                let missed = 1.0 - falls((long / reach_ft).sqrt());
                (Stop::Either { short_ft, long_ft: plays_like_ft + long, missed }, 1.0 / distance_ft)
            }
            _ => return None,
        };
        Some(Self { level_ft, stop, absurd })
    }

    fn chance(&self, inverse_square_ratio: f64, size: f64) -> f64 {
        let roll = self.level_ft * inverse_square_ratio;
        let share = STOP_ERROR_SHARE * roll;
        let sd = size * (share * share + STOP_ERROR_FT * STOP_ERROR_FT).sqrt();
        let told = match self.stop {
            Stop::Within { edges_ft, falls } => {
                let below = edges_ft.map(|edge| share_below((edge - roll) / sd));
                below.windows(2).zip(falls).map(|(edge, falls)| falls * (edge[1] - edge[0])).sum()
            }
            Stop::Either { short_ft, long_ft, missed } => {
                let density = |stop: f64| {
                    let sds = (stop - roll) / sd;
                    if sds.abs() > 8.0 { 0.0 } else { (-0.5 * sds * sds).exp() }
                };
                (short_ft.map_or(0.0, density) + missed * density(long_ft)) / (sd * (2.0 * PI).sqrt())
            }
        };
        (1.0 - MISREAD_SHARE) * told + MISREAD_SHARE * self.absurd
    }
}

fn ln_likelihood(readings: &[Reading], ln_ratio: f64, ln_size: f64) -> f64 {
    let (inverse_square, size) = ((-2.0 * ln_ratio).exp(), ln_size.exp());
    let product = |some: &[Reading]| some.iter().map(|one| one.chance(inverse_square, size)).product::<f64>().ln();
    readings.chunks(PUTTS_A_LOGARITHM).map(product).sum()
}

/// Returns the place of the highest value between two bounds, by golden section, to within `precision`.
fn highest((mut from, mut to): (f64, f64), precision: f64, of: impl Fn(f64) -> f64) -> f64 {
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let (mut left, mut right) = (to - golden * (to - from), from + golden * (to - from));
    let (mut at_left, mut at_right) = (of(left), of(right));
    while to - from > precision {
        if at_left >= at_right {
            (to, right, at_right) = (right, left, at_left);
            left = to - golden * (to - from);
            at_left = of(left);
        } else {
            (from, left, at_left) = (left, right, at_right);
            right = from + golden * (to - from);
            at_right = of(right);
        }
    }
    0.5 * (from + to)
}

/// Returns where `above` falls to zero on one side of `best`; `None` where it does not within the bounds.
fn edge(best: f64, sign: f64, above: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut inside, mut step) = (best, 1e-3);
    let mut outside = best + sign * step;
    while above(outside) > 0.0 {
        step *= 2.0;
        (inside, outside) = (outside, best + sign * step);
        if !(LN_RATIO.0..=LN_RATIO.1).contains(&outside) {
            return None;
        }
    }
    while (outside - inside).abs() > PRECISION {
        let middle = 0.5 * (inside + outside);
        if above(middle) > 0.0 {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    Some(0.5 * (inside + outside))
}

/// Returns the share of a standard normal distribution below `sds`, to 1e-7.
///
/// # Source
/// Abramowitz and Stegun 7.1.26 (from memory); a test holds it against tabled values.
pub(super) fn share_below(sds: f64) -> f64 {
    if sds.abs() > 6.0 {
        return if sds > 0.0 { 1.0 } else { 0.0 };
    }
    let x = sds.abs() * std::f64::consts::FRAC_1_SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let polynomial =
        t * (0.254_829_592 + t * (-0.284_496_736 + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let tail = 0.5 * polynomial * (-x * x).exp();
    if sds > 0.0 { 1.0 - tail } else { tail }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_normal_share_meets_tabled_values() {
        // any statistics text, from memory
        for (sds, share) in [(0.0, 0.5), (1.0, 0.841_344_7), (-1.96, 0.024_997_9), (3.0, 0.998_650_1), (-9.0, 0.0)] {
            assert!((share_below(sds) - share).abs() < 2e-7, "{sds}: {}", share_below(sds));
        }
    }

    #[test]
    fn the_golden_section_finds_the_top() {
        assert!((highest((-1.0, 2.0), 1e-6, |x| -(x - 0.3) * (x - 0.3)) - 0.3).abs() < 1e-6);
    }
}
