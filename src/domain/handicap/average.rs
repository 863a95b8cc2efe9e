//! An average of the best of the latest differentials, which some leagues play off.

use crate::exact::{Exact, round_tenth, whole};
use crate::units::Tenths;

/// The fewest differentials that make an average.
pub const FEWEST: usize = 3;

/// Returns a share of the mean of the `best` lowest of the `last` latest differentials, oldest first; `None` below three.
///
/// # Formula
/// ```text
/// sum of the k lowest of the latest n, / k, · pct / 100, to a tenth (halves up)
/// n: `last`, or fewer where there are no more; k: `best`, at most n
/// ```
///
/// # Source
/// Common practice, no source.
///
/// # Examples
/// ```
/// use evenfield_domain::handicap::average::average;
/// use evenfield_domain::units::Tenths;
/// let latest = [300, 121, 140, 90].map(Tenths);
/// assert_eq!(average(&latest, 3, 2, 90), Some(Tenths(95))); // (9.0 + 12.1) / 2 · 0.9 = 9.495
/// ```
pub fn average(differentials: &[Tenths], last: u32, best: u32, pct: u32) -> Option<Tenths> {
    if differentials.len() < FEWEST {
        return None;
    }
    let (window, best) = selected(differentials, last, best);
    let mut sorted = window.to_vec();
    sorted.sort_unstable();
    let sum: Exact = sorted.iter().take(best).map(|differential| Exact::from(*differential)).sum();
    Some(round_tenth(sum / whole(best as i128) * Exact::new(pct.into(), 100)))
}

/// Returns the differentials that are looked at, and how many of them count.
pub fn selected(differentials: &[Tenths], last: u32, best: u32) -> (&[Tenths], usize) {
    let window = &differentials[differentials.len().saturating_sub(last as usize)..];
    (window, (best as usize).clamp(1, window.len().max(1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(differentials: &[i32], terms: (u32, u32, u32), expect: Option<i32>) {
        let given: Vec<Tenths> = differentials.iter().copied().map(Tenths).collect();
        assert_eq!(
            average(&given, terms.0, terms.1, terms.2).map(|value| value.0),
            expect,
            "{differentials:?} {terms:?}"
        );
    }

    #[test]
    fn the_best_of_the_latest_are_averaged() {
        check(&[100, 110], (5, 3, 100), None);
        check(&[100, 110, 120], (5, 3, 100), Some(110));
        // The oldest is out of the window: (10.0 + 10.1 + 10.3) / 3 = 10.1333…
        check(&[10, 103, 101, 100, 200, 300], (5, 3, 100), Some(101));
        check(&[10, 103, 101, 100, 200, 300], (40, 40, 100), Some(136)); // 81.4 / 6 = 13.5666…
        check(&[100, 110, 120], (1, 1, 80), Some(96));
        // A half goes up, for plus handicaps too: 10.05 and −10.05.
        check(&[100, 101, 150], (3, 2, 100), Some(101));
        check(&[-100, -101, 0], (3, 2, 100), Some(-100));
        check(&[100, 110, 120], (3, 3, 0), Some(0));
    }
}
