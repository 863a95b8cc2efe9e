//! Playing strokes: the share of the course strokes that a format grants.

use crate::domain::exact::{Exact, whole};

macro_rules! formats {
    ($(#[$doc:meta])* $type:ident { $($(#[$variant_doc:meta])* $variant:ident $name:literal $value:expr,)* } $(#[$fn_doc:meta])* $fn:ident -> $out:ty) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $type { $($(#[$variant_doc])* $variant,)* }

        impl $type {
            /// Every format with its name in JSON.
            pub const NAMED: &'static [(&'static str, $type)] = &[$(($name, $type::$variant),)*];

            $(#[$fn_doc])*
            pub const fn $fn(self) -> $out {
                match self { $($type::$variant => $value,)* }
            }
        }
    };
}

formats! {
    /// A format in which everybody plays their own ball.
    Format {
        /// Individual stroke play.
        Stroke "stroke" 95,
        /// Individual Stableford.
        Stableford "stableford" 95,
        /// Individual par/bogey.
        ParBogey "par_bogey" 95,
        /// Individual maximum score.
        MaximumScore "maximum_score" 95,
        /// Singles match.
        Match "match" 100,
        /// Match of the totals of two.
        TotalOf2Match "total_of_2_match" 100,
        /// Four-ball stroke play.
        FourBallStroke "four_ball_stroke" 85,
        /// Four-ball Stableford.
        FourBallStableford "four_ball_stableford" 85,
        /// Four-ball par/bogey.
        FourBallParBogey "four_ball_par_bogey" 90,
        /// Four-ball match.
        FourBallMatch "four_ball_match" 90,
        /// The best one of four.
        Best1Of4 "best_1_of_4" 75,
        /// The best two of four.
        Best2Of4 "best_2_of_4" 85,
        /// The best three of four.
        Best3Of4 "best_3_of_4" 100,
        /// All four of four.
        All4Of4 "all_4_of_4" 100,
        /// The best one of four, par/bogey.
        Best1Of4ParBogey "best_1_of_4_par_bogey" 75,
        /// The best two of four, par/bogey.
        Best2Of4ParBogey "best_2_of_4_par_bogey" 80,
        /// The best three of four, par/bogey.
        Best3Of4ParBogey "best_3_of_4_par_bogey" 90,
        /// All four of four, par/bogey.
        All4Of4ParBogey "all_4_of_4_par_bogey" 100,
    }
    /// Returns the recommended allowance in per cent of the course strokes.
    ///
    /// # Source
    /// Rules of Handicapping, Appendix C (for fields of medium size; a committee may set its own).
    allowance_pct -> u8
}

formats! {
    /// A format in which a team plays one ball.
    TeamFormat {
        /// Alternate strokes.
        Foursomes "foursomes" &[50, 50],
        /// Both drive, then alternate strokes with the better ball.
        Greensomes "greensomes" &[60, 40],
        /// Both play two strokes, swapping balls, then alternate strokes with one.
        Chapman "chapman" &[60, 40],
        /// Scramble of two.
        Scramble2 "scramble_2" &[35, 15],
        /// Scramble of three.
        Scramble3 "scramble_3" &[30, 20, 10],
        /// Scramble of four.
        Scramble4 "scramble_4" &[25, 20, 15, 10],
    }
    /// Returns the share of each player's course strokes in per cent, from the lowest handicap upwards.
    ///
    /// # Source
    /// Rules of Handicapping, Appendix C.
    shares_pct -> &'static [u8]
}

/// Returns the playing strokes, unrounded.
///
/// They are rounded once, afterwards: rounding the course strokes first as well is the classic error.
///
/// # Formula
/// ```text
/// course strokes (unrounded) · allowance / 100
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 6.2 and clarification 6.2a/1.
///
/// # Examples
/// ```
/// use evenfield::domain::{exact::{parse, to_text, whole}, handicap::playing::playing_handicap};
/// assert_eq!(to_text(playing_handicap(parse("10.5")?, whole(85))), "8.925");
/// # Ok::<(), evenfield::domain::exact::DecimalError>(())
/// ```
pub fn playing_handicap(course_handicap: Exact, allowance_pct: Exact) -> Exact {
    course_handicap * allowance_pct / whole(100)
}

/// A team of the wrong size for its format.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("must have {players} course strokes, one a player")]
pub struct WrongTeamSize {
    /// The players that the format needs.
    pub players: usize,
}

/// Returns a team's strokes, unrounded.
///
/// # Formula
/// ```text
/// Σ share · course strokes, the course strokes from the lowest upwards
/// ```
///
/// # Errors
/// [`WrongTeamSize`] if there isn't one number for each player of the format.
///
/// # Source
/// Rules of Handicapping, Appendix C.
pub fn team_handicap(format: TeamFormat, course_handicaps: &[Exact]) -> Result<Exact, WrongTeamSize> {
    let shares = format.shares_pct();
    if course_handicaps.len() != shares.len() {
        return Err(WrongTeamSize { players: shares.len() });
    }
    let mut sorted = course_handicaps.to_vec();
    sorted.sort_unstable();
    Ok(sorted.iter().zip(shares).map(|(strokes, share)| playing_handicap(*strokes, whole(*share))).sum())
}

/// Returns everybody's strokes in a match: the difference to the lowest playing strokes, which play off none.
///
/// With a plus handicap in the match the others receive more.
///
/// # Source
/// Rules of Handicapping, Appendix C.
pub fn match_strokes(playing_handicaps: &[i32]) -> Vec<i32> {
    let lowest = playing_handicaps.iter().min().copied().unwrap_or(0);
    playing_handicaps.iter().map(|strokes| strokes.saturating_sub(lowest)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::exact::{parse, round_whole};

    #[test]
    fn playing_strokes_are_rounded_once_after_the_allowance() {
        fn check(course: &str, allowance: i32, expect: i64) {
            assert_eq!(round_whole(playing_handicap(parse(course).unwrap(), whole(allowance))), expect);
        }
        check("9.5132", 85, 8);
        check("11.3938", 85, 10);
        check("10", 85, 9);
        check("-1.5", 100, -1);
    }

    #[test]
    fn a_teams_shares_run_from_the_lowest_handicap_upwards() {
        fn check(format: TeamFormat, course_handicaps: &[i32], expect: Exact) {
            let exact: Vec<_> = course_handicaps.iter().map(|&strokes| whole(strokes)).collect();
            assert_eq!(team_handicap(format, &exact), Ok(expect));
        }
        check(TeamFormat::Foursomes, &[6, 11], Exact::new(17, 2));
        check(TeamFormat::Greensomes, &[20, 10], whole(14));
        check(TeamFormat::Scramble2, &[20, -10], Exact::new(-1, 2));
        check(TeamFormat::Scramble4, &[40, 30, 20, 10], whole(15));
        assert_eq!(team_handicap(TeamFormat::Scramble3, &[]), Err(WrongTeamSize { players: 3 }));
    }

    #[test]
    fn everybody_gets_the_difference_to_the_lowest() {
        assert_eq!(match_strokes(&[8, 18, -2]), [10, 20, 0]);
        assert_eq!(match_strokes(&[]), [0; 0]);
    }
}
