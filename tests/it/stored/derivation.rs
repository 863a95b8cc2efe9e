//! Whatever people do, in whatever order: what was kept up step by step is what follows from the raw facts afresh.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use crate::support::store::{self, TestStore};
use evenfield::domain::competition::table::StandingsRow;
use evenfield::domain::exact::Exact;
use evenfield::domain::facts::event::Void;
use evenfield::domain::facts::{
    CarriedDifferential, Competition, Course, Decided, Decision, Event, EventState, HandicapAct, HandicapPolicy, Nines,
    PlaysOff, Role, Round, Season,
};
use evenfield::domain::ids::{AccountId, CompetitionId, CourseId, EventId, LeagueId, MemberId, RoundId, SeasonId};
use evenfield::domain::rule::Rule;
use evenfield::domain::season::working::Given;
use evenfield::domain::units::{AllowancePct, Tenths};
use evenfield::league::access::IfMatch;
use evenfield::league::finding::rule::FindingRuling;
use evenfield::league::keys::RequestKey;
use evenfield::league::memory::season_figures::SeasonFigures;
use evenfield::league::round::correct::Correction;
use evenfield::league::round::request::HandIn;
use evenfield::league::round::rule::Ruling;
use evenfield::league::{Caller, Clock, Leagues, Refusal};
use evenfield::startup::open;
use evenfield::storage::accounts::{self, Account};
use evenfield::storage::row_hashes::wrote;
use evenfield::storage::{Scope, findings, journal, members};
use evenfield::wire::bundle::line::Line;
use proptest::prelude::*;
use serde_json::json;
use std::collections::HashMap;
use std::sync::Arc;
use uuid::Uuid;

const MEMBERS: usize = 4;
const EVENTS: usize = 5;
const TABLE: [i64; 3] = [10, 6, 3];

fn id(kind: u128, n: usize) -> Uuid {
    Uuid::from_u128(0x0198_0000_0000_7000_8000_0000_0000_0000 + (kind << 32) + n as u128)
}

/// The competitions beside the main one: the same cards count in each of them.
fn others() -> Vec<serde_json::Value> {
    vec![
        json!({ "name": "Skins", "meeting": { "kind": "hole" } }),
        json!({ "name": "Par", "score": { "kind": "par_bogey" }, "counting": { "best": 2, "drop_worst": 1 } }),
        json!({
            "name": "Table", "score": { "kind": "points", "table": { "-1": 5, "0": 2, "1": -1 } }, "basis": "gross",
            "award": { "kind": "by_place", "table": [3, 1.5], "beyond": 0.5 }, "ties": ["countback"],
        }),
        json!({ "name": "Quota", "score": { "kind": "quota" }, "field": { "flights": ["A"] } }),
        json!({ "name": "All", "meeting": { "kind": "sum", "of": [id(9, 0), id(9, 1), id(9, 4)] } }),
        json!({
            "name": "Chosen", "award": { "kind": "by_place", "table": [4, 1] },
            "events": [{ "event_ids": [id(6, 0)], "weight": 1.5 }, { "event_ids": [id(6, 4), id(6, 2)], "take": "best" }],
        }),
    ]
}

