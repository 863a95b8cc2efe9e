mod single;

use super::*;
use crate::competition::balls::Presence;
use crate::competition::match_table::{Beside, LevelBy, MatchRow, TableTerms, match_table};
use crate::competition::round_robin::{berger, twice};
use crate::competition::season_total::Counting;
use crate::competition::seats::MatchCard;
use crate::exact::{Value, to_text};
use crate::facts::{AbsentTerms, Adjustment, AdjustmentCounts, LinedUp, PlayingOrder, TeamMember, Withdrawal};
use crate::units::{HoleNumber, Par, StrokeIndex};
use jiff::civil::date;
use std::sync::LazyLock;
use uuid::Uuid;

/// Three holes of par 4; the first stroke falls on hole 1.
static HOLES: LazyLock<Vec<Hole>> = LazyLock::new(|| {
    let hole = |n: i64| Hole {
        number: HoleNumber::new(n).unwrap(),
        par: Par::new(4).unwrap(),
        stroke_index: StrokeIndex::new(n).unwrap(),
    };
    (1..=3).map(hole).collect()
});

fn member(n: u128) -> MemberId {
    MemberId(Uuid::from_u128(n))
}

fn team_id(n: u128) -> TeamId {
    TeamId(Uuid::from_u128(n))
}

fn event_id(n: usize) -> EventId {
    EventId(Uuid::from_u128(n as u128))
}

fn team(n: u128) -> Competitor {
    Competitor::Team { team_id: team_id(n) }
}

/// Players n1 have playing handicap 0, players n2 have 3, player 42 has 4, and 99, who is in no team, has 3.
fn handicap(n: u128) -> i32 {
    match n {
        42 => 4,
        99 => 3,
        n => [0, 0, 3][(n % 10) as usize],
    }
}

/// A card: `4,5,6` are strokes, `x` is a hole without a score, `.` one that is still to be played.
fn card(text: &str) -> MatchCard {
    let hole = |hole: &str| match hole {
        "x" => MatchHole::Unscored,
        "." => MatchHole::Open,
        strokes => MatchHole::Scored(strokes.parse().unwrap()),
    };
    MatchCard { holes: text.split(',').map(hole).collect(), is_out: false }
}

/// Everybody who may play; `cards` are the cards of the night, by player.
fn players(cards: &[(u128, &str)]) -> Players<'static> {
    let all = [11, 12, 21, 22, 31, 32, 41, 42, 99];
    let player = |n: u128| NightPlayer {
        playing_handicap: handicap(n),
        index: None,
        holes: &HOLES,
        card: cards.iter().find(|(player, _)| *player == n).map(|(_, text)| card(text)),
    };
    all.into_iter().map(|n| (member(n), player(n))).collect()
}

fn event(n: usize, is_final: bool, cards: &[(u128, &str)]) -> EventSeen<'static> {
    EventSeen {
        id: event_id(n),
        day: date(2027, 1, n as i8),
        is_final,
        is_void: false,
        holes: &HOLES,
        players: players(cards),
        line_ups: HashMap::new(),
    }
}

fn fixture(event: usize, a: Competitor, b: Option<Competitor>) -> Fixture {
    Fixture::new(event_id(event), Some(Contender::Named(a)), b.map(Contender::Named))
}

fn two_matches() -> MatchTerms {
    let points = r#"{"matches": 2, "points": {"per_match": 2, "per_total": 1}}"#;
    serde_json::from_str(points).unwrap()
}

const SINGLES: BallTerms = BallTerms { is_net: true, of: 1, counts: [1; 4], absent: AbsentTerms::Forfeit };

/// The season of four teams: its fixtures by the Berger table played twice, six events, and what happened in them.
struct Story {
    teams: Vec<(TeamId, Team)>,
    events: Vec<EventSeen<'static>>,
    fixtures: Vec<Fixture>,
    line_up: LineUp,
}

