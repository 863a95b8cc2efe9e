//! The mean and the spread of a player's readings, and how well the spread is known.

/// How many robust standard deviations from the median a reading may lie; one of 16,000 normal ones lies beyond.
const MISREAD_SDS: f64 = 4.0;
/// The standard deviation of a normal distribution over its median absolute deviation: 1 / Φ⁻¹(0.75).
const SD_PER_MEDIAN_DEVIATION: f64 = 1.482_602_218_505_602;
/// The 97.5 % point of the standard normal distribution.
pub(super) const Z_975: f64 = 1.959_963_984_540_054;
/// From this many degrees of freedom on the cube-root form alone is good to a millionth.
const MANY_DEGREES: f64 = 10_000.0;

/// The mean and the spread of some readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spread {
    pub(super) count: u32,
    pub(super) mean: f64,
    pub(super) sd: f64,
    /// The ends of the 95 % interval of `sd`.
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Spread {
    /// Returns the mean and spread of `readings`; `None` for fewer than two.
    ///
    /// # Formula
    /// ```text
    /// sd · sqrt((n - 1) / χ²(0.975, n - 1))  to  sd · sqrt((n - 1) / χ²(0.025, n - 1))
    /// ```
    ///
    /// # Source
    /// The interval of a normal distribution's standard deviation: any statistics text (from memory).
    pub(super) fn of(readings: &[f64]) -> Option<Self> {
        if readings.len() < 2 {
            return None;
        }
        let n = readings.len() as f64;
        let mean = readings.iter().sum::<f64>() / n;
        let square: f64 = readings.iter().map(|x| (x - mean) * (x - mean)).sum();
        let sd = (square / (n - 1.0)).sqrt();
        let end = |share| (square / chi_square(share, n - 1.0)).sqrt();
        Some(Self { count: readings.len() as u32, mean, sd, low: end(Tail::Upper), high: end(Tail::Lower) })
    }
}

/// Leaves out misreadings, those more than four robust standard deviations from the median, and keeps the order.
///
/// A sensor that catches the putter or a shadow gives numbers that no stroke can; one of them would double a spread.
/// Where more than half of the readings are equal there is no robust spread, and nothing is left out.
///
/// # Source
/// evenfield's own convention; the median absolute deviation is a standard robust spread (from memory).
pub(super) fn without_misreadings(readings: &mut Vec<f64>) {
    if let Some(limits) = limits(readings) {
        readings.retain(|x| limits.contains(x));
    }
}

/// Returns the limits beyond which a reading is a misreading; `None` where nothing is left out.
pub(super) fn limits(readings: &[f64]) -> Option<std::ops::RangeInclusive<f64>> {
    if readings.len() < 3 {
        return None;
    }
    let centre = median(readings.to_vec());
    let reach = MISREAD_SDS * SD_PER_MEDIAN_DEVIATION * median(readings.iter().map(|x| (x - centre).abs()).collect());
    (reach > 0.0).then_some(centre - reach..=centre + reach)
}

fn median(mut values: Vec<f64>) -> f64 {
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// A 2.5 % tail of a distribution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tail {
    Lower,
    Upper,
}

/// Returns the point of the chi-square distribution that cuts off a tail of 2.5 %.
///
/// # Formula
/// ```text
/// start: k (1 - 2 / (9 k) ± z sqrt(2 / (9 k)))³       then Newton on P(k/2, x/2) until it stands
/// P(a, y) = y^a e^(-y) / Γ(a + 1) · (1 + y/(a+1) + y²/((a+1)(a+2)) + …)
/// ```
/// All terms are positive. A whole statistics library for one quantile would weigh more than these lines.
///
/// # Source
/// Wilson and Hilferty's cube root and the series of the incomplete gamma function (from memory); tests hold it
/// against tabled values.
fn chi_square(tail: Tail, freedom: f64) -> f64 {
    let (share, z) = match tail {
        Tail::Lower => (0.025, -Z_975),
        Tail::Upper => (0.975, Z_975),
    };
    let unit = 2.0 / (9.0 * freedom);
    // for one or two degrees the cube root may fall below zero
    let mut x = freedom * (1.0 - unit + z * unit.sqrt()).max(0.05).powi(3);
    if freedom > MANY_DEGREES {
        return x;
    }
    let a = 0.5 * freedom;
    for _ in 0..50 {
        let y = 0.5 * x;
        let front = (a * y.ln() - y - ln_gamma(a + 1.0)).exp();
        let (mut term, mut sum, mut n) = (1.0, 1.0, a);
        while term > 1e-16 * sum {
            n += 1.0;
            term *= y / n;
            sum += term;
        }
        // the density of x is front · a / x
        let step = (front * sum - share) / (front * a / x);
        let next = (x - step).max(0.1 * x);
        if (next - x).abs() <= 1e-12 * x {
            return next;
        }
        x = next;
    }
    x
}