/// A league with flights by index, 18 holes and nine, a player who brought differentials along, all events open.
fn base() -> Vec<Line> {
    let holes: Vec<_> = (1..=18).map(|n| json!({ "number": n, "par": 3 + n % 3, "stroke_index": n })).collect();
    let league = id(1, 0);
    let mut lines = vec![json!({ "kind": "league", "id": league, "name": "L", "time_zone": "Pacific/Auckland" })];
    for n in 0..MEMBERS {
        let role = if n == 0 { "organizer" } else { "player" };
        lines.push(json!({
            "kind": "member", "id": id(2, n), "league_id": league, "display_name": format!("P{n}"), "role": role,
            "starting_handicap": if n == 1 { json!(20.0) } else { json!(null) },
        }));
    }
    for n in 0..2 {
        lines.push(json!({
            "kind": "setup", "id": id(8, n), "league_id": league, "label": format!("Bay {n}"), "sensor": "camera",
            "shared": true, "softening_radius_ft": null, "notes": "",
        }));
    }
    lines.push(json!({ "kind": "course", "id": id(3, 0), "league_id": league, "name": "C", "tees": [{
        "id": id(4, 0), "name": "T", "course_rating": 71.3, "slope_rating": 127, "holes": holes,
        "nines": [{ "first_hole": 10, "course_rating": 35.9, "slope_rating": 124 }],
    }] }));
    lines.push(json!({
        "kind": "season", "id": id(5, 0), "league_id": league, "name": "S", "starts_on": "2027-01-01",
        "ends_on": "2027-12-31",
        "flights": [{ "name": "A", "handicap_max": 12.0 }, { "name": "B", "handicap_max": null }],
    }));
    for n in 0..EVENTS {
        let nine = n % 2 == 1;
        lines.push(json!({
            "kind": "event", "id": id(6, n), "season_id": id(5, 0), "name": "E", "tee_id": id(4, 0), "stimp_ft": 10,
            "opens_at": format!("2027-01-{:02}T1{n}:00:00Z", 1 + 7 * (n / 2)), "closes_at": "2027-12-01T00:00:00Z",
            "holes": if nine { 9 } else { 18 }, "first_hole": if nine { 10 } else { 1 }, "state": "open",
        }));
    }
    let main = json!({
        "name": "S", "allowance_pct": 95, "award": { "kind": "by_place", "table": TABLE },
        "counting": { "best": 3, "minimum": 1 }, "ties": ["countback", "firsts", "best_values"],
        "field": { "flights": ["A", "B"] },
    });
    for (n, mut terms) in std::iter::once(main).chain(others()).enumerate() {
        terms["kind"] = json!("competition");
        terms["id"] = json!(id(9, n));
        terms["season_id"] = json!(id(5, 0));
        terms["position"] = json!(n + 1);
        lines.push(terms);
    }
    for n in 0..3 {
        lines.push(json!({
            "kind": "carried_differential", "id": id(7, n), "member_id": id(2, 2), "played_on": "2026-12-20",
            "differential": 9.5 + n as f64, "source": "an old sheet",
        }));
    }
    lines.iter().map(|line| Line::read(line.to_string().as_bytes()).unwrap()).collect()
}

#[derive(Clone, Debug)]
enum Act {
    HandIn {
        member: usize,
        event: usize,
        strokes: u8,
    },
    Correct {
        member: usize,
        event: usize,
        strokes: u8,
    },
    Withdraw {
        member: usize,
        event: usize,
    },
    Attest {
        member: usize,
        event: usize,
    },
    Propose {
        member: usize,
        event: usize,
        strokes: u8,
    },
    Accept {
        member: usize,
        event: usize,
    },
    Close {
        event: usize,
    },
    Rule {
        member: usize,
        event: usize,
        decision: Decision,
        strokes: u8,
    },
    Bring {
        member: usize,
        tenths: i32,
    },
    RuleFinding {
        nth: usize,
        decision: Decision,
    },
    Rerate {
        tenths: i32,
    },
    Allow {
        percent: i64,
    },
    Finish {
        event: usize,
    },
    /// Makes an event void, with cards that count for the index or not, or lets it count again.
    Void {
        event: usize,
        handicap: Option<bool>,
    },
    /// Decides about a player's index: 0 adjusts, 1 freezes, 2 caps, 3 undoes the first such act.
    Decide {
        member: usize,
        what: usize,
        tenths: i32,
        day: i8,
    },
    /// Changes what the season plays off.
    PlayOff {
        policy: HandicapPolicy,
        frozen: Option<usize>,
    },
}

