//! How often a putt drops, from how far a player's line and distance scatter.

use super::capture::{FASTEST_CAPTURE_MPS, HOLE_RADIUS_IN};
use super::roll::{self, INCHES_PER_FOOT, METRES_PER_FOOT};
use crate::units::{Degrees, DistanceSpread, Feet, LineSpread, Overrun, Stimp};
use serde::Serialize;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// The tour's spread of line in degrees, fitted with [`TOUR_DISTANCE_SPREAD`] and [`TOUR_PAST_FT`] at [`TOUR_STIMP_FT`].
///
/// # Source
/// evenfield estimate: a least-squares fit, with an extra spread of 0.006 a row, to the 31 Broadie2018 rows of *Model
/// building and expansion for golf putting* (Gelman, open data); largest error over the rows 0.0109 (at 5.94 ft). Pure
/// maximum likelihood gives 1.044°, 0.193 and 1.87 ft with a largest error of 0.0143. Gelman's own fit of the angle is
/// 1.02° (from memory).
pub const TOUR_LINE_SPREAD_DEG: f64 = 1.13;
/// The tour's spread of distance as a share. It carries read error too: it is not a pure spread of pace.
pub const TOUR_DISTANCE_SPREAD: f64 = 0.161;
/// How far past the hole the tour's putts are meant to roll, in feet.
pub const TOUR_PAST_FT: f64 = 1.61;
/// The green speed that the tour's constants hold at, in feet.
pub const TOUR_STIMP_FT: f64 = 11.0;

/// How far from the mean, in standard deviations, the integral over the stopping distance goes; 1e-19 lies beyond.
const TAIL_SDS: f64 = 9.0;
/// Where the integral over the stopping distance is cut, in standard deviations, so that each piece is smooth.
const DISTANCE_CUTS_SDS: [f64; 7] = [-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0];
/// Where it is cut in the line, in standard deviations about the bias.
const LINE_CUTS_SDS: [f64; 7] = [-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0];
/// A spread below this share of its scale counts as none: the floats could not resolve the integral.
const NO_SPREAD: f64 = 1e-9;

/// The positive nodes of Gauss-Legendre quadrature with 16 points, and their weights; a test checks them.
#[rustfmt::skip]
const NODES: [(f64, f64); 8] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_58),
    (0.458_016_777_657_227_37, 0.169_156_519_395_002_54),
    (0.617_876_244_402_643_8, 0.149_595_988_816_576_74),
    (0.755_404_408_355_003, 0.124_628_971_255_533_88),
    (0.865_631_202_387_831_8, 0.095_158_511_682_492_79),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_894),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_096),
];

/// How a player's putts scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// The standard deviation of the start line.
    pub line: LineSpread,
    /// The standard deviation of the stopping distance, as a share of the distance meant.
    pub distance: DistanceSpread,
    /// How far past the hole the putts are meant to roll.
    pub past: Overrun,
    /// The mean of the start line; positive is right.
    pub bias: Degrees,
}

/// The chance that a putt drops.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Make {
    /// From 0 to 1.
    pub make_probability: f64,
}

impl Scatter {
    /// Returns the scatter of the tour, the fitted constants above, without bias.
    pub fn tour() -> Self {
        const LEGAL: &str = "the tour's constants are legal, as a test checks";
        Self {
            line: LineSpread::new(TOUR_LINE_SPREAD_DEG).expect(LEGAL),
            distance: DistanceSpread::new(TOUR_DISTANCE_SPREAD).expect(LEGAL),
            past: Overrun::new(TOUR_PAST_FT * INCHES_PER_FOOT).expect(LEGAL),
            bias: Degrees::new(0.0).expect(LEGAL),
        }
    }
}

