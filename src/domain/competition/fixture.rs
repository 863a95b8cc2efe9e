//! Points of a fixture: for holes, for matches and for the lower total.

use super::match_play::{Concession, Outcome, Side, hole_winners, play};
use crate::domain::exact::{Exact, whole};
use std::fmt;
use std::iter::Sum;

/// What is at stake.
///
/// # Source
/// Common practice, no source; the terms decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stakes {
    /// Points of each hole of each match.
    pub per_hole: Exact,
    /// Points of each match.
    pub per_match: Exact,
    /// Points of the lower total over all matches.
    pub per_total: Exact,
}

/// The points of both sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Points {
    /// Those of the side named first.
    pub a: Exact,
    /// Those of the side named second.
    pub b: Exact,
}

impl Points {
    /// Gives all points to the winner, or half to each where there is none.
    fn to(winner: Option<Side>, points: Exact) -> Self {
        match winner {
            Some(Side::A) => Self { a: points, b: whole(0) },
            Some(Side::B) => Self { a: whole(0), b: points },
            None => Self { a: points / whole(2), b: points / whole(2) },
        }
    }
}

impl Sum for Points {
    fn sum<I: Iterator<Item = Self>>(points: I) -> Self {
        points.fold(Self { a: whole(0), b: whole(0) }, |sum, add| Self { a: sum.a + add.a, b: sum.b + add.b })
    }
}

/// One match of a fixture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Pairing {
    /// Both sides came.
    Played {
        /// Net scores hole by hole; those beyond the round are extra holes.
        a: Vec<Option<Exact>>,
        /// The same, of the side named second.
        b: Vec<Option<Exact>>,
        /// Holes given to the other side.
        conceded: Vec<Concession>,
    },
    /// Only one side came.
    WalkOver {
        /// The side that came.
        present: Side,
    },
}

/// How one match of a fixture ended. Displays as players write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    Played(Outcome),
    /// One side was absent.
    WalkOver,
}

impl fmt::Display for Ended {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Played(outcome) => outcome.fmt(f),
            Self::WalkOver => f.write_str("walk-over"),
        }
    }
}

/// The points of a fixture and where they come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FixturePoints {
    pub points: Points,
    /// Each match: its points for holes and for the match, and how it ended.
    pub matches: Vec<(Points, Ended)>,
    /// The points for the lower total.
    pub total: Points,
}

/// Returns the points of a fixture whose matches go over `holes` holes.
///
/// Holes count after the decision of a match as before; extra holes may decide it and earn nothing else. The points for
/// the total are split where a side has none: a hole without a score, conceded ones included, or a walk-over. The side
/// that came to a walk-over gets the match and every hole. So the points of both sides always have the same sum.
///
/// # Formula
/// ```text
/// hole won h, tied h/2 each; match won m, tied m/2 each; lower total t, equal t/2 each
/// sum of both sides: (h · holes + m) · matches + t
/// ```
///
/// # Source
/// Common practice, no source.
pub fn fixture_points(matches: &[Pairing], holes: usize, stakes: Stakes) -> FixturePoints {
    let results: Vec<(Points, Ended)> = matches.iter().map(|pairing| match_points(pairing, holes, stakes)).collect();
    let total = Points::to(lower_total(matches, holes), stakes.per_total);
    let points = results.iter().map(|(points, _)| *points).chain([total]).sum();
    FixturePoints { points, matches: results, total }
}

fn match_points(pairing: &Pairing, holes: usize, stakes: Stakes) -> (Points, Ended) {
    match pairing {
        Pairing::Played { a, b, conceded } => {
            let winners = hole_winners(a, b, conceded);
            let played = play(&winners, holes);
            let by_hole = winners.iter().take(holes).map(|winner| Points::to(*winner, stakes.per_hole));
            let points = by_hole.chain([Points::to(played.winner, stakes.per_match)]).sum();
            (points, Ended::Played(played.outcome))
        }
        Pairing::WalkOver { present } => {
            let all = stakes.per_hole * whole(holes as i128) + stakes.per_match;
            (Points::to(Some(*present), all), Ended::WalkOver)
        }
    }
}

