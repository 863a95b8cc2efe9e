//! Round differentials: a score made comparable between courses.

use crate::exact::{Exact, whole};
use crate::units::{HoleCount, PlayingConditions, SlopeRating};

/// The slope rating of a course of standard difficulty.
///
/// # Source
/// Rules of Handicapping, Rule 5.1.
pub const STANDARD_SLOPE: i128 = 113;

/// Returns the round differential, unrounded.
///
/// One of 18 holes is rounded to a tenth at once; one of nine only after it is combined ([`combine_nines`]).
///
/// # Formula
/// ```text
/// 18 holes: 113/slope · (gross − rating − pcc)
///  9 holes: 113/slope · (gross − rating − pcc/2)
/// gross: adjusted gross score (strokes)   pcc: the day's playing conditions (strokes over 18 holes)
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 5.1.
///
/// # Examples
/// ```
/// use evenfield_domain::{exact::{parse, to_text}, handicap::differential::differential, units::*};
/// let (slope, pcc) = (SlopeRating::new(125)?, PlayingConditions::new(0)?);
/// let unrounded = differential(parse("95")?, parse("71.5")?, slope, pcc, HoleCount::Eighteen);
/// assert_eq!(to_text(unrounded), "21.244");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn differential(
    gross: Exact,
    rating: Exact,
    slope: SlopeRating,
    pcc: PlayingConditions,
    holes: HoleCount,
) -> Exact {
    let pcc = match holes {
        HoleCount::Eighteen => whole(pcc.get()),
        HoleCount::Nine => Exact::new(pcc.get().into(), 2),
    };
    (gross - rating - pcc) * Exact::new(STANDARD_SLOPE, slope.get().into())
}

/// Returns the gross score that stands for a Stableford total of 18 holes.
///
/// # Formula
/// ```text
/// par + course strokes (whole) − (points − 36)
/// ```
///
/// # Source
/// From memory; Rules of Handicapping, Rule 6.1 confirms that whole course strokes enter some differentials.
pub fn gross_of_points(points: i32, par: i32, course_strokes: i32) -> Exact {
    whole(par) + whole(course_strokes) - whole(points) + whole(36)
}

/// Returns the Stableford points that a par/bogey result stands for: 3 up is 39, 4 down is 32.
///
/// # Source
/// Danish Golf Union, handicap system 2024, 5.1.
pub fn points_of_par_bogey(result: i32) -> i32 {
    36 + result
}

/// Returns the 18-hole differential of an unrounded nine-hole one and a second one, played or expected.
///
/// # Formula
/// ```text
/// first + second, rounded once afterwards
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 5.1 (2020 text). How an expected nine is found since 2024 isn't published.
pub fn combine_nines(first: Exact, second: Exact) -> Exact {
    first + second
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::{parse, round_tenth, to_text};

    fn check(gross: &str, rating: &str, slope: i64, pcc: i64, holes: HoleCount, unrounded: &str, rounded: &str) {
        let (slope, pcc) = (SlopeRating::new(slope).unwrap(), PlayingConditions::new(pcc).unwrap());
        let exact = differential(parse(gross).unwrap(), parse(rating).unwrap(), slope, pcc, holes);
        assert_eq!((to_text(exact), round_tenth(exact).to_string()), (unrounded.into(), rounded.into()));
    }

    #[test]
    fn an_exact_half_tenth_that_floats_lose_rounds_up() {
        check("89", "71.9", 114, 0, HoleCount::Eighteen, "16.95", "17.0");
        check("69", "71.5", 125, 0, HoleCount::Eighteen, "-2.26", "-2.3");
    }

    #[test]
    fn a_harder_day_lowers_the_differential_by_half_as_much_over_nine_holes() {
        check("90", "72", 113, 1, HoleCount::Eighteen, "17", "17.0");
        check("45", "36", 113, 1, HoleCount::Nine, "8.5", "8.5");
        check("45", "36", 113, -1, HoleCount::Nine, "9.5", "9.5");
    }

    #[test]
    fn thirty_six_points_stand_for_par_and_the_course_strokes() {
        assert_eq!(gross_of_points(36, 72, 15), whole(87));
        assert_eq!(gross_of_points(points_of_par_bogey(-4), 72, 15), whole(91));
    }
}
