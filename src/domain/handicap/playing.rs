//! Playing strokes: the share of the course strokes that a competition grants.
//!
//! Which share is usual: [`competition::allowance`](crate::competition::allowance).

use crate::exact::{Exact, whole};

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
/// use evenfield_domain::{exact::{parse, to_text, whole}, handicap::playing::playing_handicap};
/// assert_eq!(to_text(playing_handicap(parse("10.5")?, whole(85))), "8.925");
/// # Ok::<(), evenfield_domain::exact::DecimalError>(())
/// ```
pub fn playing_handicap(course_handicap: Exact, allowance_pct: Exact) -> Exact {
    course_handicap * allowance_pct / whole(100)
}

/// A team of another size than the shares are for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("must have {players} course strokes, one a player")]
pub struct WrongTeamSize {
    /// The players that there are shares for.
    pub players: usize,
}

/// Returns the strokes of a team that plays one ball, unrounded.
///
/// `shares_pct` is the share of each player's course strokes in per cent, from the lowest handicap upwards.
///
/// # Formula
/// ```text
/// Σ share · course strokes, the course strokes from the lowest upwards
/// ```
///
/// # Errors
/// [`WrongTeamSize`] if there isn't one number for each share.
///
/// # Source
/// Rules of Handicapping, Appendix C.
pub fn team_handicap(shares_pct: &[u8], course_handicaps: &[Exact]) -> Result<Exact, WrongTeamSize> {
    if course_handicaps.len() != shares_pct.len() {
        return Err(WrongTeamSize { players: shares_pct.len() });
    }
    let mut sorted = course_handicaps.to_vec();
    sorted.sort_unstable();
    Ok(sorted.iter().zip(shares_pct).map(|(strokes, share)| playing_handicap(*strokes, whole(*share))).sum())
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
    use crate::exact::{parse, round_whole};

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
        fn check(shares_pct: &[u8], course_handicaps: &[i32], expect: Exact) {
            let exact: Vec<_> = course_handicaps.iter().map(|&strokes| whole(strokes)).collect();
            assert_eq!(team_handicap(shares_pct, &exact), Ok(expect));
        }
        check(&[50, 50], &[6, 11], Exact::new(17, 2));
        check(&[60, 40], &[20, 10], whole(14));
        check(&[35, 15], &[20, -10], Exact::new(-1, 2));
        check(&[25, 20, 15, 10], &[40, 30, 20, 10], whole(15));
        assert_eq!(team_handicap(&[30, 20, 10], &[]), Err(WrongTeamSize { players: 3 }));
    }

    #[test]
    fn everybody_gets_the_difference_to_the_lowest() {
        assert_eq!(match_strokes(&[8, 18, -2]), [10, 20, 0]);
        assert_eq!(match_strokes(&[]), [0; 0]);
    }
}
