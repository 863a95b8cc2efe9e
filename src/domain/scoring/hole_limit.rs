//! The highest hole score that counts for the league index, and the adjusted gross score made of it.
//!
//! It is never part of a result: results use the real score.

/// Returns the highest score of a hole that counts for the league index.
///
/// `received` comes from the full course strokes rounded to a whole number, never from a competition's playing strokes.
/// `established` says whether the player has a league index.
///
/// # Formula
/// ```text
/// established:     min(par + 2 + received, par + 5)   (net double bogey)
/// not established: par + 5
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 3.1.
pub fn hole_limit(par: u8, received: i32, established: bool) -> i32 {
    let highest = i32::from(par) + 5;
    if established { highest.min(i32::from(par).saturating_add(received).saturating_add(2)) } else { highest }
}

/// Returns the score of one hole as it counts for the league index.
///
/// A hole that wasn't played counts as net par: the rule until 2023, and since 2024 only where the association allows
/// it. Net par keeps below the limit too.
///
/// # Formula
/// ```text
/// played:     min(strokes, limit)
/// not played: min(par + received, limit)
/// ```
///
/// # Source
/// Rules of Handicapping, Rules 3.1 and 3.2 (2020 text).
pub fn adjusted_strokes(strokes: Option<u8>, par: u8, received: i32, established: bool) -> i32 {
    let counted = strokes.map_or(i32::from(par).saturating_add(received), i32::from);
    counted.min(hole_limit(par, received, established))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_is_net_double_bogey_and_never_above_par_plus_five() {
        fn check(par: u8, received: i32, established: bool, expect: i32) {
            assert_eq!(hole_limit(par, received, established), expect);
        }
        check(4, 1, true, 7);
        check(4, 4, true, 9);
        check(4, -1, true, 5);
        check(3, 0, false, 8);
        check(3, 2, false, 8);
    }

    #[test]
    fn an_unplayed_hole_counts_as_net_par() {
        fn check(strokes: Option<u8>, received: i32, expect: i32) {
            assert_eq!(adjusted_strokes(strokes, 4, received, true), expect);
        }
        check(None, -1, 3);
        check(None, 2, 6);
        check(None, 7, 9);
        check(Some(9), 1, 7);
        check(Some(3), 1, 3);
    }
}