impl Story {
    fn told(withdrawn: WithdrawnResults) -> Self {
        let of = |n: u128| TeamMember { member_id: member(n), from: None, until: None };
        let teams = (1..=4).map(|n: u128| {
            let withdrawn = (n == 4).then_some(Withdrawal { from: date(2027, 1, 5), results: withdrawn });
            let members = vec![of(10 * n + 2), of(10 * n + 1)];
            (team_id(n), Team { name: format!("Team {n}"), captain: None, members, withdrawn })
        });
        let (three, four, five, six) = ("3,3,3", "4,4,4", "5,5,5", "6,6,6");
        let events = vec![
            event(
                1,
                true,
                &[(11, four), (41, five), (12, five), (42, "5,6,5"), (21, four), (31, four), (22, five), (32, "4,5,6")],
            ),
            event(2, true, &[(31, four), (11, "5,4,4"), (32, five), (99, "4,5,5")]),
            event(3, true, &[(41, four), (31, five), (32, five), (11, four), (21, five), (12, five), (22, six)]),
            event(
                4,
                true,
                &[(41, five), (11, five), (42, six), (12, six), (31, four), (21, five), (32, six), (22, five)],
            ),
            event(5, true, &[(21, four), (11, four), (22, five), (12, five), (31, three)]),
            event(6, true, &[(11, five), (31, four), (12, four), (32, five)]),
        ];
        let rounds = twice(&berger(4));
        let mut fixtures: Vec<Fixture> = (1..)
            .zip(&rounds)
            .flat_map(|(n, round)| round.iter().map(move |(a, b)| fixture(n, team(*a as u128), Some(team(*b as u128)))))
            .collect();
        // The fixture of teams 2 and 4 in event 2 is played in event 4 instead.
        let postponed = fixtures.iter_mut().find(|one| one.names(team(2)) && one.names(team(4))).unwrap();
        assert_eq!(postponed.event_id, event_id(2));
        postponed.event_id = event_id(4);
        // In event 2 player 99 plays for player 12.
        let named =
            |n, for_: Option<u128>| LinedUp { member_id: member(n), substitute_for: for_.map(member), absent: false };
        let line_up = LineUp { players: vec![named(99, Some(12)), named(11, None)], order: PlayingOrder::ByHandicap };
        Self { teams: teams.collect(), events, fixtures, line_up }
    }

    fn meet(&self, terms: &MatchTerms, balls: BallTerms) -> Vec<FixtureSeen> {
        let mut events = self.events.clone();
        events[1].line_ups.insert(team_id(1), &self.line_up);
        let number = |n: usize| FixtureId(Uuid::from_u128(n as u128));
        meetings(&MatchCompetition {
            terms,
            balls,
            teams: self.teams.iter().map(|(id, team)| (*id, team)).collect(),
            events,
            fixtures: self.fixtures.iter().enumerate().map(|(n, one)| (number(n), one)).collect(),
            kept: HashMap::new(),
            concessions: Vec::new(),
        })
    }
}

fn table(terms: &MatchTerms, ties: &[LevelBy], seen: &[FixtureSeen], adjustments: &[&Adjustment]) -> Vec<MatchRow> {
    let terms = TableTerms {
        meeting: terms,
        counting: Counting { best: None, drop_worst: 0 },
        minimum: 0,
        ties,
        weights: &HashMap::new(),
    };
    let events: Vec<EventId> = (1..=6).map(event_id).collect();
    match_table(
        terms,
        &(1..=4).map(team).collect::<Vec<_>>(),
        &events,
        seen,
        Beside { adjustments, ..Beside::default() },
    )
}

/// Position, team, fixtures (played, won, tied, lost), points for and against, total.
fn lines(rows: &[MatchRow]) -> Vec<String> {
    let line = |row: &MatchRow| {
        let Competitor::Team { team_id } = row.competitor else { unreachable!("teams compete") };
        let of = row.fixtures;
        let total = row.total.map_or("-".into(), to_text);
        let place =
            row.position.map_or("-".into(), |position| format!("{position}{}", if row.tied { "=" } else { "" }));
        format!(
            "{place} team {}: {} {} {} {}, {}:{}, {total}",
            team_id.0.as_u128(),
            of.played,
            of.won,
            of.tied,
            of.lost,
            to_text(row.points_for),
            to_text(row.points_against),
        )
    };
    rows.iter().map(line).collect()
}

/// Points of each fixture in its event, in the order of the schedule.
fn points(seen: &[FixtureSeen]) -> Vec<String> {
    let line = |seen: &FixtureSeen| {
        let points = seen.points.map_or("-".into(), |points| format!("{}:{}", to_text(points.a), to_text(points.b)));
        format!("{} {points}", seen.state.word())
    };
    seen.iter().map(line).collect()
}

