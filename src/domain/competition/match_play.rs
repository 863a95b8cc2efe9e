//! Match play: who wins each hole, and how the match stands or ended.

use crate::exact::Exact;
use std::cmp::Ordering;
use std::fmt;

/// One side of a match or a fixture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The side named first.
    A,
    /// The side named second.
    B,
}

impl Side {
    /// Returns the side that it plays against.
    pub const fn other(self) -> Self {
        match self {
            Self::A => Self::B,
            Self::B => Self::A,
        }
    }
}

/// A hole that one side gave to the other; it is lost whatever was scored on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Concession {
    /// The hole's place in the match, from 1.
    pub hole: usize,
    /// The side that conceded it.
    pub by: Side,
}

/// Returns who won each hole; `None`: tied.
///
/// The lower score wins. A side without a score loses the hole; if neither has one it is tied.
///
/// # Shape
/// `a` and `b` have one entry a hole, in the order played.
///
/// # Source
/// Rules of Golf, Rules 3.2a and 3.2b (a concession stands); without scores tied: common practice, no source.
pub fn hole_winners(a: &[Option<Exact>], b: &[Option<Exact>], conceded: &[Concession]) -> Vec<Option<Side>> {
    let mut winners: Vec<Option<Side>> = a.iter().zip(b).map(|(a, b)| lower(*a, *b)).collect();
    for concession in conceded {
        if let Some(winner) = winners.get_mut(concession.hole.wrapping_sub(1)) {
            *winner = Some(concession.by.other());
        }
    }
    winners
}

fn lower(a: Option<Exact>, b: Option<Exact>) -> Option<Side> {
    match (a, b) {
        (None, None) => None,
        (Some(_), None) => Some(Side::A),
        (None, Some(_)) => Some(Side::B),
        (Some(a), Some(b)) => match a.cmp(&b) {
            Ordering::Less => Some(Side::A),
            Ordering::Equal => None,
            Ordering::Greater => Some(Side::B),
        },
    }
}

/// How a match stands or ended. Displays as players write it: "3&2", "1 up", "tied", "19th hole", "in progress".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Holes of the round remain and neither side leads by more than those.
    InProgress,
    /// Level after the round and after any extra holes.
    Tied,
    /// Won by `by` holes with `left` to play.
    Won {
        /// Holes ahead.
        by: usize,
        /// Holes left.
        left: usize,
    },
    /// Won on an extra hole.
    WonExtra {
        /// The number of that hole, counted on from the round.
        hole: usize,
    },
}

/// A match after the holes recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Match {
    /// The side that has won.
    pub winner: Option<Side>,
    /// How it stands or ended.
    pub outcome: Outcome,
    /// Holes that counted.
    pub holes_played: usize,
    /// Holes that side A is ahead; negative when B leads.
    pub lead: i32,
}

