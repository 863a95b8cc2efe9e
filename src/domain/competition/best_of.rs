//! A season's total: the best so many results.

use super::Better;
use crate::domain::exact::Exact;

/// A total of the best results.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BestOf {
    /// The sum of the results that count.
    pub total: Exact,
    /// Which results count, in the order given.
    pub counted: Vec<usize>,
    /// Whether there were enough appearances.
    pub is_eligible: bool,
}

/// Adds up the best `count` results; with fewer, what there is. An absence is no result, and not a zero.
///
/// Among equal results the later one counts, as in a scoring record.
///
/// # Source
/// Common practice; for instance norcrossgolfsociety.co.uk (at least five meetings, the best five count).
pub fn best_of(results: &[Option<Exact>], count: usize, minimum: usize, better: Better) -> BestOf {
    let mut ranked: Vec<(usize, Exact)> =
        results.iter().enumerate().filter_map(|(n, result)| Some((n, (*result)?))).collect();
    let is_eligible = ranked.len() >= minimum;
    ranked.reverse();
    ranked.sort_by(|(_, a), (_, b)| better.compare(a, b));
    ranked.truncate(count);
    let total = ranked.iter().map(|(_, result)| result).sum();
    let mut counted: Vec<usize> = ranked.into_iter().map(|(n, _)| n).collect();
    counted.sort_unstable();
    BestOf { total, counted, is_eligible }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::exact::whole;

    fn check(results: &[i32], count: usize, minimum: usize, better: Better, expect: (i32, &[usize], bool)) {
        // Zero stands for an absence.
        let results: Vec<_> = results.iter().map(|&result| (result != 0).then(|| whole(result))).collect();
        let found = best_of(&results, count, minimum, better);
        assert_eq!((found.total, found.counted.as_slice(), found.is_eligible), (whole(expect.0), expect.1, expect.2));
    }

    #[test]
    fn the_best_results_count_and_absences_dont() {
        check(&[10, 0, 7, 12], 2, 0, Better::Higher, (22, &[0, 3], true));
        check(&[70, 0, 68, 72], 2, 4, Better::Lower, (138, &[0, 2], false));
        check(&[0, 5], 3, 1, Better::Higher, (5, &[1], true));
        check(&[], 3, 0, Better::Higher, (0, &[], true));
    }

    #[test]
    fn among_equal_results_the_later_counts() {
        check(&[8, 9, 8], 2, 0, Better::Higher, (17, &[1, 2], true));
    }
}