#[test]
fn a_double_round_robin_of_four_teams_with_a_postponement_a_substitute_an_absence_and_a_withdrawal() {
    let (story, terms) = (Story::told(WithdrawnResults::Stand), two_matches());
    let seen = story.meet(&terms, SINGLES);
    let expect = [
        // Event 1, 1–4. 11 beats 41 by 2&1: 2. 12 meets 42, who has one stroke more, on hole 1: net 5,5,5 against 4,6,5,
        // tied: 1 each. Totals 12 + 15 = 27 against 15 + 15 = 30: 1 to team 1.
        "played 4:1",
        // 2–3. 21 and 31 tied; 22 with 5,5,5 and 32 with 4,5,6 tied. Totals 27 and 27.
        "played 2.5:2.5",
        // 2–4 is played in event 4. 21 and 41 tied: 1 each. 22 with 5,5,5 beats 42 with net 5,6,6 by 2 up: 2. Totals 30
        // against 15 + 17 = 32: 1.
        "played 4:1",
        // 3–1 in event 2. 31 beats 11 by 1 up. 32 loses to 99, who plays for 12, by 1 up. Totals 12 + 15 and 13 + 14.
        "played 2.5:2.5",
        // Event 3, 4–3. 41 beats 31: 2. 42 has no card: 2 to team 3; the total is split.
        "played 2.5:2.5",
        // 1–2: both matches and the total.
        "played 5:0",
        // Event 4, 4–1. 41 and 11 tied: 1 each. 42 with net 5,6,6 beats 12 with 6,6,6 by 1 up: 2. Totals 32 against 33: 1.
        "played 4:1",
        // 3–2. 31 beats 21, 22 beats 32; totals 12 + 18 and 15 + 15.
        "played 2.5:2.5",
        // Event 5, 3–4: team 4 has withdrawn. Both matches go to team 3, the total is split.
        "walk_over 4.5:0.5",
        // 2–1: all tied.
        "played 2.5:2.5",
        // Event 6, 4–2: as above.
        "walk_over 0.5:4.5",
        // 1–3. 31 beats 11, 12 beats 32; totals 15 + 12 and 12 + 15.
        "played 2.5:2.5",
    ];
    assert_eq!(points(&seen), expect);
    // Team 1: 4 + 2.5 + 5 + 1 + 2.5 + 2.5. Team 2: 2.5 + 4 + 0 + 2.5 + 2.5 + 4.5. Team 3: 2.5 five times, and 4.5. Team 4:
    // 1 + 1 + 2.5 + 4 + 0.5 + 0.5. Together 12 fixtures of 5.
    let expect = [
        "1 team 1: 6 2 3 1, 17.5:12.5, 17.5",
        "2 team 3: 6 1 5 0, 17:13, 17",
        "3 team 2: 6 2 3 1, 16:14, 16",
        "4 team 4: 6 1 1 4, 9.5:20.5, 9.5",
    ];
    assert_eq!(lines(&table(&terms, &[], &seen, &[])), expect);
}

#[test]
fn teams_that_are_level_are_split_by_their_fixtures_among_them_then_by_what_comes_next() {
    let story = Story::told(WithdrawnResults::Stand);
    let terms = MatchTerms { result: Some([2, 1, 0].map(|n: i32| Value(whole(n)))), ..two_matches() };
    let seen = story.meet(&terms, SINGLES);
    // 2 for a fixture won and 1 for a tied one: 2·2 + 3, 2·2 + 3, 2 + 5 and 2 + 1.
    // Among teams 1, 2 and 3: 1–2 gave 2:0 and 1:1, 1–3 and 2–3 gave 1:1 twice; team 1 has 5, team 3 has 4, team 2 has 3.
    let expect = [
        "1 team 1: 6 2 3 1, 17.5:12.5, 7",
        "2 team 3: 6 1 5 0, 17:13, 7",
        "3 team 2: 6 2 3 1, 16:14, 7",
        "4 team 4: 6 1 1 4, 9.5:20.5, 3",
    ];
    assert_eq!(lines(&table(&terms, &[LevelBy::HeadToHead, LevelBy::Won], &seen, &[])), expect);
    let places = |ties: &[LevelBy], seen: &[FixtureSeen]| -> Vec<String> {
        let words = |line: &String| line.split(':').next().unwrap().to_owned();
        lines(&table(&terms, ties, seen, &[])).iter().map(words).collect()
    };
    // Won: teams 1 and 2 have two, team 3 one; then the two met twice, with 3:1.
    let expect = ["1 team 1", "2 team 2", "3 team 3", "4 team 4"];
    assert_eq!(places(&[LevelBy::Won, LevelBy::HeadToHead], &seen), expect);
    let expect = ["1= team 1", "1= team 2", "3 team 3", "4 team 4"];
    assert_eq!(places(&[LevelBy::Won], &seen), expect);
    assert_eq!(places(&[LevelBy::Points], &seen), ["1 team 1", "2 team 3", "3 team 2", "4 team 4"]);
    // Without one of the fixtures of 2 and 3, which gave 1:1, teams 2 and 3 have 6 and met once, so they are split by the
    // fixtures won; without any comparison that holds they share.
    let fewer: Vec<FixtureSeen> =
        seen.iter().enumerate().filter(|(n, _)| *n != 1).map(|(_, one)| one.clone()).collect();
    assert_eq!(places(&[LevelBy::HeadToHead], &fewer), ["1 team 1", "2= team 2", "2= team 3", "4 team 4"]);
}

