use super::*;
use crate::facts::SideWord;
use crate::facts::match_terms::{MatchPoints, WalkOverTerms};
use proptest::prelude::*;

/// A fixture of one event.
struct Single {
    terms: MatchTerms,
    balls: BallTerms,
    fixture: Fixture,
    is_final: bool,
    conceded: Vec<Conceded>,
}

impl Single {
    /// Players 11 and 42 meet; 42 has four strokes: two on hole 1, one on 2 and 3.
    fn of(terms: &str) -> Self {
        let sides = [11, 42].map(|n| Competitor::Member { member_id: member(n) });
        Self {
            terms: serde_json::from_str(terms).unwrap(),
            balls: SINGLES,
            fixture: fixture(1, sides[0], Some(sides[1])),
            is_final: false,
            conceded: Vec::new(),
        }
    }

    fn concede(mut self, hole: Option<i64>, by: SideWord) -> Self {
        let hole = hole.map(|n| HoleNumber::new(n).unwrap());
        self.conceded.push(Conceded { fixture_id: FixtureId(Uuid::nil()), match_number: 1, hole, by });
        self
    }

    fn seen(&self, cards: &[(u128, &str)]) -> FixtureSeen {
        let competition = MatchCompetition {
            terms: &self.terms,
            balls: self.balls,
            teams: BTreeMap::new(),
            events: vec![event(1, self.is_final, cards)],
            fixtures: vec![(FixtureId(Uuid::nil()), &self.fixture)],
            kept: HashMap::new(),
            concessions: self.conceded.iter().collect(),
        };
        meetings(&competition).remove(0)
    }

    fn check(&self, cards: &[(u128, &str)], expect: &str) {
        let seen = self.seen(cards);
        let (_, end) = &seen.matches[0];
        let points = seen.points.unwrap();
        let found = format!(
            "{} {} through {}, {}:{}",
            seen.state.word(),
            end.ended,
            end.through,
            to_text(points.a),
            to_text(points.b)
        );
        assert_eq!(found, expect);
    }
}

