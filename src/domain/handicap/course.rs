//! Course strokes: what a league index is worth on one tee.

use super::differential::STANDARD_SLOPE;
use crate::exact::{Exact, round_tenth, whole};
use crate::units::SlopeRating;

/// Returns the course strokes over 18 holes, unrounded; may exceed 54 or be negative.
///
/// `rating_less_par` is zero where the league doesn't count the difference (the custom of Great Britain and Ireland until
/// April 2024). The strokes are rounded to whole ones for net double bogey, never before an allowance.
///
/// # Formula
/// ```text
/// index · slope/113 + (rating − par)
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 6.1.
pub fn course_handicap(index: Exact, slope: SlopeRating, rating_less_par: Exact) -> Exact {
    index * Exact::new(slope.get().into(), STANDARD_SLOPE) + rating_less_par
}

/// Returns the course strokes over nine holes, from the slope and rating of those nine: half the index goes in.
///
/// # Source
/// Rules of Handicapping, Rule 6.1 and its Local Guidance (nine holes).
pub fn course_handicap_nine(index: Exact, slope: SlopeRating, rating_less_par: Exact) -> Exact {
    course_handicap(half_index(index), slope, rating_less_par)
}

/// Returns half the index rounded to a tenth: 8.7 gives 4.4.
///
/// # Source
/// Rules of Handicapping, Local Guidance to Rule 6.
pub fn half_index(index: Exact) -> Exact {
    round_tenth(index / whole(2)).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::{parse, round_whole};

    fn slope(slope: i64) -> SlopeRating {
        SlopeRating::new(slope).unwrap()
    }

    #[test]
    fn course_strokes_scale_with_the_slope_and_add_rating_less_par() {
        fn check(index: &str, slope_rating: i64, rating_less_par: &str, expect: i64) {
            let strokes = course_handicap(parse(index).unwrap(), slope(slope_rating), parse(rating_less_par).unwrap());
            assert_eq!(round_whole(strokes), expect);
        }
        check("12.4", 113, "0.1", 13);
        check("27.7", 129, "-0.9", 31);
        check("54.0", 155, "4", 78);
        check("1.0", 113, "-3", -2);
    }

    #[test]
    fn nine_holes_take_half_the_index_rounded_first() {
        let strokes = course_handicap_nine(parse("8.7").unwrap(), slope(121), parse("-0.7").unwrap());
        assert_eq!(round_whole(strokes), 4);
        assert_eq!(half_index(parse("8.7").unwrap()), parse("4.4").unwrap());
        assert_eq!(half_index(parse("-0.1").unwrap()), whole(0));
    }
}
