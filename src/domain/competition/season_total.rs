//! A season's total: the best so many values, weights, dropped values and adjustments.

use super::better::Better;
use crate::exact::Exact;

/// Which values make up a total.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counting {
    /// The best so many; `None`: all.
    pub best: Option<usize>,
    /// The worst so many of those drop, however few there are.
    pub drop_worst: usize,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Total {
    /// The sum.
    pub total: Exact,
    /// Which values count, in the order given.
    pub counted: Vec<usize>,
}

/// Adds up the best values. An absence is no value, and not a zero.
///
/// Among equal values the later one counts, as in a scoring record.
///
/// # Source
/// The best so many: common practice; for instance norcrossgolfsociety.co.uk (at least five meetings, the best five
/// count). Dropping the worst of those: common practice, no source.
pub fn count_best(values: &[Option<Exact>], counting: Counting, better: Better) -> Total {
    let mut ranked: Vec<(usize, Exact)> =
        values.iter().enumerate().filter_map(|(n, value)| Some((n, (*value)?))).collect();
    ranked.reverse();
    ranked.sort_by(|(_, a), (_, b)| better.compare(a, b));
    ranked.truncate(counting.best.unwrap_or(usize::MAX));
    ranked.truncate(ranked.len().saturating_sub(counting.drop_worst));
    let total = ranked.iter().map(|(_, value)| value).sum();
    let mut counted: Vec<usize> = ranked.into_iter().map(|(n, _)| n).collect();
    counted.sort_unstable();
    Total { total, counted }
}

/// A value of an event and what it is multiplied by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EventValue {
    /// The value; `None` where there is none.
    pub value: Option<Exact>,
    /// The event's weight, 1 where nothing is said; not negative.
    pub weight: Exact,
}

/// When adjustments count: points that an organizer gives or takes, without a weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Adjust {
    /// Before the counting: they take part in it like values of events.
    Before,
    /// After it: they are added to the total as they are.
    After,
}

/// Returns the total of a season and how many values it counts, adjustments that took part in the counting included.
///
/// # Formula
/// ```text
/// Σ over what counts (value · weight) + Σ adjustments
/// ```
///
/// # Source
/// Common practice, no source.
pub fn season_total(
    values: &[EventValue],
    (adjustments, adjust): (&[Exact], Adjust),
    counting: Counting,
    better: Better,
) -> (Exact, usize) {
    let (before, after) = match adjust {
        Adjust::Before => (adjustments, &[][..]),
        Adjust::After => (&[][..], adjustments),
    };
    let weighted = values.iter().map(|event| event.value.map(|value| value * event.weight));
    let competing: Vec<Option<Exact>> = weighted.chain(before.iter().copied().map(Some)).collect();
    let best = count_best(&competing, counting, better);
    (best.total + after.iter().sum::<Exact>(), best.counted.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::whole;

    fn check(values: &[i32], best: usize, drop_worst: usize, better: Better, expect: (i32, &[usize])) {
        // Zero stands for an absence.
        let values: Vec<_> = values.iter().map(|&value| (value != 0).then(|| whole(value))).collect();
        let found = count_best(&values, Counting { best: Some(best), drop_worst }, better);
        assert_eq!((found.total, found.counted.as_slice()), (whole(expect.0), expect.1));
    }

    #[test]
    fn the_best_values_count_and_absences_do_not() {
        check(&[10, 0, 7, 12], 2, 0, Better::Higher, (22, &[0, 3]));
        check(&[70, 0, 68, 72], 2, 0, Better::Lower, (138, &[0, 2]));
        check(&[0, 5], 3, 0, Better::Higher, (5, &[1]));
        check(&[], 3, 0, Better::Higher, (0, &[]));
    }

    #[test]
    fn among_equal_values_the_later_counts() {
        check(&[8, 9, 8], 2, 0, Better::Higher, (17, &[1, 2]));
    }

    #[test]
    fn the_worst_of_the_best_drop_however_few_there_are() {
        check(&[10, 7, 12], 6, 1, Better::Higher, (22, &[0, 2]));
        check(&[10, 7, 12], 2, 1, Better::Lower, (7, &[1]));
        check(&[10, 7], 6, 3, Better::Higher, (0, &[]));
    }

    #[test]
    fn an_adjustment_before_the_counting_takes_a_place_in_it() {
        let values = [10, 7].map(|value| EventValue { value: Some(whole(value)), weight: Exact::new(3, 2) });
        let check = |adjust, best, better, expect| {
            let counting = Counting { best: Some(best), drop_worst: 0 };
            assert_eq!(season_total(&values, (&[whole(11)], adjust), counting, better), expect);
        };
        check(Adjust::Before, 2, Better::Higher, (whole(26), 2));
        check(Adjust::After, 1, Better::Higher, (whole(26), 1));
        check(Adjust::Before, 2, Better::Lower, (Exact::new(43, 2), 2));
    }
}