/// Plays a match over `holes` holes from who won each ([`hole_winners`]).
///
/// Holes after the decision are ignored, since they may have been played for another competition. Holes beyond `holes` are
/// extra holes: the first one won decides.
///
/// # Formula
/// ```text
/// decided when |lead| > holes left
/// ```
///
/// # Source
/// Rules of Golf, Rule 3.2; recording of results: common practice, no source.
pub fn play(winners: &[Option<Side>], holes: usize) -> Match {
    let mut lead = 0_i32;
    for (played, winner) in (1..).zip(winners) {
        lead += match winner {
            Some(Side::A) => 1,
            Some(Side::B) => -1,
            None => 0,
        };
        let by = lead.unsigned_abs() as usize;
        let outcome = match holes.checked_sub(played) {
            None => (by > 0).then_some(Outcome::WonExtra { hole: played }),
            Some(left) => (by > left).then_some(Outcome::Won { by, left }),
        };
        if let Some(outcome) = outcome {
            let winner = if lead > 0 { Side::A } else { Side::B };
            return Match { winner: Some(winner), outcome, holes_played: played, lead };
        }
    }
    let outcome = if winners.len() < holes { Outcome::InProgress } else { Outcome::Tied };
    Match { winner: None, outcome, holes_played: winners.len(), lead }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::InProgress => f.write_str("in progress"),
            Self::Tied => f.write_str("tied"),
            Self::Won { by, left: 0 } => write!(f, "{by} up"),
            Self::Won { by, left } => write!(f, "{by}&{left}"),
            Self::WonExtra { hole } => {
                let ending = match (hole % 100, hole % 10) {
                    (11..=13, _) => "th",
                    (_, 1) => "st",
                    (_, 2) => "nd",
                    (_, 3) => "rd",
                    _ => "th",
                };
                write!(f, "{hole}{ending} hole")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::whole;
    use proptest::prelude::*;

    /// `card` has one letter a hole: `a` or `b` won it, `-` tied.
    fn check(card: &str, holes: usize, result: &str, holes_played: usize, lead: i32) {
        let winner = |hole: char| match hole {
            'a' => Some(Side::A),
            'b' => Some(Side::B),
            _ => None,
        };
        let winners: Vec<_> = card.chars().map(winner).collect();
        let found = play(&winners, holes);
        assert_eq!((found.outcome.to_string().as_str(), found.holes_played, found.lead), (result, holes_played, lead));
        assert_eq!(found.winner.is_some(), result != "tied" && result != "in progress");
    }

    #[test]
    fn a_match_ends_once_the_lead_exceeds_the_holes_left() {
        check("aaaaa", 9, "5&4", 5, 5);
        check("bbb---b", 9, "4&2", 7, -4);
        check("aaaaabbbb", 9, "5&4", 5, 5);
        check("", 18, "in progress", 0, 0);
        check("aaaa", 9, "in progress", 4, 4);
    }

    #[test]
    fn a_match_decided_on_the_last_hole_is_up_not_ampersand() {
        check("--------a", 9, "1 up", 9, 1);
        check("a-------a", 9, "2 up", 9, 2);
    }

    #[test]
    fn extra_holes_decide_a_level_match() {
        check("---", 3, "tied", 3, 0);
        check("----", 3, "tied", 4, 0);
        check("----b", 3, "5th hole", 5, -1);
        check(&format!("{}a", "-".repeat(9)), 9, "10th hole", 10, 1);
        check(&format!("{}a", "-".repeat(20)), 18, "21st hole", 21, 1);
        check(&format!("{}b", "-".repeat(21)), 18, "22nd hole", 22, -1);
        check(&format!("{}b", "-".repeat(10)), 9, "11th hole", 11, -1);
    }

    #[test]
    fn a_missing_score_loses_the_hole_and_a_conceded_one_is_lost_whatever_was_scored() {
        fn check(a: Option<i32>, b: Option<i32>, conceded_by: Option<Side>, expect: Option<Side>) {
            let conceded: Vec<_> = conceded_by.into_iter().map(|by| Concession { hole: 1, by }).collect();
            assert_eq!(hole_winners(&[a.map(whole)], &[b.map(whole)], &conceded), [expect]);
        }
        check(None, Some(9), None, Some(Side::B));
        check(Some(9), None, None, Some(Side::A));
        check(None, None, None, None);
        check(Some(4), Some(4), None, None);
        check(Some(3), Some(5), Some(Side::A), Some(Side::B));
        check(None, None, Some(Side::B), Some(Side::A));
    }

    fn mirrored(side: Option<Side>) -> Option<Side> {
        side.map(Side::other)
    }

    proptest! {
        #[test]
        fn a_match_is_the_same_seen_from_the_other_side(
            scores in prop::collection::vec((prop::option::of(2..7_i32), prop::option::of(2..7_i32)), 0..24),
            conceded in prop::collection::vec((1..24_usize, any::<bool>()), 0..4),
            holes in 1..=18_usize,
        ) {
            let (a, b): (Vec<_>, Vec<_>) = scores.iter().map(|(a, b)| (a.map(whole), b.map(whole))).unzip();
            let concede = |mirror: bool| -> Vec<Concession> {
                let by = |first: bool| if first != mirror { Side::A } else { Side::B };
                conceded.iter().map(|&(hole, first)| Concession { hole, by: by(first) }).collect()
            };
            let (winners, swapped) = (hole_winners(&a, &b, &concede(false)), hole_winners(&b, &a, &concede(true)));
            let seen: Vec<_> = swapped.iter().copied().map(mirrored).collect();
            prop_assert_eq!(&winners, &seen);
            let (found, other) = (play(&winners, holes), play(&swapped, holes));
            prop_assert_eq!(found.outcome, other.outcome);
            prop_assert_eq!((found.winner, found.lead, found.holes_played),
                (mirrored(other.winner), -other.lead, other.holes_played));
        }
    }
}