#[test]
fn of_a_team_that_withdrew_no_fixture_counts_if_the_organizer_says_so() {
    let (story, terms) = (Story::told(WithdrawnResults::Void), two_matches());
    let seen = story.meet(&terms, SINGLES);
    assert_eq!(seen.iter().filter(|one| one.state == FixtureState::Void).count(), 6);
    // Team 1: 2.5 + 5 + 2.5 + 2.5. Team 3: 2.5 four times. Team 2: 2.5 + 0 + 2.5 + 2.5.
    let expect = [
        "1 team 1: 4 1 3 0, 12.5:7.5, 12.5",
        "2 team 3: 4 0 4 0, 10:10, 10",
        "3 team 2: 4 0 3 1, 7.5:12.5, 7.5",
        "- team 4: 0 0 0 0, 0:0, -",
    ];
    assert_eq!(lines(&table(&terms, &[], &seen, &[])), expect);
}

#[test]
fn a_stand_in_plays_for_an_absent_player_and_then_all_have_their_full_strokes() {
    let story = Story::told(WithdrawnResults::Stand);
    let of = |absent| {
        let seen = story.meet(&two_matches(), BallTerms { absent, ..SINGLES });
        assert_eq!(seen[4].matches[1].0.a[0].presence, Presence::StandIn);
        points(&seen)[4].clone()
    };
    // Event 3: 41 beats 31 by 2&1: 2 to team 4. 32 with 5,5,5 off 3 has net 4,4,4 for its full strokes.
    // Net par plus 1 is 5,5,5: 2 to team 3. Totals 12 + 15 and 15 + 12.
    assert_eq!(of(AbsentTerms::NetParPlus { plus: Value(whole(1)) }), "played 2.5:2.5");
    // Against net par the second match is tied: 1 each. Totals 12 + 12 = 24 and 27.
    assert_eq!(of(AbsentTerms::OpponentToPar), "played 4:1");
    // 42 had 16 off 4 in event 1, net 12, and no card in event 2: level par.
    assert_eq!(of(AbsentTerms::OwnAverage { last: 2 }), "played 4:1");
}

#[test]
fn adjustments_count_after_or_before_and_with_their_event() {
    let (story, terms) = (Story::told(WithdrawnResults::Stand), two_matches());
    let seen = story.meet(&terms, SINGLES);
    let adjustment = |n, points: i32, counts, event: Option<usize>| Adjustment {
        competitor: team(n),
        points: Value(whole(points)),
        reason: "a late line-up".into(),
        counts,
        event_id: event.map(event_id),
    };
    let after = adjustment(1, -2, AdjustmentCounts::After, None);
    let before = adjustment(3, 3, AdjustmentCounts::Before, Some(6));
    let elsewhere = adjustment(4, 50, AdjustmentCounts::After, Some(7));
    let counting = Counting { best: Some(2), drop_worst: 0 };
    let terms = TableTerms { meeting: &terms, counting, minimum: 0, ties: &[], weights: &HashMap::new() };
    let of = |last: usize| {
        let events: Vec<EventId> = (1..=last).map(event_id).collect();
        lines(&match_table(
            terms,
            &[],
            &events,
            &seen,
            Beside { adjustments: &[&after, &before, &elsewhere], ..Beside::default() },
        ))
    };
    // The best two: team 1 has 5 + 4 − 2; team 2 4 + 2.5 in one event and 4.5; team 3 4.5 and the 3; team 4 4 + 1 in one
    // event and 2.5.
    let expect = [
        "1 team 2: 6 2 3 1, 16:14, 11",
        "2= team 3: 6 1 5 0, 17:13, 7.5",
        "2= team 4: 6 1 1 4, 9.5:20.5, 7.5",
        "4 team 1: 6 2 3 1, 17.5:12.5, 7",
    ];
    assert_eq!(of(6), expect);
    // After event 1: 2 to team 1, and the others have what they had.
    let expect = [
        "1= team 2: 1 0 1 0, 2.5:2.5, 2.5",
        "1= team 3: 1 0 1 0, 2.5:2.5, 2.5",
        "3 team 1: 1 1 0 0, 4:1, 2",
        "4 team 4: 1 0 0 1, 1:4, 1",
    ];
    assert_eq!(of(1), expect);
}
