//! Skins: each hole is won by the one side that is best on it.

use super::better::Better;
use crate::exact::{Exact, whole};

/// What becomes of a skin that nobody won.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unwon {
    /// Nobody gets it.
    Void,
    /// The next hole is played for it too.
    Carried {
        /// Whether what hangs on the last hole is shared by those level at its best score.
        split_last: bool,
    },
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hole {
    /// Which card won it.
    pub winner: Option<usize>,
    /// The skins that it was played for: one, and those carried to it.
    pub worth: u32,
}

/// Who won what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Skins {
    pub holes: Vec<Hole>,
    /// The skins of each card.
    pub skins: Vec<Exact>,
    /// Skins that nobody got; with those won they make one a hole.
    pub left: u32,
}

/// Returns who won the skins.
///
/// A card without a score cannot win the hole, and the only score wins it.
///
/// # Shape
/// All cards have one entry a hole.
///
/// # Source
/// Common practice, no source; what is not won goes by the terms.
pub fn skins(cards: &[&[Option<Exact>]], unwon: Unwon, better: Better) -> Skins {
    let mut found = Skins { holes: Vec::new(), skins: vec![whole(0); cards.len()], left: 0 };
    let mut worth = 1;
    let mut level = Vec::new();
    for hole in 0..cards.first().map_or(0, |card| card.len()) {
        level = best(cards, hole, better);
        let winner = if let [only] = level[..] { Some(only) } else { None };
        found.holes.push(Hole { winner, worth });
        match (winner, unwon) {
            (Some(card), _) => found.skins[card] += whole(worth),
            (None, Unwon::Void) => found.left += worth,
            (None, Unwon::Carried { .. }) => {
                worth += 1;
                continue;
            }
        }
        worth = 1;
    }
    let hanging = worth - 1;
    if unwon == (Unwon::Carried { split_last: true }) && !level.is_empty() {
        for &card in &level {
            found.skins[card] += Exact::new(hanging.into(), level.len() as i128);
        }
    } else {
        found.left += hanging;
    }
    found
}

/// Returns the cards with the best score of a hole; none where there is no score.
fn best(cards: &[&[Option<Exact>]], hole: usize, better: Better) -> Vec<usize> {
    let scores = || cards.iter().enumerate().filter_map(|(card, holes)| Some((card, holes[hole]?)));
    let best = scores().map(|(_, score)| score).min_by(|a, b| better.compare(a, b));
    scores().filter(|(_, score)| Some(*score) == best).map(|(card, _)| card).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SPLIT: Unwon = Unwon::Carried { split_last: true };
    const LEFT: Unwon = Unwon::Carried { split_last: false };

    fn play(cards: &[Vec<Option<i32>>], unwon: Unwon, better: Better) -> Skins {
        let exact: Vec<Vec<_>> = cards.iter().map(|card| card.iter().map(|score| score.map(whole)).collect()).collect();
        let cards: Vec<&[_]> = exact.iter().map(Vec::as_slice).collect();
        skins(&cards, unwon, better)
    }

    /// A card is written with one character a hole; `.` is no score.
    fn check(cards: &[&str], unwon: Unwon, worth: &[u32], won: &[(i128, i128)], left: u32) {
        let cards: Vec<Vec<_>> =
            cards.iter().map(|card| card.chars().map(|hole| hole.to_digit(10).map(|n| n as i32)).collect()).collect();
        let found = play(&cards, unwon, Better::Lower);
        assert_eq!(found.holes.iter().map(|hole| hole.worth).collect::<Vec<_>>(), worth);
        assert_eq!(found.skins, won.iter().map(|(n, d)| Exact::new(*n, *d)).collect::<Vec<_>>());
        assert_eq!(found.left, left);
    }

    #[test]
    fn what_nobody_won_is_carried_or_void() {
        check(&["443", "453"], LEFT, &[1, 2, 1], &[(2, 1), (0, 1)], 1);
        check(&["443", "453"], Unwon::Void, &[1, 1, 1], &[(1, 1), (0, 1)], 2);
        check(&["44", "43", "4."], SPLIT, &[1, 2], &[(0, 1), (2, 1), (0, 1)], 0);
    }

    #[test]
    fn a_split_shares_all_that_hangs_on_the_last_hole_among_those_level_there() {
        check(&["44", "44", "45"], SPLIT, &[1, 2], &[(1, 1), (1, 1), (0, 1)], 0);
        check(&["44", "44", "44"], SPLIT, &[1, 2], &[(2, 3), (2, 3), (2, 3)], 0);
    }

    #[test]
    fn a_sole_score_wins_and_a_hole_without_scores_is_tied() {
        check(&["9", "."], SPLIT, &[1], &[(1, 1), (0, 1)], 0);
        check(&[".", "."], SPLIT, &[1], &[(0, 1), (0, 1)], 1);
        check(&["4.", "4."], SPLIT, &[1, 2], &[(0, 1), (0, 1)], 2);
        check(&[".3", ".4"], LEFT, &[1, 2], &[(2, 1), (0, 1)], 0);
    }

    #[test]
    fn of_points_the_most_win() {
        assert_eq!(play(&[vec![Some(2)], vec![Some(3)]], SPLIT, Better::Higher).holes[0].winner, Some(1));
    }

    proptest! {
        #[test]
        fn skins_and_what_is_left_make_one_a_hole(
            cards in (1..=18_usize).prop_flat_map(|holes| {
                prop::collection::vec(prop::collection::vec(prop::option::weighted(0.8, 3..6_i32), holes), 1..6)
            }),
            unwon in prop_oneof![Just(SPLIT), Just(LEFT), Just(Unwon::Void)],
            higher: bool,
        ) {
            let found = play(&cards, unwon, if higher { Better::Higher } else { Better::Lower });
            let won: Exact = found.skins.iter().sum();
            prop_assert_eq!(won + whole(found.left), whole(cards[0].len() as i128));
        }
    }
}