fn act() -> impl Strategy<Value = Act> {
    let (member, event, strokes) = (0..MEMBERS, 0..EVENTS, 0..30_u8);
    let card = || (0..MEMBERS, 0..EVENTS, 0..30_u8);
    prop_oneof![
        8 => card().prop_map(|(member, event, strokes)| Act::HandIn { member, event, strokes }),
        3 => (member.clone(), event.clone(), strokes).prop_map(|(member, event, strokes)| Act::Correct { member, event, strokes }),
        2 => (member.clone(), event.clone()).prop_map(|(member, event)| Act::Withdraw { member, event }),
        1 => (member, event.clone()).prop_map(|(member, event)| Act::Attest { member, event }),
        1 => (650..780).prop_map(|tenths| Act::Rerate { tenths }),
        3 => card().prop_map(|(member, event, strokes)| Act::Propose { member, event, strokes }),
        3 => (0..MEMBERS, 0..EVENTS).prop_map(|(member, event)| Act::Accept { member, event }),
        1 => (0..EVENTS).prop_map(|event| Act::Close { event }),
        5 => (card(), prop_oneof![Just(Decision::Correct), Just(Decision::ExcludeRound), Just(Decision::Reinstate)])
            .prop_map(|((member, event, strokes), decision)| Act::Rule { member, event, decision, strokes }),
        3 => (0..8_usize, prop_oneof![
                Just(Decision::NoAction), Just(Decision::ExcludePutts), Just(Decision::ExcludeRound), Just(Decision::Reinstate),
            ])
            .prop_map(|(nth, decision)| Act::RuleFinding { nth, decision }),
        1 => (0..MEMBERS, -20..300).prop_map(|(member, tenths)| Act::Bring { member, tenths }),
        1 => (0_i64..=100).prop_map(|percent| Act::Allow { percent }),
        1 => event.prop_map(|event| Act::Finish { event }),
        2 => (0..EVENTS, any::<Option<bool>>()).prop_map(|(event, handicap)| Act::Void { event, handicap }),
        2 => (1..MEMBERS, 0..4_usize, -20..300_i32, 1..16_i8)
            .prop_map(|(member, what, tenths, day)| Act::Decide { member, what, tenths, day }),
        2 => (policy(), proptest::option::of(0..EVENTS)).prop_map(|(policy, frozen)| Act::PlayOff { policy, frozen }),
    ]
}

fn policy() -> impl Strategy<Value = HandicapPolicy> {
    let average = (1..9_u32, 1..9_u32, 50..120_u32);
    let average = average.prop_map(|(a, b, pct)| PlaysOff::Average { last: a.max(b), best: a.min(b), pct });
    let plays_off = prop_oneof![Just(PlaysOff::Computed {}), Just(PlaysOff::Declared {}), average];
    let nines = prop_oneof![Just(Nines::Pair), Just(Nines::Double)];
    (plays_off, proptest::option::of(0..30), nines).prop_map(|(plays_off, limit, nines)| HandicapPolicy {
        plays_off,
        frozen_from: None,
        limit,
        nines,
    })
}

fn card(member: usize, event: usize, strokes: u8) -> Round {
    let first = if event % 2 == 1 { 10 } else { 1 };
    let turn = usize::from(strokes);
    let holes: Vec<_> = (first..=18)
        .map(|n| {
            let strokes = 3 + (usize::from(strokes) * 7 + n * 5 + member) % 5 + usize::from(strokes) / 10;
            // Every third card comes from a bay that plays short lines at an eighth, so that findings open.
            let line = [0.9, -1.4, 0.6, -0.8, 1.7][(n + turn) % 5];
            let (distance, soft) = (4.0 + 1.9 * (n - 1) as f64, turn % 3 == 0);
            let played = if soft && distance <= 20.0 { (line * 1.25_f64).round() / 10.0 } else { line };
            json!({ "number": n, "strokes": strokes, "putts": [
                { "distance_ft": distance, "start_line_deg": line, "played_line_deg": played,
                  "ball_speed_mph": 3.0 + distance / 10.0, "result": "missed" },
                { "distance_ft": 2.5, "result": "holed" },
            ] })
        })
        .collect();
    let setup = [Some(id(8, 0)), Some(id(8, 1)), None][turn % 3];
    serde_json::from_value(json!({
        "client_round_id": Uuid::new_v4(), "member_id": id(2, member), "played_on": "2027-01-14", "setup_id": setup, "holes": holes,
    }))
    .unwrap()
}

struct World {
    leagues: Leagues,
    callers: Vec<Caller>,
    rounds: HashMap<(usize, usize), (RoundId, Round)>,
    _store: TestStore,
}

/// A moment after the events have opened: a card is of a day that has come.
fn clock() -> Clock {
    Arc::new(|| "2027-02-01T12:00:00Z".parse().unwrap())
}

