//! Where handicap strokes fall.

/// Returns the strokes received on each hole; a plus handicap gives strokes back, which are negative.
///
/// The indexes are ranked among the holes given, so nine holes of an eighteen-hole card need no renumbering: testing
/// `index <= handicap` would be wrong there.
///
/// # Formula
/// ```text
/// h ≥ 0: h div N on every hole, one more on the h mod N lowest indexes
/// h < 0: the same with |h|, given back from the highest index down
/// ```
///
/// # Shape
/// One entry a hole, in the order of `stroke_indexes`. Equal indexes rank in the order given.
///
/// # Source
/// Rules of Handicapping, Appendix E (allocation) and Appendix C (plus handicaps).
///
/// # Examples
/// ```
/// use evenfield_domain::scoring::strokes_received::strokes_received;
/// assert_eq!(strokes_received(4, &[7, 1, 13]), [1, 2, 1]);
/// assert_eq!(strokes_received(-1, &[7, 1, 13]), [0, 0, -1]);
/// ```
pub fn strokes_received(handicap: i32, stroke_indexes: &[u8]) -> Vec<i32> {
    if stroke_indexes.is_empty() {
        return Vec::new();
    }
    let holes = stroke_indexes.len() as u32;
    let (everywhere, extra) = (handicap.unsigned_abs() / holes, handicap.unsigned_abs() % holes);
    let sign = handicap.signum();
    let mut ranked: Vec<usize> = (0..stroke_indexes.len()).collect();
    ranked.sort_by_key(|&hole| stroke_indexes[hole]);
    if handicap < 0 {
        ranked.reverse();
    }
    let mut received = vec![sign * everywhere as i32; stroke_indexes.len()];
    for &hole in ranked.iter().take(extra as usize) {
        received[hole] += sign;
    }
    received
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(handicap: i32, stroke_indexes: &[u8], expect: &[i32]) {
        assert_eq!(strokes_received(handicap, stroke_indexes), expect, "handicap {handicap}");
    }

    #[test]
    fn indexes_of_nine_holes_are_ranked_among_themselves() {
        check(11, &[1, 3, 5, 7, 9, 11, 13, 15, 17], &[2, 2, 1, 1, 1, 1, 1, 1, 1]);
    }

    #[test]
    fn strokes_go_round_again_above_the_number_of_holes() {
        check(7, &[2, 1, 3], &[2, 3, 2]);
        check(0, &[2, 1, 3], &[0, 0, 0]);
    }

    #[test]
    fn a_plus_handicap_gives_back_from_the_highest_index() {
        check(-2, &[1, 18, 17, 2], &[0, -1, -1, 0]);
        check(-5, &[1, 18, 17, 2], &[-1, -2, -1, -1]);
    }

    #[test]
    fn no_holes_receive_nothing() {
        check(5, &[], &[]);
    }
}
