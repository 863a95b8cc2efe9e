//! Countback: who wins among equal totals, by the last holes of the card.

use super::{points::points, strokes_received::strokes_received};
use crate::exact::{Exact, round_whole, whole};
use std::cmp::Ordering;

/// What is compared. The published customs for net scores conflict, so the terms of the competition choose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Strokes; fewer win.
    Gross,
    /// Strokes less the segment's share of the handicap; fewer win.
    NetFraction {
        /// Whether the share is rounded to whole strokes, a half upwards, or exact.
        rounded: bool,
    },
    /// Strokes less the handicap strokes where they fall by stroke index; fewer win.
    NetAllocated,
    /// Stableford points; more win.
    Points,
}

/// A card to compare.
///
/// # Shape
/// `pars` (for [`Method::Points`]) and `stroke_indexes` (for that and [`Method::NetAllocated`]) have one entry for each of
/// `strokes`; other methods don't read them.
#[derive(Clone, Copy, Debug)]
pub struct Card<'a> {
    /// Strokes by hole number; `None` without a score.
    pub strokes: &'a [Option<u8>],
    /// Pars by hole number.
    pub pars: &'a [u8],
    /// Stroke indexes by hole number.
    pub stroke_indexes: &'a [u8],
    /// The playing strokes, whole.
    pub handicap: i32,
}

/// How ties are broken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Countback {
    /// What is compared.
    pub method: Method,
    /// The numbers of last holes to compare, in order; usually [`usual_segments`].
    pub segments: Vec<usize>,
    /// Whether single holes are compared afterwards, from the last one backwards.
    pub hole_by_hole: bool,
}

/// Returns the usual segments: the last 9, 6, 3 and 1 holes of 18, the last 6, 3 and 1 of nine; of more holes the last 18
/// come first.
///
/// # Source
/// Common terms of competition; Rules of Golf, Committee Procedures, section 7 leaves the method to the terms.
pub fn usual_segments(holes: usize) -> Vec<usize> {
    [18, 9, 6, 3, 1].into_iter().filter(|&last| last < holes).collect()
}

impl Countback {
    /// Returns the values to compare: the total, then the segments, then single holes where wanted.
    ///
    /// `None` is a card without a total: a hole has no score and the method counts strokes.
    ///
    /// # Formula
    /// ```text
    /// share of the handicap h in the last k of n holes: h · k / n   (1/2, 1/3, 1/6, 1/18 of 18 holes)
    /// ```
    ///
    /// # Source
    /// Shares with fractions kept: RCGA, "Deciding Ties"; rounded and as allocated: a club's terms citing the USGA
    /// Handicap Manual, 9-5.
    pub fn key(&self, card: &Card<'_>) -> Option<Vec<Exact>> {
        let by_hole = self.by_hole(card)?;
        let holes = by_hole.len();
        let last = |count: usize| -> Exact {
            let sum: i64 = by_hole.iter().skip(holes.saturating_sub(count)).map(|&value| i64::from(value)).sum();
            whole(sum) - self.share(card.handicap, count, holes)
        };
        let mut key = Vec::with_capacity(1 + self.segments.len());
        key.push(last(holes));
        key.extend(self.segments.iter().map(|&count| last(count.min(holes))));
        if self.hole_by_hole {
            let share = self.share(card.handicap, 1, holes);
            key.extend(by_hole.iter().rev().map(|&value| whole(value) - share));
        }
        Some(key)
    }

    /// Compares two keys of cards of equal length; the better one is less and so sorts first.
    pub fn compare(&self, a: &[Exact], b: &[Exact]) -> Ordering {
        if self.method == Method::Points { b.cmp(a) } else { a.cmp(b) }
    }

    fn by_hole(&self, card: &Card<'_>) -> Option<Vec<i32>> {
        let strokes = card.strokes.iter();
        match self.method {
            Method::Gross | Method::NetFraction { .. } => strokes.map(|strokes| strokes.map(i32::from)).collect(),
            Method::NetAllocated => {
                let received = strokes_received(card.handicap, card.stroke_indexes);
                strokes.zip(received).map(|(strokes, received)| Some(i32::from((*strokes)?) - received)).collect()
            }
            Method::Points => {
                let received = strokes_received(card.handicap, card.stroke_indexes);
                let holes = strokes.zip(card.pars).zip(received);
                Some(holes.map(|((strokes, par), received)| points(*par, received, *strokes)).collect())
            }
        }
    }

    fn share(&self, handicap: i32, count: usize, holes: usize) -> Exact {
        match self.method {
            Method::NetFraction { rounded } if holes > 0 => {
                let share = Exact::new(i128::from(handicap) * count as i128, holes as i128);
                if rounded { whole(round_whole(share)) } else { share }
            }
            _ => whole(0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Compares 41 on the last nine off 11 with 41 off 12, after equal net totals.
    fn check(method: Method, expect: Ordering) {
        let eighteen = |first: u8, last: u8| -> Vec<Option<u8>> {
            [vec![Some(4); 8], vec![Some(first)], vec![Some(4); 8], vec![Some(last)]].concat()
        };
        let (a, b) = (eighteen(5, 9), eighteen(6, 9));
        let indexes: Vec<u8> = (1..=18).collect();
        let rule = Countback { method, segments: usual_segments(18), hole_by_hole: false };
        let key = |strokes: &[Option<u8>], handicap| {
            rule.key(&Card { strokes, pars: &[4; 18], stroke_indexes: &indexes, handicap }).unwrap()
        };
        let (a, b) = (key(&a, 11), key(&b, 12));
        assert_eq!(rule.compare(&a, &b), expect, "{method:?}: {a:?} and {b:?}");
    }

    #[test]
    fn exact_and_rounded_shares_pick_different_winners() {
        check(Method::NetFraction { rounded: false }, Ordering::Greater);
        check(Method::NetFraction { rounded: true }, Ordering::Equal);
    }

    #[test]
    fn gross_counts_fewer_strokes_and_allocated_strokes_where_they_fall() {
        check(Method::Gross, Ordering::Less);
        check(Method::NetAllocated, Ordering::Greater);
        check(Method::Points, Ordering::Greater);
    }

    #[test]
    fn a_missing_hole_has_points_but_no_stroke_total() {
        let card = Card { strokes: &[Some(4), None], pars: &[4, 4], stroke_indexes: &[1, 2], handicap: 1 };
        let key = |method| Countback { method, segments: vec![1], hole_by_hole: true }.key(&card);
        assert_eq!(key(Method::Gross), None);
        assert_eq!(key(Method::NetAllocated), None);
        assert_eq!(key(Method::Points), Some([3, 0, 0, 3].map(|n: i32| whole(n)).to_vec()));
    }

    #[test]
    fn usual_segments_depend_on_the_number_of_holes() {
        assert_eq!(usual_segments(18), [9, 6, 3, 1]);
        assert_eq!(usual_segments(9), [6, 3, 1]);
        assert_eq!(usual_segments(36), [18, 9, 6, 3, 1]);
        assert_eq!(usual_segments(1), [0; 0]);
    }
}