impl World {
    async fn new() -> Self {
        let store = TestStore::new();
        let leagues = open(&store.store, clock()).await.unwrap();
        let mut import = leagues.import().await.unwrap();
        for line in base() {
            import.add(&line).await.unwrap();
        }
        import.finish().await.unwrap();
        let mut callers = Vec::new();
        for n in 0..MEMBERS {
            let (account, now) = (AccountId(Uuid::new_v4()), leagues.now());
            callers.push(Caller { account, session: Uuid::new_v4(), browser_since: None });
            let role = if n == 0 { Role::Organizer } else { Role::Player };
            let claim = leagues.writer.change(MemberId(id(2, n)), move |conn| {
                Box::pin(async move {
                    let person = Account {
                        id: account,
                        email: format!("{account}@demo.example"),
                        password_hash: String::new(),
                        display_name: "P".into(),
                    };
                    accounts::insert(conn, &person, now).await?;
                    let stored = members::get(conn, MemberId(id(2, n))).await?.unwrap();
                    members::claim(conn, stored.league, stored.id, account, role).await?;
                    let (id, rows) = (stored.id.0, [wrote("members", stored.id)]);
                    let act =
                        journal::Act { by: Some(account), act: "join", kind: "member", id, content: &[], rows: &rows };
                    journal::append(conn, stored.league, act, stored.received_at).await?;
                    evenfield::league::memory::books::mark(conn, stored.league).await
                })
            });
            claim.await.unwrap();
        }
        Self { leagues, callers, rounds: HashMap::new(), _store: store }
    }

    fn key(&self, member: usize) -> RequestKey {
        RequestKey {
            caller: self.callers[member],
            operation: "test".into(),
            key: Some(Uuid::new_v4()),
            body_hash: [0; 32],
            now: self.leagues.now(),
        }
    }

    /// Adds every result up again from its working, and compares it with what the round and the board show.
    async fn add_up(&self) {
        let reader = self.callers[0];
        for (event, n) in (0..EVENTS).flat_map(|event| (0..=others().len()).map(move |n| (event, n))) {
            let competition = Some(CompetitionId(id(9, n)));
            let asked = self.leagues.board(reader, EventId(id(6, event)), competition).await;
            if n == others().len() && event % 2 == 1 {
                assert!(matches!(asked, Err(Refusal::Faults(_))), "the last competition counts the even events alone");
                continue;
            }
            let board = asked.unwrap();
            for row in board.items.into_cards() {
                let of_row = |(of, _): &(&(usize, usize), &(RoundId, Round))| {
                    of.1 == event && MemberId(id(2, of.0)) == row.member_id
                };
                let Some((_, (round, _))) = self.rounds.iter().find(of_row) else { continue };
                let working = self.leagues.working(reader, *round, competition).await.unwrap();
                let results = crate::support::arithmetic::add_up(&working);
                let shown = |name| results.get(name).cloned().unwrap_or(Given::Nothing);
                assert_eq!(shown("gross"), row.gross.into());
                assert_eq!(shown("net"), row.net.into());
                assert_eq!(shown("value"), row.value.map(|value| value.0).into());
                // Skins and sums have places by their values, and no score of a card.
                if row.score.is_some() {
                    assert_eq!(shown("score"), row.score.map(|score| score.0).into());
                    assert_eq!(shown("place"), row.position.map(|place| place as i32).into());
                }
            }
        }
    }

    async fn hand_in(&mut self, member: usize, event: usize, round: Round) -> Result<(), Refusal> {
        let key = self.key(member);
        let hand_in = HandIn {
            event: EventId(id(6, event)),
            season: None,
            round: round.clone(),
            names_member: true,
            confirms_dates: true,
            session: None,
        };
        let reply = self.leagues.hand_in(key, hand_in).await?;
        let answer: serde_json::Value = serde_json::from_str(&reply.body).unwrap();
        let stored = RoundId(answer["id"].as_str().unwrap().parse().unwrap());
        self.rounds.insert((member, event), (stored, round));
        Ok(())
    }

