//! Quota: gross points against a number that the playing handicap lowers.

use crate::exact::{Exact, whole};
use crate::scoring::points::PointsTable;
use crate::units::HoleCount;
use std::collections::BTreeMap;

/// The usual base over 18 holes.
///
/// # Source
/// From memory.
pub const USUAL_BASE: i32 = 36;

/// Returns the usual points by result against par: eagle or better 8, birdie 4, par 2, bogey 1, worse 0.
///
/// # Source
/// From memory; the terms may have another table.
pub fn usual_table() -> BTreeMap<i32, i32> {
    [(-2, 8), (-1, 4), (0, 2), (1, 1), (2, 0)].into()
}

/// Returns the [usual table](usual_table) to look points up in.
pub fn usual_points() -> PointsTable {
    PointsTable::new(&usual_table()).expect("the results follow one another")
}

/// Returns the points to reach.
///
/// `base` is the figure for 18 holes, also where nine are played; `playing_handicap` is that of the holes played. A high
/// one makes the quota negative.
///
/// # Formula
/// ```text
/// 18 holes: base − playing handicap      9 holes: base / 2 − playing handicap
/// ```
///
/// # Source
/// From memory; custom.
pub fn quota(base: Exact, playing_handicap: i32, holes: HoleCount) -> Exact {
    let base = match holes {
        HoleCount::Eighteen => base,
        HoleCount::Nine => base / whole(2),
    };
    base - whole(playing_handicap)
}

/// Returns the gross points of a card; a hole without a score takes the table's fewest.
pub fn gross_points(table: &PointsTable, pars: &[u8], strokes: &[Option<u8>]) -> i32 {
    let to_par = |(par, strokes): (&u8, &Option<u8>)| strokes.map(|strokes| i32::from(strokes) - i32::from(*par));
    pars.iter().zip(strokes).map(|hole| table.points(to_par(hole))).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn over_nine_holes_the_base_is_halved_exactly() {
        fn check(base: i32, playing_handicap: i32, holes: HoleCount, expect: Exact) {
            assert_eq!(quota(whole(base), playing_handicap, holes), expect);
        }
        check(36, 20, HoleCount::Eighteen, whole(16));
        check(36, 5, HoleCount::Nine, whole(13));
        check(35, 0, HoleCount::Nine, Exact::new(35, 2));
        check(36, 40, HoleCount::Eighteen, whole(-4));
        check(36, -2, HoleCount::Eighteen, whole(38));
    }

    #[test]
    fn a_hole_without_a_score_takes_the_fewest_points() {
        let card = [Some(2), Some(3), Some(4), Some(5), Some(9), None];
        assert_eq!(gross_points(&usual_points(), &[4; 6], &card), 8 + 4 + 2 + 1);
        let table = PointsTable::new(&[(-1, 1), (0, 0), (1, -2)].into()).unwrap();
        assert_eq!(gross_points(&table, &[4; 2], &[Some(1), None]), -1);
    }
}
