//! Stableford points.

/// Returns the points of one hole; a hole without a score is worth none.
///
/// The published table ends at four under (6 points); beyond it the line goes on, 7 for five under (evenfield's reading).
///
/// # Formula
/// ```text
/// max(0, par + received + 2 − strokes)
/// ```
///
/// # Source
/// Rules of Golf, Rule 21.1.
///
/// # Examples
/// ```
/// use evenfield::domain::scoring::points::points;
/// assert_eq!(points(4, 1, Some(4)), 3);
/// assert_eq!(points(4, 1, None), 0);
/// ```
pub fn points(par: u8, received: i32, strokes: Option<u8>) -> i32 {
    strokes.map_or(0, |strokes| (i32::from(par) + 2 - i32::from(strokes)).saturating_add(received).max(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_fall_by_one_a_stroke_and_stop_at_none() {
        fn check(par: u8, received: i32, strokes: Option<u8>, expect: i32) {
            assert_eq!(points(par, received, strokes), expect);
        }
        check(5, 0, Some(7), 0);
        check(5, 0, Some(5), 2);
        check(5, 0, Some(1), 6);
        check(5, 2, Some(1), 8);
        check(5, 0, Some(99), 0);
        check(4, -1, Some(4), 1);
        check(4, 2, None, 0);
    }
}