/// Returns the side with the lower total; `None` where they are equal or one has no total.
fn lower_total(matches: &[Pairing], holes: usize) -> Option<Side> {
    let total = |side: Side| -> Option<Exact> {
        let of_match = |pairing: &Pairing| -> Option<Exact> {
            match (pairing, side) {
                (Pairing::Played { a, .. }, Side::A) => a.iter().take(holes).copied().sum(),
                (Pairing::Played { b, .. }, Side::B) => b.iter().take(holes).copied().sum(),
                (Pairing::WalkOver { .. }, _) => None,
            }
        };
        matches.iter().map(of_match).sum()
    };
    let (a, b) = (total(Side::A)?, total(Side::B)?);
    if a == b { None } else { Some(if a < b { Side::A } else { Side::B }) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn played(a: &[Option<i32>], b: &[Option<i32>], conceded: &[Concession]) -> Pairing {
        let exact = |scores: &[Option<i32>]| scores.iter().map(|score| score.map(whole)).collect();
        Pairing::Played { a: exact(a), b: exact(b), conceded: conceded.to_vec() }
    }

    fn check(matches: &[Pairing], holes: usize, stakes: [i32; 3], expect: [(i128, i128); 2], results: &[&str]) {
        let [per_hole, per_match, per_total] = stakes.map(whole);
        let found = fixture_points(matches, holes, Stakes { per_hole, per_match, per_total });
        let [a, b] = expect.map(|(numerator, denominator)| Exact::new(numerator, denominator));
        assert_eq!(found.points, Points { a, b });
        let ended: Vec<_> = found.matches.iter().map(|(_, ended)| ended.to_string()).collect();
        assert_eq!(ended, results);
    }

    #[test]
    fn holes_count_after_the_decision_and_a_conceded_one_goes_to_the_other_side_even_then() {
        let (three, four) = ([Some(3); 3], [Some(4); 3]);
        check(&[played(&three, &four, &[])], 3, [2, 0, 0], [(6, 1), (0, 1)], &["2&1"]);
        let conceded = [Concession { hole: 3, by: Side::A }];
        check(&[played(&three, &four, &conceded)], 3, [2, 1, 0], [(5, 1), (2, 1)], &["2&1"]);
    }

    #[test]
    fn extra_holes_decide_the_match_and_earn_nothing_else() {
        let match_ = played(&[Some(4), Some(4), Some(3)], &[Some(4), Some(4), Some(5)], &[]);
        check(&[match_], 2, [2, 3, 1], [(11, 2), (5, 2)], &["3rd hole"]);
        let tied = played(&[Some(4), None], &[Some(4), None], &[]);
        check(&[tied], 1, [0, 3, 0], [(3, 2), (3, 2)], &["tied"]);
    }

    #[test]
    fn the_total_is_split_where_a_side_has_none() {
        check(&[played(&[Some(4), Some(4)], &[Some(5), None], &[])], 2, [0, 0, 3], [(3, 2), (3, 2)], &["2 up"]);
        check(&[played(&[Some(4)], &[Some(4)], &[])], 1, [0, 0, 3], [(3, 2), (3, 2)], &["tied"]);
        check(&[played(&[Some(5)], &[Some(4)], &[])], 1, [0, 0, 3], [(0, 1), (3, 1)], &["1 up"]);
        let walk_over = [played(&[Some(4)], &[Some(5)], &[]), Pairing::WalkOver { present: Side::B }];
        check(&walk_over, 1, [1, 1, 1], [(5, 2), (5, 2)], &["1 up", "walk-over"]);
    }

    fn pairing(holes: usize) -> impl Strategy<Value = Pairing> {
        let hole = || prop::option::weighted(0.9, 2..8_i32);
        let scores = prop::collection::vec((hole(), hole()), holes..holes + 4);
        let conceded = prop::option::of((1..=holes, any::<bool>()));
        prop_oneof![
            4 => (scores, conceded).prop_map(|(scores, conceded)| {
                let (a, b): (Vec<_>, Vec<_>) = scores.into_iter().unzip();
                let side = |a: bool| if a { Side::A } else { Side::B };
                let conceded: Vec<_> =
                    conceded.into_iter().map(|(hole, a)| Concession { hole, by: side(a) }).collect();
                played(&a, &b, &conceded)
            }),
            1 => any::<bool>().prop_map(|a| Pairing::WalkOver { present: if a { Side::A } else { Side::B } }),
        ]
    }

    proptest! {
        #[test]
        fn the_points_of_both_sides_have_the_same_sum_whatever_happens(
            (holes, matches) in (1..=18_usize)
                .prop_flat_map(|holes| (Just(holes), prop::collection::vec(pairing(holes), 1..5))),
            [h, m, t] in prop::array::uniform3(0..=12_i128),
        ) {
            let [per_hole, per_match, per_total] = [h, m, t].map(|quarters| Exact::new(quarters, 4));
            let found = fixture_points(&matches, holes, Stakes { per_hole, per_match, per_total });
            let count = |n: usize| whole(n as i128);
            let sum = (per_hole * count(holes) + per_match) * count(matches.len()) + per_total;
            prop_assert_eq!(found.points.a + found.points.b, sum);
        }
    }
}
