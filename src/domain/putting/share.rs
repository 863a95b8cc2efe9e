//! A share of a number of trials, and how well it is known.

use super::spread::Z_975;

/// Returns the 95 % interval of the share of which `part` of `of` were seen; `None` without a trial.
///
/// # Formula
/// ```text
/// centre = (p + z² / 2n) / (1 + z² / n)      half = z / (1 + z² / n) · sqrt(p (1 - p) / n + z² / 4n²)
/// ```
/// p: part / of. n: of. z: 1.96.
///
/// # Source
/// The score interval of a proportion: E. B. Wilson, JASA 22 (1927) 209–212.
///
/// # Examples
/// ```
/// let (low, high) = evenfield_domain::putting::share::interval(7, 10).unwrap();
/// assert!((low - 0.3968).abs() < 1e-4 && (high - 0.8922).abs() < 1e-4);
/// ```
pub fn interval(part: u32, of: u32) -> Option<(f64, f64)> {
    let (n, square) = (f64::from(of), Z_975 * Z_975);
    let share = f64::from(part) / n;
    let centre = (share + square / (2.0 * n)) / (1.0 + square / n);
    let half = Z_975 / (1.0 + square / n) * (share * (1.0 - share) / n + square / (4.0 * n * n)).sqrt();
    (of > 0).then_some(((centre - half).max(0.0), (centre + half).min(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_holds_its_share_and_stays_within_none_and_all() {
        assert_eq!(interval(0, 0), None);
        for of in 1..60 {
            for part in 0..=of {
                let (low, high) = interval(part, of).unwrap();
                let share = f64::from(part) / f64::from(of);
                // a billionth for the floats at the ends, where the interval touches its share
                assert!(0.0 <= low && low <= share + 1e-9 && share - 1e-9 <= high && high <= 1.0, "{part} of {of}");
                assert!(low < high);
            }
        }
    }
}