    /// Does something; a refusal is one of the outcomes that the rules allow.
    async fn act(&mut self, act: Act) -> Result<(), Refusal> {
        let organizer = self.callers[0];
        let known = |world: &Self, member, event| world.rounds.get(&(member, event)).cloned();
        match act {
            Act::HandIn { member, event, strokes } => self.hand_in(member, event, card(member, event, strokes)).await,
            Act::Correct { member, event, strokes } => {
                let Some((stored, before)) = known(self, member, event) else { return Ok(()) };
                let round = Round { client_round_id: before.client_round_id, ..card(member, event, strokes) };
                let caller = self.callers[member];
                let correction =
                    Correction { round: round.clone(), names_member: true, confirms_dates: true, reason: None };
                self.leagues.correct_round(caller, stored, IfMatch::Any, correction).await?;
                self.rounds.insert((member, event), (stored, round));
                Ok(())
            }
            Act::Withdraw { member, event } => {
                let Some((stored, _)) = known(self, member, event) else { return Ok(()) };
                self.leagues.withdraw_round(self.callers[member], stored, IfMatch::Any, None).await?;
                self.rounds.remove(&(member, event));
                Ok(())
            }
            Act::Attest { member, event } => {
                let Some((stored, _)) = known(self, member, event) else { return Ok(()) };
                self.leagues.attest_round(self.callers[(member + 1) % MEMBERS], stored).await.map(|_| ())
            }
            Act::Propose { member, event, strokes } => {
                let round = card(member, event, strokes);
                let sender = (member + 1) % MEMBERS;
                let hand_in = HandIn {
                    event: EventId(id(6, event)),
                    season: None,
                    round: round.clone(),
                    names_member: true,
                    confirms_dates: true,
                    session: None,
                };
                let reply = self.leagues.hand_in(self.key(sender), hand_in).await?;
                let answer: serde_json::Value = serde_json::from_str(&reply.body).unwrap();
                let stored = RoundId(answer["id"].as_str().unwrap().parse().unwrap());
                self.rounds.insert((member, event), (stored, round));
                Ok(())
            }
            Act::Accept { member, event } => {
                let Some((stored, _)) = known(self, member, event) else { return Ok(()) };
                self.leagues.accept_round(organizer, stored).await.map(|_| ())
            }
            Act::Void { event, handicap } => {
                let patched = move |before: &str| {
                    let mut event: Event = serde_json::from_str(before).unwrap();
                    event.void = handicap.map(|handicap| Void { reason: "no power".into(), handicap });
                    Ok(event)
                };
                self.leagues.change_event(organizer, EventId(id(6, event)), IfMatch::Any, patched).await.map(|_| ())
            }
            Act::Close { event } => {
                let patched = |before: &str| {
                    let mut event: Event = serde_json::from_str(before).unwrap();
                    event.state = Some(EventState::Closed);
                    Ok(event)
                };
                self.leagues.change_event(organizer, EventId(id(6, event)), IfMatch::Any, patched).await.map(|_| ())
            }
            Act::Rule { member, event, decision, strokes } => {
                let Some((stored, before)) = known(self, member, event) else { return Ok(()) };
                let mended = Round { client_round_id: before.client_round_id, ..card(member, event, strokes) };
                let round = (decision == Decision::Correct).then_some(mended);
                let ruling = Ruling { decision, round, reason: "a try".into() };
                let table = self.table().await;
                let shown = self.leagues.preview_ruling(self.key(0), stored, ruling.clone()).await;
                assert_eq!(self.table().await, table, "looking changes nothing");
                let given = self.leagues.rule_on_round(self.key(0), stored, ruling).await;
                assert_eq!(shown.is_ok(), given.is_ok());
                given?;
                assert_eq!(self.table().await, shown?.effect.standings, "what was shown is what follows");
                Ok(())
            }
            Act::RuleFinding { nth, decision } => {
                let all = self.leagues.findings_of(organizer, LeagueId(id(1, 0)), Uuid::nil(), 100).await?;
                let Some(finding) = all.get(nth % all.len().max(1)) else { return Ok(()) };
                for (member, caller) in self.callers.iter().enumerate() {
                    // Whoever is not concerned is refused.
                    let said = self.leagues.state(self.key(member), finding.report.id, "it came that way".into()).await;
                    assert!(
                        said.is_ok() || matches!(said, Err(Refusal::NotFound | Refusal::Forbidden(_))),
                        "{caller:?}"
                    );
                }
                let rounds: Vec<RoundId> = match decision {
                    Decision::NoAction => Vec::new(),
                    _ => finding.report.rounds.first().copied().into_iter().collect(),
                };
                let ruling = FindingRuling { decision, rounds, reason: "a try".into() };
                self.leagues.rule_on_finding(self.key(0), finding.report.id, ruling).await.map(|_| ())
            }
            Act::Bring { member, tenths } => {
                let carried = CarriedDifferential {
                    played_on: "2027-01-05".parse().unwrap(),
                    differential: Tenths(tenths),
                    source: "an old sheet".into(),
                };
                let member = MemberId(id(2, member));
                self.leagues.carry_differential(self.key(0), member, carried).await.map(|_| ())
            }
            Act::Rerate { tenths } => {
                let courses = &evenfield::storage::documents::COURSES;
                let mut course = self.leagues.document::<Course>(organizer, courses, id(3, 0)).await?.body;
                course.tees[0].course_rating = Tenths(tenths);
                self.leagues.replace_course(organizer, CourseId(id(3, 0)), IfMatch::Any, course).await.map(|_| ())
            }
            Act::Allow { percent } => {
                let patched = move |before: &str| {
                    let mut terms: Competition = serde_json::from_str(before).unwrap();
                    terms.allowance_pct = Some(AllowancePct::new(percent).unwrap());
                    Ok(terms)
                };
                let main = CompetitionId(id(9, 0));
                self.leagues.change_competition(organizer, main, IfMatch::Any, patched).await.map(|_| ())
            }
            Act::Decide { member, what, tenths, day } => {
                let member = MemberId(id(2, member));
                let (value, from) = (Tenths(tenths), jiff::civil::date(2027, 1, day));
                let decided = match what {
                    0 => Decided::Adjust { value, from },
                    1 => Decided::Freeze { from, until: None },
                    2 => Decided::Cap { value, from, until: from.tomorrow().ok() },
                    _ => {
                        let acts = self.leagues.handicap_acts(organizer, member).await?;
                        let Some(first) = acts.first() else { return Ok(()) };
                        Decided::Undo { undoes: first.id }
                    }
                };
                let act = HandicapAct { decided, reason: "a try".into() };
                self.leagues.decide_handicap(self.key(0), member, act).await.map(|_| ())
            }
            Act::PlayOff { policy, frozen } => {
                let frozen_from = frozen.map(|event| EventId(id(6, event)));
                let patched = move |before: &str| {
                    let mut season: Season = serde_json::from_str(before).unwrap();
                    season.handicap = HandicapPolicy { frozen_from, ..policy };
                    Ok(season)
                };
                self.leagues.change_season(organizer, SeasonId(id(5, 0)), IfMatch::Any, patched).await.map(|_| ())
            }
            Act::Finish { event } => {
                let patched = |before: &str| {
                    let mut event: Event = serde_json::from_str(before).unwrap();
                    event.state = Some(EventState::Final);
                    Ok(event)
                };
                self.leagues.change_event(organizer, EventId(id(6, event)), IfMatch::Any, patched).await.map(|_| ())
            }
        }
    }