/// Returns the chance to hole a level putt.
///
/// # Formula
/// ```text
/// line ~ N(bias, σ_line)      stop ~ N(d + past, (σ_dist (d + past))²)
/// holed where stop > d and |line| < atan(R · sqrt(1 - v / v_max) / d),  v² = 2 a (stop - d)
/// ```
/// The line is integrated in closed form. The stopping distance is substituted by stop = d + reach · u² with
/// reach = v_max² / (2 a), so that u = v / v_max; with u = 1 - w² the room for the line is R · w and the integrand has
/// no root left in it. Gauss-Legendre quadrature over at most 15 smooth pieces: the work is bounded, and the error is
/// far below 1e-9.
///
/// # Units
/// d: distance, past: overrun, stop, reach: ft. R: 2.125 in. v_max: 1.63 m/s. a: deceleration on the level.
///
/// # Source
/// evenfield estimate: the model is fitted to the one-putts named at [`TOUR_LINE_SPREAD_DEG`]. The edge of capture is as
/// in [`capture`](super::capture::capture).
///
/// # Examples
/// ```
/// use evenfield_domain::putting::make::{Scatter, make};
/// use evenfield_domain::units::{Feet, Stimp};
///
/// let chance = make(Feet::new(10.0)?, &Scatter::tour(), Stimp::new(11.0)?).make_probability;
/// assert!((chance - 0.383).abs() < 0.001);
/// # Ok::<(), evenfield_domain::units::OutOfRange>(())
/// ```
pub fn make(distance: Feet, scatter: &Scatter, stimp: Stimp) -> Make {
    let distance_ft = distance.get();
    let mean_ft = distance_ft + scatter.past.get() / INCHES_PER_FOOT;
    let sd_ft = scatter.distance.get() * mean_ft;
    let reach_ft = FASTEST_CAPTURE_MPS * FASTEST_CAPTURE_MPS / (2.0 * roll::deceleration_mps2(stimp)) / METRES_PER_FOOT;
    let room = Room { distance_in: distance_ft * INCHES_PER_FOOT };
    let w_of_stop = |stop_ft: f64| (1.0 - ((stop_ft - distance_ft) / reach_ft).clamp(0.0, 1.0).sqrt()).sqrt();

    if scatter.distance.get() < NO_SPREAD {
        let is_there = mean_ft > distance_ft && mean_ft < distance_ft + reach_ft;
        let chance = if is_there { room.chance_of_line(w_of_stop(mean_ft), scatter) } else { 0.0 };
        return Make { make_probability: chance };
    }

    // w falls from 1 (just arrives) to 0 (the fastest that falls) as the stopping distance grows
    let (from, to) = (w_of_stop(mean_ft + TAIL_SDS * sd_ft), w_of_stop(mean_ft - TAIL_SDS * sd_ft));
    let distance_cuts = DISTANCE_CUTS_SDS.iter().map(|sds| w_of_stop(mean_ft + sds * sd_ft));
    let line_cuts = LINE_CUTS_SDS.iter().map(|sds| room.w_of_line(scatter.bias.get().abs() + sds * scatter.line.get()));
    let mut cuts = [to; DISTANCE_CUTS_SDS.len() + LINE_CUTS_SDS.len() + 2];
    cuts[0] = from;
    for (place, cut) in cuts[1..].iter_mut().zip(distance_cuts.chain(line_cuts)) {
        *place = cut.clamp(from, to);
    }
    cuts.sort_unstable_by(f64::total_cmp);

    let density = |w: f64| {
        let u = 1.0 - w * w;
        let sds = (distance_ft + reach_ft * u * u - mean_ft) / sd_ft;
        let normal = (-0.5 * sds * sds).exp() / (sd_ft * (2.0 * PI).sqrt());
        normal * room.chance_of_line(w, scatter) * 4.0 * reach_ft * u * w
    };
    let chance: f64 = cuts.windows(2).map(|ends| integral(ends[0], ends[1], density)).sum();
    Make { make_probability: chance.clamp(0.0, 1.0) }
}

/// The room that the hole leaves for the line, seen from the ball.
struct Room {
    distance_in: f64,
}

impl Room {
    /// Returns the chance that the line lies inside the half-width `R · w`.
    fn chance_of_line(&self, w: f64, scatter: &Scatter) -> f64 {
        let widest_deg = (HOLE_RADIUS_IN * w).atan2(self.distance_in).to_degrees();
        let (bias, sd) = (scatter.bias.get().abs(), scatter.line.get());
        if sd < NO_SPREAD {
            return if bias < widest_deg { 1.0 } else { 0.0 };
        }
        let near = error_function((widest_deg - bias) / sd * FRAC_1_SQRT_2);
        let far = if bias == 0.0 { near } else { error_function((widest_deg + bias) / sd * FRAC_1_SQRT_2) };
        (0.5 * (near + far)).max(0.0)
    }

    /// Returns the `w` whose half-width is `line_deg` wide, within 0 to 1.
    fn w_of_line(&self, line_deg: f64) -> f64 {
        let offset_in = self.distance_in * line_deg.clamp(0.0, 89.0).to_radians().tan();
        (offset_in / HOLE_RADIUS_IN).min(1.0)
    }
}