/// Returns ln Γ(x) for x > 0: Stirling's series (from memory), after stepping up to where it is exact to 1e-13.
fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut shift) = (x, 0.0);
    while x < 12.0 {
        shift += x.ln();
        x += 1.0;
    }
    let square = x * x;
    let series = (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - 1.0 / (1680.0 * square)) / square) / square) / x;
    (x - 0.5) * x.ln() - x + 0.5 * (2.0 * std::f64::consts::PI).ln() + series - shift
}

/// Returns half the 95 % interval of a sum of `n` values in strokes; `squares` sums theirs in 10⁻¹² of a squared stroke.
///
/// # Formula
/// ```text
/// t(0.975, n − 1) · s · sqrt(n)     s: the values' standard deviation
/// ```
/// # Source
/// Student's interval for a sum of n independent values; t by the expansion of Abramowitz and Stegun 26.7.5 (from memory).
pub(super) fn half_interval(n: f64, total: f64, squares: i64) -> f64 {
    let variance = ((squares as f64 / 1e12 - total * total / n) / (n - 1.0)).max(0.0);
    t_975(n - 1.0) * variance.sqrt() * n.sqrt()
}

/// Returns the 97.5 % point of Student's t, good to 0.01 from four degrees of freedom on.
pub(super) fn t_975(freedom: f64) -> f64 {
    let z = Z_975;
    let (z3, z5, z7) = (z.powi(3), z.powi(5), z.powi(7));
    z + (z3 + z) / (4.0 * freedom)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * z) / (96.0 * freedom.powi(2))
        + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * z) / (384.0 * freedom.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chi_square_points_meet_tabled_values() {
        // any statistics text, from memory
        for (freedom, lower, upper) in [
            (1.0, 0.001, 5.024),
            (2.0, 0.051, 7.378),
            (10.0, 3.247, 20.483),
            (19.0, 8.907, 32.852),
            (30.0, 16.791, 46.979),
            (100.0, 74.222, 129.561),
        ] {
            assert!((chi_square(Tail::Lower, freedom) - lower).abs() < 6e-4, "{freedom}");
            assert!((chi_square(Tail::Upper, freedom) - upper).abs() < 6e-4, "{freedom}");
        }
    }

    #[test]
    fn many_degrees_join_without_a_step() {
        for tail in [Tail::Lower, Tail::Upper] {
            let (below, above) = (chi_square(tail, MANY_DEGREES), chi_square(tail, MANY_DEGREES + 1e-6));
            assert!((below / above - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn ln_gamma_meets_factorials() {
        assert!((ln_gamma(5.0) - 24f64.ln()).abs() < 1e-12);
        assert!((ln_gamma(0.5) - 0.5 * std::f64::consts::PI.ln()).abs() < 1e-12);
        assert!((ln_gamma(21.0) - 2_432_902_008_176_640_000f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn a_misreading_does_not_widen_a_spread() {
        let mut readings: Vec<f64> = (0..100).map(|n| f64::from(n % 10) / 10.0).collect();
        let plain = Spread::of(&readings);
        readings.insert(50, 44.0);
        without_misreadings(&mut readings);
        assert_eq!(Spread::of(&readings), plain);
        let mut equal = vec![1.0, 1.0, 1.0, 2.0];
        without_misreadings(&mut equal);
        assert_eq!(equal.len(), 4);
    }

    /// Tabled values of Student's t (any statistics text; from memory).
    #[test]
    fn the_t_expansion_meets_the_tabled_values() {
        for (freedom, tabled) in [(4.0, 2.776), (9.0, 2.262), (19.0, 2.093), (100.0, 1.984)] {
            assert!((t_975(freedom) - tabled).abs() < 0.011, "{freedom}: {}", t_975(freedom));
        }
    }
}