    /// The main competition's table.
    async fn table(&self) -> Vec<StandingsRow> {
        self.tables(&self.leagues).await.swap_remove(0)
    }

    /// Every competition's table.
    async fn tables(&self, leagues: &Leagues) -> Vec<Vec<StandingsRow>> {
        let mut tables = Vec::new();
        for n in 0..=others().len() {
            let competition = Some(CompetitionId(id(9, n)));
            let season = SeasonId(id(5, 0));
            let table = leagues
                .standings(self.callers[0], season, competition, None, None)
                .await
                .unwrap()
                .0
                .items
                .cards()
                .to_vec();
            tables.push(table);
        }
        tables
    }

    /// The tables as a server makes them that remembers nothing.
    async fn tables_read_afresh(&self) -> Vec<Vec<StandingsRow>> {
        let forgetful = Leagues { season_figures: SeasonFigures::default(), ..self.leagues.clone() };
        self.tables(&forgetful).await
    }
}

fn in_async<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap().block_on(work)
}

/// How many random histories are tried. What follows from one is the same code on both databases; on PostgreSQL fewer
/// show that its statements are right.
fn histories() -> u32 {
    if store::server().is_some() { 6 } else { 24 }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: histories(), ..ProptestConfig::default() })]

    #[test]
    fn step_by_step_is_what_follows_afresh(acts in prop::collection::vec(act(), 1..40)) {
        in_async(async {
            let mut world = World::new().await;
            for act in acts {
                match world.act(act.clone()).await {
                    Ok(()) | Err(Refusal::Conflict { .. } | Refusal::Concerned(_) | Refusal::Faults(_)) => {}
                    // Nobody lets an own late card in.
                    Err(Refusal::Forbidden(_)) if matches!(act, Act::Accept { member: 0, .. }) => {}
                    Err(other) => panic!("{act:?}: {other:?}"),
                }
                assert_eq!(world.tables(&world.leagues).await, world.tables_read_afresh().await, "{act:?}");
            }
            let found = world.leagues.verify().await.unwrap();
            assert_eq!(found.differences, Vec::<String>::new());
            world.add_up().await;
            for row in world.table().await {
                let counted = row.results.iter().filter(|cell| cell.counted);
                let sum: Exact = counted.filter_map(|cell| cell.value).map(|value| value.0).sum();
                assert_eq!(row.total.map(|total| total.0).unwrap_or_default(), sum, "a total is what counts");
            }
        });
    }

    #[test]
    fn the_table_does_not_depend_on_the_order_of_hand_ins(
        cards in prop::collection::btree_map((0..MEMBERS, 0..EVENTS), 0..30_u8, 1..20),
        order in Just(()).prop_perturb(|(), mut rng| rng.random::<u64>()),
    ) {
        in_async(async {
            let cards: Vec<_> = cards.into_iter().map(|((m, e), strokes)| (m, e, card(m, e, strokes))).collect();
            let mut shuffled = cards.clone();
            shuffled.sort_by_key(|(m, e, _)| (order.rotate_left((m * 7 + e * 13) as u32), *m, *e));
            let (mut first, mut second) = (World::new().await, World::new().await);
            for (member, event, round) in cards {
                first.hand_in(member, event, round).await.unwrap();
            }
            for (member, event, round) in shuffled {
                second.hand_in(member, event, round).await.unwrap();
            }
            let table = first.table().await;
            assert_eq!(first.tables(&first.leagues).await, second.tables(&second.leagues).await);
            // Shared places hand out no more and no less than the table of each flight.
            for n in 0..EVENTS {
                for flight in ["A", "B"] {
                    let of_flight = table.iter().filter(|row| row.flight.as_deref() == Some(flight));
                    let values: Vec<Exact> = of_flight
                        .flat_map(|row| &row.results)
                        .filter(|cell| cell.event_id == Some(EventId(id(6, n))))
                        .filter_map(|cell| cell.value)
                        .map(|value| value.0)
                        .collect();
                    let due: i64 = TABLE.iter().take(values.len()).sum();
                    assert_eq!(values.into_iter().sum::<Exact>(), Exact::from_integer(due.into()));
                }
            }
        });
    }
}

