//! Par/bogey: the card played as a match against par.

/// Returns 1 for a hole won against par, 0 for a tied one and -1 for a lost one; without a score it is lost.
///
/// # Formula
/// ```text
/// sign(par + received − strokes)
/// ```
///
/// # Source
/// Rules of Golf, Rule 21.3.
pub fn hole_result(par: u8, received: i32, strokes: Option<u8>) -> i32 {
    strokes.map_or(-1, |strokes| (i32::from(par) - i32::from(strokes)).saturating_add(received).signum())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_net_score_wins_ties_or_loses_against_par() {
        fn check(received: i32, strokes: Option<u8>, expect: i32) {
            assert_eq!(hole_result(4, received, strokes), expect);
        }
        check(1, Some(4), 1);
        check(1, Some(5), 0);
        check(0, Some(9), -1);
        check(-1, Some(4), -1);
        check(3, None, -1);
    }
}
