//! A side of several balls: the best so many count on each hole.

use super::better::Better;
use crate::exact::Exact;
use std::collections::BTreeMap;

/// How many balls count on a hole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Count {
    /// So many on every hole.
    Always(usize),
    /// By the hole's par.
    ByPar(BTreeMap<u8, usize>),
}

impl Count {
    /// Returns the number of a hole; `None` where it goes by par and none is named for this one.
    pub fn of(&self, par: u8) -> Option<usize> {
        match self {
            Self::Always(count) => Some(*count),
            Self::ByPar(counts) => counts.get(&par).copied(),
        }
    }
}

/// Returns a side's score on one hole: its best `count` balls summed.
///
/// A ball without a score is no zero. Where fewer balls than `count` have one, strokes have no sum; of points there is what
/// there is, or 0.
///
/// # Formula
/// ```text
/// Σ the best `count` of the balls' scores
/// ```
///
/// # Source
/// One of two: four-ball, Rules of Golf, Rule 23. Others: common practice, no source.
pub fn best_balls(balls: impl IntoIterator<Item = Option<Exact>>, count: usize, better: Better) -> Option<Exact> {
    let mut scores: Vec<Exact> = balls.into_iter().flatten().collect();
    if better == Better::Lower && scores.len() < count {
        return None;
    }
    scores.sort_unstable_by(|a, b| better.compare(a, b));
    Some(scores.into_iter().take(count).sum())
}

/// Returns a side's score hole by hole.
///
/// # Shape
/// `counts` and each of `balls` have one entry a hole.
pub fn side_holes(balls: &[Vec<Option<Exact>>], counts: &[usize], better: Better) -> Vec<Option<Exact>> {
    let hole = |(hole, &count)| best_balls(balls.iter().map(|ball: &Vec<_>| ball[hole]), count, better);
    counts.iter().enumerate().map(hole).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::whole;
    use proptest::prelude::*;

    fn scores(balls: &[Option<i32>]) -> Vec<Option<Exact>> {
        balls.iter().map(|ball| ball.map(whole)).collect()
    }

    #[test]
    fn strokes_need_enough_balls_and_points_take_what_there_is() {
        fn check(balls: &[Option<i32>], count: usize, better: Better, expect: Option<i32>) {
            assert_eq!(best_balls(scores(balls), count, better), expect.map(whole));
        }
        check(&[Some(5), Some(4), None], 1, Better::Lower, Some(4));
        check(&[Some(5), Some(4), None], 2, Better::Lower, Some(9));
        check(&[Some(5), Some(4), None], 3, Better::Lower, None);
        check(&[Some(5)], 2, Better::Lower, None);
        check(&[Some(2), None, Some(-1)], 1, Better::Higher, Some(2));
        check(&[Some(2), None, Some(-1)], 2, Better::Higher, Some(1));
        check(&[Some(2), None, Some(-1)], 3, Better::Higher, Some(1));
        check(&[None, None], 1, Better::Higher, Some(0));
        check(&[Some(-1)], 1, Better::Higher, Some(-1));
    }

    #[test]
    fn a_count_by_par_holds_for_the_pars_that_it_names() {
        let count = Count::ByPar([(3, 1), (5, 3)].into());
        assert_eq!([3, 4, 5].map(|par| count.of(par)), [Some(1), None, Some(3)]);
        assert_eq!(Count::Always(2).of(4), Some(2));
    }

    proptest! {
        #[test]
        fn the_order_of_the_balls_does_not_matter(
            (balls, shuffled) in prop::collection::vec(prop::option::of(-3..12_i32), 0..6)
                .prop_flat_map(|balls| (Just(balls.clone()), Just(balls).prop_shuffle())),
            count in 1..6_usize,
            higher: bool,
        ) {
            let better = if higher { Better::Higher } else { Better::Lower };
            let of = |balls: &[_]| best_balls(scores(balls), count, better);
            prop_assert_eq!(of(&balls), of(&shuffled));
        }
    }
}
