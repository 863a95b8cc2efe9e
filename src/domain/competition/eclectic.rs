//! Eclectic: the best score on each hole over several rounds.

use super::better::Better;
use super::side::best_balls;
use crate::exact::Exact;

/// Returns the best score of each hole; `None` as long as no round has one.
///
/// # Shape
/// All rounds have one entry a hole, of the same tee.
///
/// # Source
/// Common practice, no source.
pub fn eclectic(rounds: &[Vec<Option<Exact>>], better: Better) -> Vec<Option<Exact>> {
    let holes = rounds.first().map_or(0, Vec::len);
    (0..holes).map(|hole| best_balls(rounds.iter().map(|round| round[hole]), 1, better)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::whole;

    #[test]
    fn each_hole_counts_its_best_score() {
        let [four, five, six] = [4, 5, 6].map(|n: i32| Some(whole(n)));
        assert_eq!(eclectic(&[vec![five, None], vec![four, six]], Better::Higher), [five, six]);
        assert_eq!(
            eclectic(&[vec![five, None, four, None], vec![four, six, four, None]], Better::Lower),
            [four, six, four, None]
        );
        assert_eq!(eclectic(&[], Better::Lower), []);
    }
}
