//! The model of one putt that every kind shares: distance bins, the normal distribution as a table, and the hole.

use crate::putting::capture::HOLE_RADIUS_IN;
pub(super) use crate::putting::capture::reach_ft;
use crate::putting::make::error_function;
use std::f64::consts::{FRAC_1_SQRT_2, PI};
use std::sync::LazyLock;

/// How many distance bins there are: half a foot to 20 ft, a foot to 60.
pub(super) const BINS: usize = 80;
/// What a stop scatters by besides pace, in feet: bumps of the mat and rounded distances (evenfield estimate).
pub(super) const STOP_NOISE_FT: f64 = 0.25;
/// How many slices of pace the hole's window is cut into.
pub(super) const SLICES: usize = 6;

/// Returns the bin of a distance of at most 60 ft.
pub(super) fn bin(distance_ft: f64) -> usize {
    let bin =
        if distance_ft <= 20.0 { (2.0 * distance_ft).ceil() - 1.0 } else { 40.0 + (distance_ft - 20.0).ceil() - 1.0 };
    (bin.max(0.0) as usize).min(BINS - 1)
}

/// Returns the distance in the middle of a bin, in feet.
pub(super) fn middle_ft(bin: usize) -> f64 {
    if bin < 40 { 0.25 + 0.5 * bin as f64 } else { 20.5 + (bin - 40) as f64 }
}

/// Steps of the normal table in a standard deviation.
const STEPS: f64 = 256.0;
/// Where the normal table ends, in standard deviations.
const END: f64 = 8.0;

pub(super) static NORMAL: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let last = (2.0 * END * STEPS) as usize + 1;
    (0..=last).map(|n| 0.5 * (1.0 + error_function((n as f64 / STEPS - END) * FRAC_1_SQRT_2))).collect()
});

/// Returns the normal distribution function, good to 3e-6, from a table.
pub(super) fn normal_below(x: f64) -> f64 {
    let at = (x.clamp(-END, END) + END) * STEPS;
    let n = at as usize;
    let table = &*NORMAL;
    table[n] + (table[n + 1] - table[n]) * (at - n as f64)
}

/// Returns the normal density of standard deviation `sd`.
pub(super) fn normal_density(x: f64, sd: f64) -> f64 {
    (-0.5 * (x / sd) * (x / sd)).exp() / (sd * (2.0 * PI).sqrt())
}

/// Returns how far off line a ball may start and fall, in degrees, if it would roll `beyond_ft` beyond the hole.
///
/// # Formula
/// ```text
/// atan(R · sqrt(1 - v / v_max) / d),  v / v_max = sqrt(beyond / reach)      0 where short or too fast
/// ```
///
/// # Source
/// As [`capture`](crate::putting::capture::capture).
pub(super) fn half_width_deg(distance_ft: f64, beyond_ft: f64, reach_ft: f64) -> f64 {
    if beyond_ft <= 0.0 || beyond_ft >= reach_ft {
        return 0.0;
    }
    let room = HOLE_RADIUS_IN * (1.0 - (beyond_ft / reach_ft).sqrt()).sqrt();
    room.atan2(12.0 * distance_ft).to_degrees()
}

/// Returns the chance that a line of mean `mean_deg` and spread `sd_deg` lies inside `half_width_deg`.
pub(super) fn chance_inside(half_width_deg: f64, mean_deg: f64, sd_deg: f64) -> f64 {
    if half_width_deg <= 0.0 {
        return 0.0;
    }
    (normal_below((half_width_deg - mean_deg) / sd_deg) - normal_below((-half_width_deg - mean_deg) / sd_deg)).max(0.0)
}

/// How far beyond the hole a ball would roll on the level: a normal distribution.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beyond {
    pub(super) mean_ft: f64,
    pub(super) sd_ft: f64,
}

impl Beyond {
    /// Returns the pace of a putt that is meant to roll `past_ft` beyond, with a spread that is a share of the roll.
    pub(super) fn meant(distance_ft: f64, past_ft: f64, spread: f64) -> Self {
        Self { mean_ft: past_ft, sd_ft: (spread * (distance_ft + past_ft)).hypot(STOP_NOISE_FT) }
    }

    /// Returns the chances that the ball arrives in each slice of the pace that falls.
    pub(super) fn slices(&self, reach_ft: f64) -> [f64; SLICES] {
        let mut below = normal_below(-self.mean_ft / self.sd_ft);
        std::array::from_fn(|n| {
            let edge = reach_ft * ((n + 1) as f64 / SLICES as f64).powi(2);
            let next = normal_below((edge - self.mean_ft) / self.sd_ft);
            let chance = next - below;
            below = next;
            chance
        })
    }

    /// Returns the density of stopping `beyond_ft` beyond the hole, a foot.
    pub(super) fn density(&self, beyond_ft: f64) -> f64 {
        normal_density(beyond_ft - self.mean_ft, self.sd_ft)
    }
}

/// Returns the half-widths in the middle of each slice of pace, in degrees.
pub(super) fn slice_widths_deg(distance_ft: f64, reach_ft: f64) -> [f64; SLICES] {
    std::array::from_fn(|n| {
        let share = (n as f64 + 0.5) / SLICES as f64;
        half_width_deg(distance_ft, reach_ft * share * share, reach_ft)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::putting::make::{Scatter, make};
    use crate::units::{Degrees, DistanceSpread, Feet, LineSpread, Overrun, Stimp};

    #[test]
    fn every_distance_lies_in_a_bin_around_its_middle() {
        for tenths in 1..=600 {
            let distance = f64::from(tenths) / 10.0;
            let off = (middle_ft(bin(distance)) - distance).abs();
            assert!(off <= if distance <= 20.0 { 0.2500001 } else { 0.5000001 }, "{distance}");
        }
        assert_eq!((bin(0.1), bin(20.0), bin(20.1), bin(60.0)), (0, 39, 40, 79));
    }

    #[test]
    fn the_normal_table_meets_tabulated_values() {
        // any statistics text, from memory
        for (x, below) in [(0.0, 0.5), (1.0, 0.841_345), (-1.959_964, 0.025), (3.0, 0.998_650), (-9.0, 0.0)] {
            assert!((normal_below(x) - below).abs() < 3e-6, "{x}");
        }
    }

    #[test]
    fn the_slices_of_pace_hole_as_often_as_the_exact_integral() {
        for (distance, line, spread, past) in [(5.0, 1.2, 0.1, 1.4), (10.0, 0.8, 0.14, 1.9), (25.0, 1.7, 0.07, 0.9)] {
            let stimp = Stimp::new(10.0).unwrap();
            let reach = reach_ft(stimp);
            let beyond = Beyond { mean_ft: past, sd_ft: spread * (distance + past) };
            let widths = slice_widths_deg(distance, reach);
            let found: f64 = beyond
                .slices(reach)
                .iter()
                .zip(widths)
                .map(|(share, width)| share * chance_inside(width, 0.0, line))
                .sum();
            let scatter = Scatter {
                line: LineSpread::new(line).unwrap(),
                distance: DistanceSpread::new(spread).unwrap(),
                past: Overrun::new(12.0 * past).unwrap(),
                bias: Degrees::new(0.0).unwrap(),
            };
            let exact = make(Feet::new(distance).unwrap(), &scatter, stimp).make_probability;
            // 0.01: six slices stand in for the whole range of pace
            assert!((found - exact).abs() < 0.01, "{distance} ft: {found} against {exact}");
        }
    }
}