/// What verify is for: a raw fact, a derived figure or a journal entry that somebody changed behind the server's back.
#[test]
fn tampering_is_found() {
    let tampered = |sql: &'static str| {
        in_async(async move {
            let mut world = World::new().await;
            world.hand_in(1, 0, card(1, 0, 5)).await.unwrap();
            world.hand_in(2, 0, card(2, 0, 7)).await.unwrap();
            assert!(world.leagues.verify().await.unwrap().differences.is_empty());
            let change = world
                .leagues
                .writer
                .change(Scope::Nothing, move |conn| Box::pin(async move { conn.run(sql, vec![]).await }));
            change.await.map(|_| ()).map_err(|error| error.to_string())?;
            Ok::<_, String>(world.leagues.verify().await.unwrap().differences.len())
        })
    };
    assert!(tampered("UPDATE holes SET strokes = strokes - 1 WHERE number = 1").unwrap() >= 2);
    assert!(tampered("UPDATE putts SET distance_ft = 30 WHERE hole = 3 AND number = 2").unwrap() >= 3);
    let anothers = "UPDATE results SET figures = (SELECT o.figures FROM results o ORDER BY o.figures LIMIT 1)";
    assert_eq!(tampered(anothers), Ok(1));
    assert_eq!(tampered("UPDATE results SET figures = NULL"), Ok(2));
    let unreadable = tampered("UPDATE results SET figures = putting").unwrap();
    assert!(unreadable >= 2, "a row that cannot be read is told of too");
    assert!(tampered("UPDATE journal SET entry = replace(entry, 'hand_in', 'handed')").is_err());
    assert!(tampered("DELETE FROM journal").is_err());
}