#[test]
fn a_match_stands_as_through_the_holes_that_both_have() {
    let single = Single::of(r#"{"points": {"per_hole": 1, "per_match": 4, "per_total": 2}}"#);
    single.check(&[], "planned in progress through 0, 0:0");
    single.check(&[(11, "4,4,4")], "in_play in progress through 0, 0:0");
    // Net of 42: 4, then 3. Hole 1 tied, hole 2 to 42.
    single.check(&[(11, "4,4,4"), (42, "6,4,.")], "in_play in progress through 2, 0.5:1.5");
    // Hole 2 first, since a card in play may have it before hole 1.
    single.check(&[(11, "4,4,."), (42, ".,4,.")], "in_play in progress through 1, 0:1");
    // The third hole to 42, too: 2 up. Net totals 12 and 10.
    single.check(&[(11, "4,4,4"), (42, "6,4,4")], "played 2 up through 3, 0.5:8.5");
    // A hole without a score is lost, and without a total the points for it are split.
    single.check(&[(11, "4,4,4"), (42, "6,4,x")], "played tied through 3, 4.5:4.5");
}

#[test]
fn who_has_no_card_is_absent_once_the_event_is_final() {
    let terms = r#"{"points": {"per_hole": 1, "per_match": 4, "per_total": 2}}"#;
    let single = Single { is_final: true, ..Single::of(terms) };
    single.check(&[(11, "4,4,4")], "played walk-over through 0, 8:1");
    single.check(&[], "played nobody came through 0, 4.5:4.5");
    let halves = r#"{"points": {"per_hole": 1, "per_match": 4}, "walk_over": {"per_hole": "half"}}"#;
    Single { is_final: true, ..Single::of(halves) }.check(&[(42, "4,4,4")], "played walk-over through 0, 1.5:5.5");
}

#[test]
fn concessions_give_a_hole_or_the_match() {
    let terms = r#"{"points": {"per_hole": 1, "per_match": 4}}"#;
    // Hole 3 goes to 42 although both halved it, which makes it the first hole won.
    let hole = Single::of(terms).concede(Some(3), SideWord::A);
    hole.check(&[(11, "4,4,4"), (42, "6,5,5")], "played 1 up through 3, 1:6");
    // It counts before anybody has a card.
    hole.check(&[], "planned in progress through 1, 0:1");
    // The match is 42's: hole 1, which 11 won, stays won, and the holes that 11 did not score are lost.
    let match_ = Single::of(terms).concede(None, SideWord::A);
    match_.check(&[(11, "3,.,."), (42, "6,.,.")], "played conceded through 3, 1:6");
    match_.check(&[], "played conceded through 2, 0:7");
}

#[test]
fn a_tied_match_goes_on_hole_by_hole_if_the_terms_say_so() {
    let mut single = Single::of(r#"{"tied": "extra_holes"}"#);
    let level = [(11, "4,4,4"), (42, "6,5,5")];
    single.check(&level, "in_play tied through 3, 0.5:0.5");
    // On the first extra hole 42 has two strokes again: net 4 and 4. On the second one: net 3.
    let strokes = |n: i64| Some(crate::units::Strokes::new(n).unwrap());
    single.fixture.extra = vec![[strokes(4), strokes(6)]];
    single.check(&level, "in_play tied through 4, 0.5:0.5");
    single.fixture.extra.push([strokes(4), strokes(4)]);
    single.check(&level, "played 5th hole through 5, 0:1");
    single.fixture.extra.clear();
    single.fixture.goes_on = Some(SideWord::B);
    single.check(&level, "played tied through 3, 0.5:0.5");
    assert_eq!(single.seen(&level).goes_on, Some(Side::B));
}

#[test]
fn a_card_that_was_left_out_loses_the_match() {
    let single = Single::of("{}");
    let mut night = event(1, false, &[(11, "4,4,4"), (42, "9,9,9")]);
    night.players.get_mut(&member(11)).unwrap().card.as_mut().unwrap().is_out = true;
    let competition = MatchCompetition {
        terms: &single.terms,
        balls: SINGLES,
        teams: BTreeMap::new(),
        events: vec![night],
        fixtures: vec![(FixtureId(Uuid::nil()), &single.fixture)],
        kept: HashMap::new(),
        concessions: Vec::new(),
    };
    let seen = meetings(&competition).remove(0);
    assert_eq!((seen.matches[0].1.ended, seen.matches[0].1.winner), (Ended::Disqualified, Some(Side::B)));
}

#[test]
fn a_bye_is_worth_what_the_terms_say_once_its_event_is_final() {
    let terms = MatchTerms { bye: Value(whole(2)), ..two_matches() };
    let bye = fixture(1, team(1), None);
    let of = |is_final| {
        let competition = MatchCompetition {
            terms: &terms,
            balls: SINGLES,
            teams: BTreeMap::new(),
            events: vec![event(1, is_final, &[])],
            fixtures: vec![(FixtureId(Uuid::nil()), &bye)],
            kept: HashMap::new(),
            concessions: Vec::new(),
        };
        lines(&table(&terms, &[], &meetings(&competition), &[]))[0].clone()
    };
    assert_eq!(of(false), "- team 1: 0 0 0 0, 0:0, -");
    assert_eq!(of(true), "1 team 1: 0 0 0 0, 0:0, 2");
}

#[test]
fn of_two_balls_of_a_side_the_better_counts_and_all_play_off_the_lowest() {
    // 11 and 12 (off 0 and 3) against 41 and 42 (off 0 and 4), one match.
    let balls = BallTerms { of: 2, ..SINGLES };
    let terms: MatchTerms = serde_json::from_str(r#"{"points": {"per_hole": 1}}"#).unwrap();
    let story = Story::told(WithdrawnResults::Stand);
    let meets = fixture(1, team(1), Some(team(4)));
    let of = |cards: &[(u128, &str)], is_final| {
        let competition = MatchCompetition {
            terms: &terms,
            balls,
            teams: story.teams.iter().map(|(id, team)| (*id, team)).collect(),
            events: vec![event(1, is_final, cards)],
            fixtures: vec![(FixtureId(Uuid::nil()), &meets)],
            kept: HashMap::new(),
            concessions: Vec::new(),
        };
        let seen = meetings(&competition).remove(0);
        points(&[seen])[0].clone()
    };
    // Net of 12: 3,4,4 for 4,5,5; net of 42: 3,4,3 for 5,5,4. Hole 1: 3 and 3. Hole 2: 4 and 4. Hole 3: 4 and 3.
    let cards = [(11, "4,4,4"), (12, "4,5,5"), (41, "5,5,5"), (42, "5,5,4")];
    assert_eq!(of(&cards, false), "played 1:2");
    assert_eq!(of(&cards[..3], false), "in_play 0:0");
    // Once the event is final 41 plays alone: 5,5,5 against 3,4,4.
    assert_eq!(of(&cards[..3], true), "played 3:0");
}

fn any_card() -> impl Strategy<Value = Option<(Vec<u8>, bool)>> {
    prop::option::weighted(0.8, (prop::collection::vec(2..8_u8, 3), prop::bool::weighted(0.1)))
}

fn any_terms() -> impl Strategy<Value = MatchTerms> {
    let points = prop::array::uniform4(0..=8_i128);
    (points, any::<(bool, bool)>()).prop_map(|(points, (holes, total))| {
        let [per_hole, per_nine, per_match, per_total] = points.map(|quarters| Value(Exact::new(quarters, 4)));
        let share = |all| if all { Share::All } else { Share::Half };
        MatchTerms {
            matches: 2,
            points: MatchPoints { per_hole, per_nine, per_match, per_total },
            walk_over: WalkOverTerms { per_hole: share(holes), per_total: share(total) },
            ..two_matches()
        }
    })
}

fn any_absence() -> impl Strategy<Value = AbsentTerms> {
    prop_oneof![
        Just(AbsentTerms::Forfeit),
        Just(AbsentTerms::NetParPlus { plus: Value(Exact::new(1, 2)) }),
        Just(AbsentTerms::OwnAverage { last: 3 }),
        Just(AbsentTerms::OpponentToPar),
    ]
}

/// Teams 1 and 4 meet in a final event; team `a` is named first.
fn met(a: u128, terms: &MatchTerms, absent: AbsentTerms, cards: &[Option<(Vec<u8>, bool)>; 4]) -> FixtureSeen {
    let story = Story::told(WithdrawnResults::Stand);
    let mut night = event(1, true, &[]);
    for (n, card) in [11, 12, 41, 42].into_iter().zip(cards) {
        let card = card.clone().map(|(holes, is_out)| MatchCard {
            holes: holes.into_iter().map(|n| if n == 7 { MatchHole::Unscored } else { MatchHole::Scored(n) }).collect(),
            is_out,
        });
        night.players.get_mut(&member(n)).unwrap().card = card;
    }
    let meets = fixture(1, team(a), Some(team(5 - a)));
    let competition = MatchCompetition {
        terms,
        balls: BallTerms { absent, ..SINGLES },
        teams: story.teams.iter().map(|(id, team)| (*id, team)).collect(),
        events: vec![night],
        fixtures: vec![(FixtureId(Uuid::nil()), &meets)],
        kept: HashMap::new(),
        concessions: Vec::new(),
    };
    meetings(&competition).remove(0)
}

proptest! {
    #[test]
    fn a_fixture_is_the_same_seen_from_the_other_side_and_its_points_have_one_sum(
        cards in prop::array::uniform4(any_card()),
        terms in any_terms(),
        absent in any_absence(),
    ) {
        let (seen, other) = (met(1, &terms, absent, &cards), met(4, &terms, absent, &cards));
        prop_assert_eq!(seen.state, FixtureState::Played);
        let (points, mirrored) = (seen.points.unwrap(), other.points.unwrap());
        prop_assert_eq!((points.a, points.b), (mirrored.b, mirrored.a));
        let at_stake = terms.points;
        // Three holes have no nines.
        let sum = (at_stake.per_hole.0 * whole(3) + at_stake.per_match.0) * whole(2) + at_stake.per_total.0;
        prop_assert_eq!(points.a + points.b, sum);
    }

    #[test]
    fn the_table_does_not_depend_on_the_order_of_what_is_known(
        order in Just((0..12_usize).collect::<Vec<_>>()).prop_shuffle(),
        best in prop::option::of(1..6_usize),
    ) {
        let (mut story, terms) = (Story::told(WithdrawnResults::Stand), two_matches());
        let counting = Counting { best, drop_worst: 0 };
        let ties = [LevelBy::HeadToHead, LevelBy::Won];
        let table_terms = TableTerms { meeting: &terms, counting, minimum: 0, ties: &ties, weights: &HashMap::new() };
        let events: Vec<EventId> = (1..=6).map(event_id).collect();
        let of = |story: &Story| lines(&match_table(table_terms, &[], &events, &story.meet(&terms, SINGLES), Beside::default()));
        let told = of(&story);
        story.fixtures = order.iter().map(|n| story.fixtures[*n].clone()).collect();
        prop_assert_eq!(of(&story), told);
    }
}

/// A void event settles no fixture, and no average rests on it: 42 would have needed 27 − 12 − 4 = 11 over par there. Without
/// any earlier total net par stands in, three holes of 4 against the opponent's 4, 4, 4.
#[test]
fn nothing_of_a_void_event_counts() {
    let average = BallTerms { absent: AbsentTerms::OwnAverage { last: 2 }, ..SINGLES };
    let single = Single { balls: average, ..Single::of("{}") };
    let later = Fixture { event_id: event_id(2), ..single.fixture.clone() };
    let seen = |is_void| {
        let bad = EventSeen { is_void, ..event(1, true, &[(11, "4,4,4"), (42, "9,9,9")]) };
        let competition = MatchCompetition {
            terms: &single.terms,
            balls: single.balls,
            teams: BTreeMap::new(),
            events: vec![bad, event(2, true, &[(11, "4,4,4")])],
            fixtures: vec![(FixtureId(Uuid::from_u128(1)), &single.fixture), (FixtureId(Uuid::from_u128(2)), &later)],
            kept: HashMap::new(),
            concessions: Vec::new(),
        };
        let seen = meetings(&competition);
        (seen[0].state, seen[0].points.is_some(), seen[1].winner())
    };
    assert_eq!(seen(false), (FixtureState::Played, true, Some(Side::A)));
    assert_eq!(seen(true), (FixtureState::Void, false, None));
}
