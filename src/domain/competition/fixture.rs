//! Points of a fixture: for holes, for nines, for matches and for the lower total.

use super::match_play::{Concession, Outcome, Side, hole_winners, play};
use crate::exact::{Exact, whole};
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
    /// Points of each nine of a match over 18 holes; none over fewer.
    pub per_nine: Exact,
    /// Points of each match.
    pub per_match: Exact,
    /// Points of the lower total over all matches.
    pub per_total: Exact,
    pub walk_over: WalkOver,
}

/// What the side that came to a walk-over gets beside the match.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WalkOver {
    /// Whether every hole, and each nine, is its; else they are split.
    pub holes: bool,
    /// Whether the lower total is its; else it is split.
    pub total: bool,
}

impl Default for WalkOver {
    fn default() -> Self {
        Self { holes: true, total: false }
    }
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
    pub fn none() -> Self {
        Self { a: whole(0), b: whole(0) }
    }

    /// Gives all points to the winner, or half to each where there is none.
    pub fn to(winner: Option<Side>, points: Exact) -> Self {
        match winner {
            Some(Side::A) => Self { a: points, b: whole(0) },
            Some(Side::B) => Self { a: whole(0), b: points },
            None => Self { a: points / whole(2), b: points / whole(2) },
        }
    }

    /// Returns those of a side.
    pub fn of(self, side: Side) -> Exact {
        match side {
            Side::A => self.a,
            Side::B => self.b,
        }
    }
}

impl Sum for Points {
    fn sum<I: Iterator<Item = Self>>(points: I) -> Self {
        points.fold(Self::none(), |sum, add| Self { a: sum.a + add.a, b: sum.b + add.b })
    }
}

/// One match of a fixture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Pairing {
    /// Both sides play.
    Played {
        /// Net scores hole by hole; those beyond the round are extra holes. Shorter than the round: it is still played.
        a: Vec<Option<Exact>>,
        /// The same, of the side named second.
        b: Vec<Option<Exact>>,
        /// Holes given to the other side.
        conceded: Vec<Concession>,
        /// The side that gave the match to the other.
        given_up: Option<Side>,
    },
    /// Only one side came.
    WalkOver {
        /// The side that came.
        present: Side,
    },
    /// A side was disqualified, and so lost every hole; `None`: both were.
    Disqualified { winner: Option<Side> },
    /// Neither side came: everything is split.
    NobodyCame,
}

/// How one match of a fixture ended. Displays as players write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    Played(Outcome),
    /// One side gave the match to the other.
    Conceded,
    /// One side was absent.
    WalkOver,
    Disqualified,
    NobodyCame,
}

impl fmt::Display for Ended {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Played(outcome) => outcome.fmt(f),
            Self::Conceded => f.write_str("conceded"),
            Self::WalkOver => f.write_str("walk-over"),
            Self::Disqualified => f.write_str("disqualified"),
            Self::NobodyCame => f.write_str("nobody came"),
        }
    }
}

/// One match of a fixture as it ended, or stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MatchEnd {
    pub winner: Option<Side>,
    pub ended: Ended,
    /// Its points for holes, nines and the match.
    pub points: Points,
    /// Holes that counted for the match.
    pub through: usize,
    /// Holes that side A is ahead; negative when B leads.
    pub lead: i32,
    /// Whether nothing about its points is open.
    pub is_over: bool,
}

/// The points of a fixture and where they come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FixturePoints {
    pub points: Points,
    pub matches: Vec<MatchEnd>,
    /// The points for the lower total.
    pub total: Points,
}

/// Returns the points of a fixture whose matches go over `holes` holes.
///
/// Holes count after the decision of a match as before; extra holes may decide it and earn nothing else. The points for
/// the total are split where a side has none: a hole without a score, conceded ones included, a disqualification, or a
/// walk-over if the terms do not give them to the side that came. So the points of both sides have the same sum once
/// every match is over. While one is played, it has the points of the holes played, and of the match once it is decided.
///
/// # Formula
/// ```text
/// hole won h, tied h/2 each; nine won n, match won m, lower total t, the same
/// sum of both sides: (h · holes + 2n (over 18 holes) + m) · matches + t
/// ```
///
/// # Source
/// Common practice, no source.
pub fn fixture_points(matches: &[Pairing], holes: usize, stakes: Stakes) -> FixturePoints {
    let of_holes = |scores: &[Option<Exact>]| -> Option<Exact> { scores.iter().take(holes).copied().sum() };
    let totals: Vec<[Option<Exact>; 2]> = matches
        .iter()
        .map(|pairing| match pairing {
            Pairing::Played { a, b, .. } => [of_holes(a), of_holes(b)],
            Pairing::WalkOver { .. } | Pairing::Disqualified { .. } | Pairing::NobodyCame => [None, None],
        })
        .collect();
    fixture_points_of(matches, &totals, holes, stakes)
}

