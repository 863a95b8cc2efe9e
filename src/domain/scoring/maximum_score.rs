//! Maximum score: a hole counts at most what the committee set.

/// Returns the score of one hole; a hole without a score counts the maximum.
///
/// This is part of the *result*; [`hole_limit`](super::hole_limit) is for the league index only.
///
/// # Source
/// Rules of Golf, Rule 21.2.
pub fn capped(strokes: Option<u8>, maximum: u8) -> u8 {
    strokes.map_or(maximum, |strokes| strokes.min(maximum))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn higher_and_missing_scores_count_the_maximum() {
        fn check(strokes: Option<u8>, maximum: u8, expect: u8) {
            assert_eq!(capped(strokes, maximum), expect);
        }
        check(Some(9), 8, 8);
        check(None, 6, 6);
        check(Some(4), 10, 4);
    }
}
