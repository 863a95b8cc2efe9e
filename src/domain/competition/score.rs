//! What one ball's strokes on a hole are worth in a competition.

use crate::scoring::points::{PointsTable, points};
use crate::scoring::{maximum_score, par_bogey};

/// How a hole is scored; the rules are in [`scoring`](crate::scoring).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HoleScore<'t> {
    /// Strokes less those received; none without a score.
    Strokes,
    /// Points of the result against par: Stableford's, or those of a table.
    Points(Option<&'t PointsTable>),
    /// 1 won, 0 tied, -1 lost against par.
    ParBogey,
    /// Strokes, at most so many before those received are taken off.
    MaximumScore(u8),
}

impl HoleScore<'_> {
    /// Returns what a hole is worth; only [`Strokes`](Self::Strokes) is ever `None`.
    ///
    /// `received` is 0 where the gross score competes.
    ///
    /// # Formula
    /// ```text
    /// strokes:        gross − received
    /// points:         table[gross − received − par]
    /// maximum score:  min(gross, maximum) − received
    /// ```
    ///
    /// # Source
    /// Rules of Golf, Rules 21.1, 21.2b (strokes come off after the limit) and 21.3; other tables: the committee's choice.
    ///
    /// # Examples
    /// ```
    /// use evenfield_domain::competition::score::HoleScore;
    /// assert_eq!(HoleScore::Strokes.of(4, 1, None), None);
    /// assert_eq!(HoleScore::MaximumScore(8).of(4, 1, Some(9)), Some(7));
    /// ```
    pub fn of(self, par: u8, received: i32, strokes: Option<u8>) -> Option<i32> {
        let net = |strokes: u8| i32::from(strokes).saturating_sub(received);
        match self {
            Self::Strokes => strokes.map(net),
            Self::Points(None) => Some(points(par, received, strokes)),
            Self::Points(Some(table)) => Some(table.points(strokes.map(|strokes| net(strokes) - i32::from(par)))),
            Self::ParBogey => Some(par_bogey::hole_result(par, received, strokes)),
            Self::MaximumScore(maximum) => Some(net(maximum_score::capped(strokes, maximum))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_strokes_have_no_value_without_a_score() {
        let table = PointsTable::new(&[(-1, 3), (0, 0), (1, -2)].into()).unwrap();
        fn check(score: HoleScore<'_>, received: i32, strokes: Option<u8>, expect: Option<i32>) {
            assert_eq!(score.of(4, received, strokes), expect, "{score:?}");
        }
        check(HoleScore::Strokes, 0, None, None);
        check(HoleScore::Points(None), 1, None, Some(0));
        check(HoleScore::Points(Some(&table)), 0, None, Some(-2));
        check(HoleScore::ParBogey, 2, None, Some(-1));
        check(HoleScore::MaximumScore(8), 2, None, Some(6));
        check(HoleScore::Strokes, -1, Some(4), Some(5));
        check(HoleScore::Points(Some(&table)), 2, Some(5), Some(3));
        check(HoleScore::MaximumScore(8), 0, Some(5), Some(5));
    }

    #[test]
    fn a_net_score_may_lie_below_the_maximum_by_the_strokes_received() {
        assert_eq!(HoleScore::MaximumScore(6).of(3, 2, Some(10)), Some(4));
        assert_eq!(HoleScore::MaximumScore(6).of(3, -1, Some(10)), Some(7));
    }
}