/// What opened, where and at which odds: what two worlds of the same cards must have alike.
async fn opened(leagues: &Leagues, reader: Caller) -> Vec<(Uuid, EventId, u64)> {
    let shown = leagues.findings_of(reader, LeagueId(id(1, 0)), Uuid::nil(), 100).await.unwrap();
    let mut conn = leagues.database.reader().await.unwrap();
    let all = findings::in_order(&mut conn, LeagueId(id(1, 0))).await.unwrap();
    assert_eq!(shown.len(), all.len());
    all.iter().map(|found| (found.opened.id, found.opened.event, found.opened.factor_log10.to_bits())).collect()
}

/// Evidence may wait: weighed after each round, or all at once after a restart, it opens the same findings.
#[test]
fn weighing_later_changes_nothing() {
    in_async(async {
        let (mut first, mut second) = (World::new().await, World::new().await);
        for event in 0..EVENTS {
            for member in 0..MEMBERS {
                let round = card(member, event, 3 * (member as u8 + 1));
                first.hand_in(member, event, round.clone()).await.unwrap();
                first.leagues.weighed(LeagueId(id(1, 0))).await.unwrap();
                second.hand_in(member, event, round).await.unwrap();
            }
        }
        assert_eq!(second.leagues.weighing.weights().rounds, 0, "nobody asked for evidence yet");
        let again = open(&second._store.store, clock()).await.unwrap();
        let due = opened(&first.leagues, first.callers[0]).await;
        assert!(!due.is_empty(), "softened lines open findings");
        assert_eq!(opened(&again, second.callers[0]).await, due);
        for leagues in [&first.leagues, &again] {
            assert_eq!(leagues.verify().await.unwrap().differences, Vec::<String>::new());
        }
    });
}

/// Rounds that come in at the same time share a commit: each is stored once, refused ones leave nothing, and what was
/// kept up is what follows afresh.
#[test]
fn rounds_that_come_in_together_are_stored_once_each() {
    in_async(async {
        let mut world = World::new().await;
        // The book is known from the first on.
        world.hand_in(0, 0, card(0, 0, 1)).await.unwrap();
        let mut sent = Vec::new();
        for event in 0..EVENTS {
            for member in 0..MEMBERS {
                let round = card(member, event, (7 * event + member) as u8);
                let key = world.key(member);
                // Each is sent twice under its key, and another card for the same event once.
                let other =
                    (world.key(member), Round { client_round_id: card(0, 0, 0).client_round_id, ..round.clone() });
                for (key, round) in [(key.clone(), round.clone()), (key, round), other] {
                    let leagues = world.leagues.clone();
                    let hand_in = HandIn {
                        event: EventId(id(6, event)),
                        season: None,
                        round,
                        names_member: true,
                        confirms_dates: true,
                        session: None,
                    };
                    sent.push(tokio::spawn(async move { leagues.hand_in(key, hand_in).await }));
                }
            }
        }
        let mut stored = std::collections::HashSet::new();
        for answer in sent {
            match answer.await.unwrap() {
                Ok(reply) => {
                    let answer: serde_json::Value = serde_json::from_str(&reply.body).unwrap();
                    stored.insert(answer["id"].to_string());
                }
                Err(Refusal::Conflict { rule: Rule::SecondRound, .. }) => {}
                Err(other) => panic!("{other:?}"),
            }
        }
        let rounds = |event| world.leagues.rounds_of_event(world.callers[0], EventId(id(6, event)), Uuid::nil(), 100);
        let mut count = 0;
        for event in 0..EVENTS {
            count += rounds(event).await.unwrap().len();
        }
        assert_eq!(count, MEMBERS * EVENTS);
        // The first was stored before the others, and answered to nobody here.
        assert_eq!(stored.len(), MEMBERS * EVENTS - 1);
        assert_eq!(world.leagues.verify().await.unwrap().differences, Vec::<String>::new());
    });
}