/// Returns the integral from `from` to `to` by Gauss-Legendre quadrature with 16 points.
fn integral(from: f64, to: f64, of: impl Fn(f64) -> f64) -> f64 {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    if half <= 0.0 {
        return 0.0;
    }
    NODES.iter().map(|(node, weight)| weight * (of(middle - half * node) + of(middle + half * node))).sum::<f64>()
        * half
}

/// Returns the error function.
///
/// # Formula
/// ```text
/// erf(x) = 2/sqrt(π) · exp(-x²) · Σ 2^n x^(2n+1) / (1 · 3 · … · (2n+1))
/// ```
/// All terms are positive, so nothing cancels; beyond 6 it is 1 to the last digit. At most 200 terms.
///
/// # Source
/// The series is common knowledge; the tests hold it against tabulated values.
pub(crate) fn error_function(x: f64) -> f64 {
    const TERMS: i32 = 200;
    if x.abs() > 6.0 {
        return x.signum();
    }
    let twice_square = 2.0 * x * x;
    let (mut term, mut sum) = (x, x);
    for n in 1..TERMS {
        term *= twice_square / f64::from(2 * n + 1);
        sum += term;
        if term.abs() <= 1e-17 * sum.abs() {
            break;
        }
    }
    2.0 / PI.sqrt() * (-x * x).exp() * sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chance(d: f64, line: f64, distance: f64, past_ft: f64, bias: f64, s: f64) -> f64 {
        let scatter = Scatter {
            line: LineSpread::new(line).unwrap(),
            distance: DistanceSpread::new(distance).unwrap(),
            past: Overrun::new(past_ft * INCHES_PER_FOOT).unwrap(),
            bias: Degrees::new(bias).unwrap(),
        };
        make(Feet::new(d).unwrap(), &scatter, Stimp::new(s).unwrap()).make_probability
    }

    #[test]
    fn the_tour_constants_are_legal() {
        assert_eq!(Scatter::tour().line.get(), 1.13);
    }

    #[test]
    fn the_error_function_meets_tabulated_values() {
        // tabulated values, from memory
        for (x, value) in [
            (0.0, 0.0),
            (0.5, 0.520_499_877_813_046_5),
            (1.0, 0.842_700_792_949_714_9),
            (2.0, 0.995_322_265_018_952_7),
            (3.0, 0.999_977_909_503_001_4),
        ] {
            assert!((error_function(x) - value).abs() < 1e-15, "{x}");
            assert_eq!(error_function(-x), 0.0 - error_function(x));
        }
        assert!((error_function(6.0) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn the_quadrature_is_exact_for_every_power_up_to_31() {
        for power in 0..32 {
            let exact = 1.0 / f64::from(power + 1);
            assert!((integral(0.0, 1.0, |x| x.powi(power)) - exact).abs() < 1e-15, "{power}");
        }
    }

    #[test]
    fn the_quadrature_meets_a_fine_sum_over_the_stopping_distance() {
        for (d, line, distance, past, bias) in [
            (10.0, 1.13, 0.161, 1.61, 0.0),
            (3.0, 0.4, 0.05, 1.0, 0.7),
            (25.0, 2.0, 0.3, 3.0, -0.5),
            (6.0, 0.05, 0.02, 0.5, 0.9),
            // a wider spread of distance holes more here: see the property below
            (2.564_924_315_555_430_7, 2.902_128_708_829_547_8, 0.08, 1.61, 0.0),
            (2.564_924_315_555_430_7, 2.902_128_708_829_547_8, 0.09, 1.61, 0.0),
        ] {
            let (mean, reach) = (d + past, 1.63 * 1.63 / (1.83 * 1.83) * 11.0);
            let sd = distance * mean;
            let (steps, mut sum) = (2_000_000, 0.0);
            for i in 0..steps {
                // a midpoint rule in u, that knows nothing of w and of the cuts
                let u = (f64::from(i) + 0.5) / f64::from(steps);
                let sds = (d + reach * u * u - mean) / sd;
                let widest = (2.125 * (1.0 - u).sqrt() / (12.0 * d)).atan().to_degrees();
                let share = |edge: f64| 0.5 * (1.0 + error_function((edge - bias) / line * FRAC_1_SQRT_2));
                sum += (-0.5 * sds * sds).exp() * (share(widest) - share(-widest)) * u;
            }
            sum *= 2.0 * reach / (sd * (2.0 * PI).sqrt()) / f64::from(steps);
            let found = chance(d, line, distance, past, bias, 11.0);
            // 1e-9: what the midpoint rule itself is good for near u = 1
            assert!((found - sum).abs() < 1e-9, "{d} ft: {found} against {sum}");
        }
    }

    #[test]
    fn a_player_without_scatter_holes_or_misses() {
        assert_eq!(chance(10.0, 0.0, 0.0, 1.0, 0.0, 11.0), 1.0);
        assert_eq!(chance(10.0, 0.0, 0.0, 1.0, 2.0, 11.0), 0.0);
        assert_eq!(chance(10.0, 0.0, 0.0, 0.0, 0.0, 11.0), 0.0);
        assert_eq!(chance(10.0, 0.0, 0.0, 20.0, 0.0, 11.0), 0.0);
    }

    #[test]
    fn a_vanishing_spread_runs_into_none() {
        // 1e-6: the spread of 1e-7 still shifts the chance a little
        let near = chance(10.0, 1.13, 1e-7, 1.61, 0.3, 11.0);
        assert!((near - chance(10.0, 1.13, 0.0, 1.61, 0.3, 11.0)).abs() < 1e-6);
        let near = chance(10.0, 1e-7, 0.161, 1.61, 0.3, 11.0);
        assert!((near - chance(10.0, 0.0, 0.161, 1.61, 0.3, 11.0)).abs() < 1e-6);
    }

    proptest! {
        #[test]
        fn the_chance_falls_with_distance_and_with_spread(
            d in 1.0..80.0f64, line in 0.3..3.0f64, distance in 0.08..0.4f64, more in 0.01..0.5f64,
        ) {
            let here = chance(d, line, distance, 1.61, 0.0, 11.0);
            // 1e-12: near 1 and near 0 the chance is flat to the last digits
            prop_assert!(chance(d + more, line, distance, 1.61, 0.0, 11.0) <= here + 1e-12);
            prop_assert!(chance(d, line + more, distance, 1.61, 0.0, 11.0) <= here + 1e-12);
            // Where no ball stops short, a wider spread may hole a few more: the window of line opens faster for a ball
            // that dies than it closes for one that runs. So only where stopping short is within 3.5 spreads.
            if distance * (d + 1.61) * 3.5 > 1.61 {
                prop_assert!(chance(d, line, distance + more, 1.61, 0.0, 11.0) <= here + 1e-12);
            }
        }

        #[test]
        fn where_no_ball_stops_short_a_wider_spread_gains_next_to_nothing(
            d in 1.0..80.0f64, line in 0.3..3.0f64, distance in 0.08..0.4f64, more in 0.01..0.5f64,
        ) {
            let here = chance(d, line, distance, 1.61, 0.0, 11.0);
            prop_assert!(chance(d, line, distance + more, 1.61, 0.0, 11.0) <= here + 1e-3);
        }

        #[test]
        fn a_bias_to_either_side_costs_the_same(d in 1.0..80.0f64, line in 0.1..3.0f64, bias in 0.01..5.0f64) {
            let (right, left) = (chance(d, line, 0.161, 1.61, bias, 11.0), chance(d, line, 0.161, 1.61, -bias, 11.0));
            prop_assert_eq!(right, left);
            prop_assert!(right <= chance(d, line, 0.161, 1.61, 0.0, 11.0) + 1e-12);
        }

        #[test]
        fn a_chance_lies_between_0_and_1(
            d in f64::MIN_POSITIVE..=200.0f64, line in 0.0..=45.0f64, distance in 0.0..=1.0f64, past in 0.0..=20.0f64,
            bias in -45.0..=45.0f64, s in 4.0..=16.0f64, tiny in -320.0..0.0f64,
        ) {
            prop_assert!((0.0..=1.0).contains(&chance(d, line, distance, past, bias, s)));
            let small = 10f64.powf(tiny);
            prop_assert!((0.0..=1.0).contains(&chance(d, small, distance, past, bias, s)));
            prop_assert!((0.0..=1.0).contains(&chance(d, line, small, past, bias, s)));
            prop_assert!((0.0..=1.0).contains(&chance(small.max(f64::MIN_POSITIVE), line, distance, past, bias, s)));
        }
    }
}