/// Returns the points of a fixture as [`fixture_points`] does, with the net totals of both sides over all balls of each match.
pub fn fixture_points_of(
    matches: &[Pairing],
    totals: &[[Option<Exact>; 2]],
    holes: usize,
    stakes: Stakes,
) -> FixturePoints {
    let matches_ended: Vec<MatchEnd> = matches.iter().map(|pairing| match_end(pairing, holes, stakes)).collect();
    let are_over = matches_ended.iter().all(|end| end.is_over);
    let total = if are_over {
        Points::to(lower_total(matches, totals, stakes.walk_over), stakes.per_total)
    } else {
        Points::none()
    };
    let points = matches_ended.iter().map(|end| end.points).chain([total]).sum();
    FixturePoints { points, matches: matches_ended, total }
}

fn match_end(pairing: &Pairing, holes: usize, stakes: Stakes) -> MatchEnd {
    let nines = if holes == 18 { 2 } else { 0 };
    let all = stakes.per_hole * whole(holes as i128) + stakes.per_nine * whole(nines);
    let without_play = |winner, ended, of_holes| {
        let points = [Points::to(of_holes, all), Points::to(winner, stakes.per_match)].into_iter().sum();
        MatchEnd { winner, ended, points, through: 0, lead: 0, is_over: true }
    };
    let (a, b, conceded, given_up) = match pairing {
        Pairing::Played { a, b, conceded, given_up } => (a, b, conceded, given_up),
        Pairing::WalkOver { present } => {
            let winner = Some(*present);
            return without_play(winner, Ended::WalkOver, winner.filter(|_| stakes.walk_over.holes));
        }
        Pairing::Disqualified { winner } => return without_play(*winner, Ended::Disqualified, *winner),
        Pairing::NobodyCame => return without_play(None, Ended::NobodyCame, None),
    };
    let winners = hole_winners(a, b, conceded);
    let played = play(&winners, holes);
    let is_over = winners.len() >= holes;
    let by_hole = winners.iter().take(holes).map(|winner| Points::to(*winner, stakes.per_hole));
    let decided = is_over || played.winner.is_some() || given_up.is_some();
    let winner = given_up.map_or(played.winner, |side| Some(side.other()));
    let of_match = decided.then(|| Points::to(winner, stakes.per_match));
    let of_nines = winners.chunks(9).take(if is_over { nines as usize } else { 0 }).map(|nine| {
        let won = |side| nine.iter().filter(|winner| **winner == Some(side)).count();
        let winner = match won(Side::A).cmp(&won(Side::B)) {
            std::cmp::Ordering::Greater => Some(Side::A),
            std::cmp::Ordering::Equal => None,
            std::cmp::Ordering::Less => Some(Side::B),
        };
        Points::to(winner, stakes.per_nine)
    });
    let points = by_hole.chain(of_match).chain(of_nines).sum();
    let ended = if given_up.is_some() { Ended::Conceded } else { Ended::Played(played.outcome) };
    MatchEnd { winner, ended, points, through: played.holes_played, lead: played.lead, is_over }
}

