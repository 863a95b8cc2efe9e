//! The state and result of a match between two sides.

use std::cmp::Ordering;
use std::fmt;

/// One side of a match.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The side named first.
    A,
    /// The side named second.
    B,
}

/// How a match stands or ended. Displays as players write it: "3&2", "1 up", "AS", "19th hole", "in progress".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Holes of the round remain and neither side leads by more than those.
    InProgress,
    /// Level after the round and after any extra holes.
    AllSquare,
    /// Won by `by` holes with `left` to play.
    Won {
        /// Holes ahead.
        by: u32,
        /// Holes left.
        left: u32,
    },
    /// Won on an extra hole.
    WonExtra {
        /// The number of that hole, counted on from the round.
        hole: u32,
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
    pub holes_played: u32,
    /// Holes that side A is ahead; negative when B leads.
    pub lead: i32,
}

/// Plays a match over `holes` holes from net scores hole by hole.
///
/// Without a score a side loses the hole; if neither has one it is halved. Holes after the decision are ignored, since
/// they may have been played for another competition. Holes beyond `holes` are extra holes: the first one won decides.
///
/// # Formula
/// ```text
/// decided when |lead| > holes left
/// ```
///
/// # Source
/// Rules of Golf, Rule 3.2; recording of results: common practice.
pub fn play(a: &[Option<i32>], b: &[Option<i32>], holes: u32) -> Match {
    let mut lead = 0;
    let mut played = 0;
    for (a, b) in a.iter().zip(b) {
        lead += won_hole(*a, *b);
        played += 1;
        let size = lead.unsigned_abs();
        let outcome = if played > holes {
            (size > 0).then_some(Outcome::WonExtra { hole: played })
        } else {
            let left = holes - played;
            (size > left).then_some(Outcome::Won { by: size, left })
        };
        if let Some(outcome) = outcome {
            let winner = if lead > 0 { Side::A } else { Side::B };
            return Match { winner: Some(winner), outcome, holes_played: played, lead };
        }
    }
    let outcome = if played < holes { Outcome::InProgress } else { Outcome::AllSquare };
    Match { winner: None, outcome, holes_played: played, lead }
}

fn won_hole(a: Option<i32>, b: Option<i32>) -> i32 {
    match (a, b) {
        (None, None) => 0,
        (Some(_), None) => 1,
        (None, Some(_)) => -1,
        (Some(a), Some(b)) => match a.cmp(&b) {
            Ordering::Less => 1,
            Ordering::Equal => 0,
            Ordering::Greater => -1,
        },
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::InProgress => f.write_str("in progress"),
            Self::AllSquare => f.write_str("AS"),
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

    /// `card` has one letter a hole: `a` or `b` won it, `-` halved, `x` without a score on either side.
    fn check(card: &str, holes: u32, result: &str, holes_played: u32, lead: i32) {
        let score = |side: char| {
            move |hole: char| match hole {
                'x' => None,
                '-' => Some(4),
                winner => Some(if winner == side { 3 } else { 4 }),
            }
        };
        let a: Vec<_> = card.chars().map(score('a')).collect();
        let b: Vec<_> = card.chars().map(score('b')).collect();
        let found = play(&a, &b, holes);
        assert_eq!((found.outcome.to_string().as_str(), found.holes_played, found.lead), (result, holes_played, lead));
        assert_eq!(found.winner.is_some(), result != "AS" && result != "in progress");
    }

    #[test]
    fn a_match_ends_once_the_lead_exceeds_the_holes_left() {
        check("aaaaa", 9, "5&4", 5, 5);
        check("bbb---b", 9, "4&2", 7, -4);
        check("aaaaabbbb", 9, "5&4", 5, 5);
    }

    #[test]
    fn a_match_decided_on_the_last_hole_is_up_not_ampersand() {
        check("--------a", 9, "1 up", 9, 1);
        check("a-------a", 9, "2 up", 9, 2);
    }

    #[test]
    fn extra_holes_decide_a_level_match() {
        check("---", 3, "AS", 3, 0);
        check("---x", 3, "AS", 4, 0);
        check("----b", 3, "5th hole", 5, -1);
        check(&format!("{}a", "-".repeat(20)), 18, "21st hole", 21, 1);
    }

    #[test]
    fn a_missing_score_loses_the_hole() {
        assert_eq!(play(&[None], &[Some(9)], 1).winner, Some(Side::B));
        check("", 18, "in progress", 0, 0);
    }
}