/// Returns the side with the lower total; `None` where they are equal or one has no total.
fn lower_total(matches: &[Pairing], totals: &[[Option<Exact>; 2]], walk_over: WalkOver) -> Option<Side> {
    let mut came = matches.iter().filter_map(|pairing| match pairing {
        Pairing::WalkOver { present } => Some(*present),
        Pairing::Played { .. } | Pairing::Disqualified { .. } | Pairing::NobodyCame => None,
    });
    if walk_over.total
        && let Some(first) = came.next()
    {
        return came.all(|side| side == first).then_some(first);
    }
    let a: Exact = totals.iter().map(|[a, _]| *a).sum::<Option<Exact>>()?;
    let b: Exact = totals.iter().map(|[_, b]| *b).sum::<Option<Exact>>()?;
    if a == b { None } else { Some(if a < b { Side::A } else { Side::B }) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn played(a: &[Option<i32>], b: &[Option<i32>], conceded: &[Concession]) -> Pairing {
        let exact = |scores: &[Option<i32>]| scores.iter().map(|score| score.map(whole)).collect();
        Pairing::Played { a: exact(a), b: exact(b), conceded: conceded.to_vec(), given_up: None }
    }

    fn stakes_of(per_hole: Exact, per_match: Exact, per_total: Exact) -> Stakes {
        Stakes { per_hole, per_nine: whole(0), per_match, per_total, walk_over: WalkOver::default() }
    }

    fn check(matches: &[Pairing], holes: usize, stakes: [i32; 3], expect: [(i128, i128); 2], results: &[&str]) {
        let [per_hole, per_match, per_total] = stakes.map(whole);
        let found = fixture_points(matches, holes, stakes_of(per_hole, per_match, per_total));
        let [a, b] = expect.map(|(numerator, denominator)| Exact::new(numerator, denominator));
        assert_eq!(found.points, Points { a, b });
        let ended: Vec<_> = found.matches.iter().map(|end| end.ended.to_string()).collect();
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

    #[test]
    fn a_match_over_18_holes_has_two_nines() {
        // A wins holes 1 and 2, B wins holes 10, 11 and 12: A has the first nine, B the second and the match.
        let (mut a, mut b) = ([Some(4); 18], [Some(4); 18]);
        (b[0], b[1]) = (Some(5), Some(5));
        (a[9], a[10], a[11]) = (Some(5), Some(5), Some(5));
        let stakes = Stakes { per_nine: whole(1), ..stakes_of(whole(0), whole(2), whole(0)) };
        let found = fixture_points(&[played(&a, &b, &[])], 18, stakes);
        assert_eq!(found.points, Points { a: whole(1), b: whole(3) });
        // Over nine holes there are none.
        let nine = fixture_points(&[played(&a[..9], &b[..9], &[])], 9, stakes);
        assert_eq!(nine.points, Points { a: whole(2), b: whole(0) });
    }

    #[test]
    fn who_gets_the_points_of_a_walk_over_is_a_term() {
        let stakes = |holes, total| {
            let walk_over = WalkOver { holes, total };
            Stakes { walk_over, ..stakes_of(whole(1), whole(2), whole(4)) }
        };
        let check = |holes, total, a: (i128, i128), b: (i128, i128)| {
            let found = fixture_points(&[Pairing::WalkOver { present: Side::B }], 9, stakes(holes, total));
            assert_eq!(found.points, Points { a: Exact::new(a.0, a.1), b: Exact::new(b.0, b.1) });
        };
        // Nine holes at 1, the match at 2, the total at 4.
        check(true, false, (2, 1), (9 + 2 + 2, 1));
        check(true, true, (0, 1), (9 + 2 + 4, 1));
        check(false, true, (9, 2), (9 + 2 * 2 + 2 * 4, 2));
        let both_ways = [Side::A, Side::B].map(|present| Pairing::WalkOver { present });
        assert_eq!(fixture_points(&both_ways, 9, stakes(true, true)).total, Points { a: whole(2), b: whole(2) });
    }

    #[test]
    fn a_match_that_was_given_up_is_the_other_sides_whoever_leads() {
        let match_ = Pairing::Played {
            a: vec![Some(whole(3)), None],
            b: vec![Some(whole(4)), None],
            conceded: vec![Concession { hole: 2, by: Side::A }],
            given_up: Some(Side::A),
        };
        check(&[match_], 2, [1, 5, 0], [(1, 1), (6, 1)], &["conceded"]);
        check(&[Pairing::Disqualified { winner: Some(Side::B) }], 2, [1, 5, 2], [(1, 1), (8, 1)], &["disqualified"]);
        check(&[Pairing::NobodyCame], 2, [1, 5, 2], [(9, 2), (9, 2)], &["nobody came"]);
    }

    #[test]
    fn a_match_in_play_has_the_points_of_the_holes_played_and_the_match_once_decided() {
        check(&[played(&[Some(3)], &[Some(4)], &[])], 3, [1, 5, 2], [(1, 1), (0, 1)], &["in progress"]);
        check(&[played(&[Some(3); 2], &[Some(4); 2], &[])], 3, [1, 5, 2], [(7, 1), (0, 1)], &["2&1"]);
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
            1 => prop_oneof![Just(Some(Side::A)), Just(Some(Side::B)), Just(None)]
                .prop_map(|winner| Pairing::Disqualified { winner }),
            1 => Just(Pairing::NobodyCame),
        ]
    }

    proptest! {
        #[test]
        fn the_points_of_both_sides_have_the_same_sum_whatever_happens(
            (holes, matches) in prop_oneof![1..=18_usize, Just(18)]
                .prop_flat_map(|holes| (Just(holes), prop::collection::vec(pairing(holes), 1..5))),
            [h, n, m, t] in prop::array::uniform4(0..=12_i128),
            walk_over in any::<(bool, bool)>(),
        ) {
            let [per_hole, per_nine, per_match, per_total] = [h, n, m, t].map(|quarters| Exact::new(quarters, 4));
            let walk_over = WalkOver { holes: walk_over.0, total: walk_over.1 };
            let found = fixture_points(&matches, holes, Stakes { per_hole, per_nine, per_match, per_total, walk_over });
            let count = |n: usize| whole(n as i128);
            let nines = count(if holes == 18 { 2 } else { 0 });
            let sum = (per_hole * count(holes) + per_nine * nines + per_match) * count(matches.len()) + per_total;
            prop_assert_eq!(found.points.a + found.points.b, sum);
        }
    }
}
