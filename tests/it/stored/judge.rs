//! One history of cards comes in by every way there is: one by one, many at once, as lines of a batch, in a bundle. Answers
//! and rows are the same, whichever way it was.

use super::journal_bundle::{bundle, clean, import};
use crate::support::harness::{Api, Night, Person, Seen, card, id, merged, own, par, round, softened, text};
use evenfield::domain::ids::LeagueId;
use evenfield::domain::season::RoundState;
use evenfield::storage::{Scope, StorageError, journal, results, rounds};
use futures_util::future::join_all;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;

/// Who sends cards: an organizer, a scorer and two players.
const PEOPLE: [&str; 4] = ["Olga", "Sam", "Ann", "Ben"];
const OLGA: usize = 0;
const SAM: usize = 1;
const ANN: usize = 2;
const BEN: usize = 3;

/// A card on its way.
#[derive(Clone)]
struct Sent {
    by: usize,
    event: String,
    card: Value,
    key: String,
}

/// What is to be handed in. Cards of one stage do not depend on each other.
struct History {
    league: String,
    season: String,
    /// The league before the first card.
    bundle: String,
    members: [String; 4],
    /// The event that is made final before the last stage.
    settled: String,
    stages: Vec<Vec<Sent>>,
}

/// How cards are handed in.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    OneByOne,
    /// All cards of a stage wait for the store at the same time.
    AtOnce,
    /// What the organizer sends comes as a batch.
    Batch,
}

fn sent(by: usize, event: &str, card: Value) -> Sent {
    Sent { by, event: event.to_owned(), card, key: id() }
}

async fn history() -> History {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let mut guests = Vec::new();
    for n in 0..6 {
        let guest = json!({ "display_name": format!("Guest {n}"), "starting_handicap": 4.0 + n as f64 });
        let path = format!("/leagues/{}/members", night.league);
        guests.push(api.post(path, &guest).by(&cast.olga).key(&id()).expect(201).await.id());
    }
    let closed = json!({ "name": "Closed", "closes_at": "2027-01-14T18:59:00Z" });
    let closed = api.event(&cast, &night, closed).await;
    let settled = json!({ "name": "Settled", "closes_at": "2027-01-14T18:59:00Z" });
    let settled = api.event(&cast, &night, settled).await;
    let early = json!({ "name": "Early", "closes_at": "2027-01-14T19:05:00Z" });
    let early = api.event(&cast, &night, early).await;
    let second = api.event(&cast, &night, json!({ "name": "Second" })).await;
    let later = json!({ "name": "Later", "opens_at": "2027-01-14T20:00:00Z" });
    let later = api.event(&cast, &night, later).await;
    let stages = stages(&night, &guests, [&closed, &settled, &early, &second, &later]);
    History {
        bundle: bundle(&api, &night.league, &cast.olga).await,
        members: [&night.olga, &night.sam, &night.ann, &night.ben].map(String::clone),
        settled,
        stages,
        league: night.league,
        season: night.season,
    }
}

fn stages(night: &Night, guests: &[String], [closed, settled, early, second, later]: [&str; 5]) -> Vec<Vec<Sent>> {
    let Night { olga, sam, ann, ben, event, setup, .. } = night;
    let over = |n: usize, strokes: u8| {
        let mut strokes_of: Vec<u8> = (1..=18).map(par).collect();
        strokes_of[n] += strokes;
        strokes_of
    };
    let mut reversed = card(ben, &over(3, 2));
    reversed["holes"].as_array_mut().expect("holes").reverse();
    let mut nobody_named = round(ben);
    nobody_named.as_object_mut().expect("an object").remove("member_id");
    let mut unholed = round(&guests[4]);
    unholed["holes"][0]["putts"][1]["result"] = json!("missed");
    let mut gave_up = round(&guests[0]);
    gave_up["outcome"] = json!("no_return");
    gave_up["holes"] = json!([{ "number": 1, "picked_up": true }]);
    let first = [
        sent(ANN, event, softened(ann, setup, 0)),
        sent(BEN, event, nobody_named),
        sent(SAM, event, gave_up),
        sent(OLGA, event, card(&guests[1], &over(5, 1))),
        sent(OLGA, event, card(&guests[2], &over(17, 4))),
        sent(OLGA, event, round(&guests[3])),
        sent(OLGA, event, round(&id())),
        sent(OLGA, event, unholed),
        sent(OLGA, event, merged(round(&guests[5]), &json!({ "played_on": "2027-01-15" }))),
        sent(OLGA, event, merged(round(&guests[5]), &json!({ "setup_id": id() }))),
        sent(OLGA, later, round(&guests[5])),
        sent(BEN, early, reversed),
        // A card for another member by a player; that member's own takes its place in the next stage.
        sent(ANN, second, round(ben)),
        sent(ANN, second, card(sam, &over(0, 3))),
        sent(OLGA, second, round(olga)),
        // After closing: an own card waits, whoever plays; one that an organizer brings for somebody else does not.
        sent(OLGA, closed, round(olga)),
        sent(ANN, closed, round(ann)),
        sent(ANN, closed, round(sam)),
        sent(OLGA, closed, round(ben)),
        sent(OLGA, settled, round(&guests[0])),
    ];
    let [anns, guest_1, guest_2] = [0, 3, 4].map(|n| first[n].clone());
    let other = |of: &Sent| merged(of.card.clone(), &json!({ "played_on": "2027-01-14", "outcome": "disqualified" }));
    let next = [
        anns.clone(),
        Sent { card: other(&anns), ..anns.clone() },
        sent(ANN, event, anns.card.clone()),
        sent(ANN, event, other(&anns)),
        sent(ANN, event, round(ann)),
        sent(ANN, second, merged(round(ann), &json!({ "client_round_id": anns.card["client_round_id"] }))),
        sent(BEN, second, card(ben, &over(8, 2))),
        sent(SAM, closed, round(sam)),
        sent(OLGA, event, guest_1.card.clone()),
        sent(OLGA, event, other(&guest_2)),
        sent(OLGA, event, round(&guests[3])),
        sent(OLGA, event, round(&guests[5])),
    ];
    let after_closing = [
        sent(BEN, early, first[11].card.clone()),
        first[11].clone(),
        sent(BEN, second, round(ben)),
        sent(ANN, early, round(ann)),
        sent(OLGA, early, round(&guests[1])),
        sent(OLGA, early, merged(round(&guests[2]), &json!({ "holes": [] }))),
    ];
    let after_settling = [
        sent(OLGA, settled, round(&guests[1])),
        sent(SAM, settled, round(&guests[2])),
        sent(OLGA, event, guest_2.card.clone()),
    ];
    vec![first.to_vec(), next.to_vec(), after_closing.to_vec(), after_settling.to_vec()]
}

/// What a way left.
struct Left {
    api: Api,
    people: Vec<Person>,
    /// What each card was answered, in the history's order.
    answers: Vec<Vec<Answer>>,
}

/// An answer to a card.
#[derive(Clone, Debug, PartialEq)]
enum Answer {
    /// By itself: whole.
    Whole { status: u16, is_replay: bool, etag: String, location: String, body: String },
    /// To a line of a batch: the round, or what is wrong.
    Line { status: u64, round: Value, problem: Value },
}

impl Answer {
    fn of(seen: &Seen) -> Self {
        let body = if seen.status < 400 { seen.text() } else { without_request(seen.json()).to_string() };
        let (etag, location) = (seen.header("etag").to_owned(), seen.header("location").to_owned());
        let is_replay = seen.header("idempotency-replayed") == "true";
        Answer::Whole { status: seen.status, is_replay, etag, location, body }
    }

    fn status(&self) -> u16 {
        match self {
            Answer::Whole { status, .. } => *status,
            Answer::Line { status, .. } => *status as u16,
        }
    }

    /// What a batch would tell of it.
    fn as_line(&self) -> Self {
        match self {
            Answer::Whole { status, body, .. } => {
                let body: Value = serde_json::from_str(body).expect("JSON");
                let is_in = *status < 400;
                let (round, problem) = if is_in { (body["id"].clone(), Value::Null) } else { (Value::Null, body) };
                Answer::Line { status: u64::from(*status), round, problem }
            }
            line => line.clone(),
        }
    }

    /// Its text, with other names for the rounds, whose ids the server makes.
    fn text(&self, names: &BTreeMap<String, String>) -> String {
        renamed(format!("{self:?}"), names)
    }
}

fn without_request(mut problem: Value) -> Value {
    problem.as_object_mut().expect("an object").remove("instance");
    problem
}

fn renamed(mut text: String, names: &BTreeMap<String, String>) -> String {
    for (id, name) in names {
        text = text.replace(id, name);
    }
    text
}

async fn by_way(way: Way, history: &History) -> Left {
    let api = own();
    let people = claimed(&api, &history.bundle, history).await;
    for sent in &history.stages[0][..2] {
        let hole = json!({ "holes": [{ "number": 1, "strokes": 4, "putt_count": 2 }] });
        let path = format!("/events/{}/progress", sent.event);
        api.put(path, &hole).by(&people[sent.by]).matching("*").expect(200).await;
    }
    let mut answers = Vec::new();
    for (n, stage) in history.stages.iter().enumerate() {
        match n {
            2 => api.server.pass(360),
            3 => {
                api.settle(&history.settled, &people[OLGA]).await;
            }
            _ => {}
        }
        answers.push(match way {
            Way::OneByOne => one_by_one(&api, &people, stage).await,
            Way::AtOnce => at_once(&api, &people, history, stage).await,
            Way::Batch => as_batch(&api, &people, history, stage).await,
        });
    }
    clean(&api).await;
    Left { api, people, answers }
}

/// Brings the league to a server, where its people claim their records.
async fn claimed(api: &Api, bundle: &str, history: &History) -> Vec<Person> {
    let mut code = import(&api.server.app.leagues, bundle).await;
    let mut people: Vec<Person> = Vec::new();
    for (name, member) in PEOPLE.into_iter().zip(&history.members) {
        let person = api.person(name).await;
        if let Some(olga) = people.first() {
            let role = if name == "Sam" { "scorer" } else { "player" };
            let path = format!("/leagues/{}/invitations", history.league);
            let claim = json!({ "role": role, "member_id": member });
            code = text(&api.post(path, &claim).by(olga).expect(201).await.json(), "code");
        }
        let claimed = api.call("POST", &format!("/invitations/{code}/acceptance")).by(&person).expect(201).await;
        assert_eq!(&claimed.id(), member);
        people.push(person);
    }
    people
}

async fn send(api: &Api, people: &[Person], sent: &Sent) -> Answer {
    let path = format!("/events/{}/rounds", sent.event);
    Answer::of(&api.post(path, &sent.card).by(&people[sent.by]).key(&sent.key).send().await)
}

async fn one_by_one(api: &Api, people: &[Person], stage: &[Sent]) -> Vec<Answer> {
    let mut answers = Vec::new();
    for sent in stage {
        answers.push(send(api, people, sent).await);
    }
    answers
}

/// Holds the store until all cards wait for it, in their order.
async fn at_once(api: &Api, people: &[Person], history: &History, stage: &[Sent]) -> Vec<Answer> {
    let leagues = &api.server.app.leagues;
    let (open, opened) = oneshot::channel::<()>();
    let (held, holds) = oneshot::channel::<()>();
    let once = Arc::new(Mutex::new(Some((held, opened))));
    let league = LeagueId(history.league.parse().expect("an id"));
    let gate = leagues.writer.change(Scope::from(league), move |_| {
        Box::pin(async move {
            let once = once.lock().expect("nothing panicked").take();
            if let Some((held, opened)) = once {
                let _ = held.send(());
                let _ = opened.await;
            }
            Ok::<(), StorageError>(())
        })
    });
    let hand_in = async {
        holds.await.expect("the gate is closed");
        let count = || leagues.hand_ins.waiting() + leagues.writer.waiting();
        let mut sends = Vec::new();
        for sent in stage {
            let (before, began) = (count(), Instant::now());
            let (api, people, sent) = (api.clone(), people.to_vec(), sent.clone());
            sends.push(tokio::spawn(async move { send(&api, &people, &sent).await }));
            // On a slow machine fewer share a commit, and are answered the same.
            while count() <= before && began.elapsed() < Duration::from_millis(60) {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        }
        let _ = open.send(());
        join_all(sends).await
    };
    let (gate, answers) = futures_util::future::join(gate, hand_in).await;
    gate.expect("the gate opened");
    answers.into_iter().map(|answer| answer.expect("an answer")).collect()
}

/// Sends what is the organizer's as a batch, and the rest by itself before it.
async fn as_batch(api: &Api, people: &[Person], history: &History, stage: &[Sent]) -> Vec<Answer> {
    let (lines, others): (Vec<_>, Vec<_>) = stage.iter().enumerate().partition(|(_, sent)| sent.by == OLGA);
    let mut answers = BTreeMap::new();
    for (n, sent) in others {
        answers.insert(n, send(api, people, sent).await);
    }
    let line = |sent: &Sent| merged(sent.card.clone(), &json!({ "event_id": sent.event, "ref": sent.key })).to_string();
    let text = lines.iter().map(|(_, sent)| line(sent)).collect::<Vec<_>>().join("\n");
    let path = format!("/seasons/{}/round-batches", history.season);
    let batch = api.call("POST", &path).raw("application/x-ndjson", text).by(&people[OLGA]).expect(200).await.text();
    assert_eq!(batch.lines().count(), lines.len(), "{batch}");
    for ((n, _), told) in lines.into_iter().zip(batch.lines()) {
        let told: Value = serde_json::from_str(told).expect("JSON");
        let status = told["status"].as_u64().expect("a status");
        answers.insert(n, Answer::Line { status, round: told["round_id"].clone(), problem: told["problem"].clone() });
    }
    answers.into_values().collect()
}

/// What the database holds of the rounds, by the sender's id and the event; and what the journal says of them.
struct Rows {
    rounds: BTreeMap<String, String>,
    journal: Vec<String>,
    /// The hash of each card that came in.
    cards: Vec<String>,
    /// Names for the rounds that are the same everywhere.
    names: BTreeMap<String, String>,
}

/// Reads rounds with their holes, putts and results, as they are stored. Where not `is_exact`, without what the server
/// makes up and what the order of hand-ins decides: ids, and the numbers of facts.
async fn rows(api: &Api, history: &History, is_exact: bool) -> Rows {
    let league = LeagueId(history.league.parse().expect("an id"));
    let mut conn = api.server.app.leagues.database.reader().await.expect("a reader");
    let mut left = Rows { rounds: BTreeMap::new(), journal: vec![], cards: vec![], names: BTreeMap::new() };
    for mut row in rounds::in_order(&mut conn, league, 0, 1_000).await.expect("rounds") {
        let name = format!("{} in {} by {}", row.client_round_id, row.event, row.member);
        left.names.insert(row.id.to_string(), name.clone());
        let card = rounds::whole(&mut conn, &row).await.expect("a card");
        let results = results::of_member(&mut conn, league, row.member).await.expect("results");
        let mut result = results.into_iter().find(|result| result.entry.id == row.id).expect("a result");
        assert_eq!(result.stamp.take().is_some(), result.figures.is_some(), "{name}: figures have a stamp");
        if !is_exact {
            (row.seq, row.version_seq) = (0, 0);
        }
        if row.state == RoundState::Withdrawn {
            row.version = 0;
        }
        left.rounds.insert(name, format!("{row:?}\n{card:?}\n{result:?}"));
    }
    for entry in journal::list(&mut conn, league, 0, 1_000).await.expect("a journal") {
        let entry: Value = serde_json::from_str(&entry.text).expect("JSON");
        if entry["kind"] == "round" {
            let round = left.names[&text(&entry, "id")].clone();
            left.journal.push(format!("{} {round} {} {}", entry["act"], entry["content"], entry["at"]));
            if matches!(entry["act"].as_str(), Some("hand_in" | "import")) {
                left.cards.push(format!("{round} {}", entry["content"]));
            }
        }
    }
    if !is_exact {
        for row in left.rounds.values_mut() {
            *row = renamed(std::mem::take(row), &left.names);
        }
    }
    left.journal.sort();
    left.cards.sort();
    left
}

/// Compares one thing after the other, so that a failure shows the one that is different.
#[track_caller]
fn same(is: &BTreeMap<String, String>, due: &BTreeMap<String, String>, what: &str) {
    assert!(is.keys().eq(due.keys()), "{what}: {:#?}", is.keys());
    for ((name, is), due) in is.iter().zip(due.values()) {
        assert_eq!(is, due, "{what}: {name}");
    }
}

/// What people see afterwards: each card, boards, table, and what players are told.
async fn seen(api: &Api, people: &[Person], history: &History, rows: &Rows) -> BTreeMap<String, String> {
    let mut paths = vec![format!("/seasons/{}/standings", history.season)];
    let events: BTreeSet<&String> = history.stages.iter().flatten().map(|sent| &sent.event).collect();
    paths.extend(events.into_iter().map(|event| format!("/events/{event}/board")));
    paths.extend(rows.names.keys().map(|id| format!("/rounds/{id}")));
    let mut seen = BTreeMap::new();
    for path in paths {
        let mut body = api.get(&path).by(&people[OLGA]).expect(200).await.json();
        // Rounds that come in together move a board once, and a bundle counts no version for a withdrawal.
        if path.ends_with("/board") || body["state"] == "withdrawn" {
            assert!(body.as_object_mut().expect("an object").remove("version").is_some());
        }
        seen.insert(renamed(path, &rows.names), renamed(body.to_string(), &rows.names));
    }
    seen
}

/// Returns the notices of everybody but for their ids, in no order.
async fn notices(api: &Api, people: &[Person], rows: &Rows) -> Vec<String> {
    let mut told = Vec::new();
    for (person, name) in people.iter().zip(PEOPLE) {
        let page = api.get("/me/notices?limit=200").by(person).expect(200).await.json();
        for mut notice in page["items"].as_array().expect("items").clone() {
            let fields = notice.as_object_mut().expect("an object");
            fields.remove("id");
            // evidence is weighed by itself, a while after the rounds came in
            if fields["kind"] == "finding" {
                fields.remove("at");
            }
            told.push(renamed(format!("{name}: {notice}"), &rows.names));
        }
    }
    told.sort();
    told
}

#[tokio::test]
async fn a_card_is_judged_and_stored_the_same_whichever_way_it_comes() {
    let history = history().await;
    let alone = by_way(Way::OneByOne, &history).await;
    let due = rows(&alone.api, &history, false).await;
    let statuses: Vec<Vec<u16>> =
        alone.answers.iter().map(|stage| stage.iter().map(Answer::status).collect()).collect();
    let due_statuses: [&[u16]; 4] = [
        &[201, 201, 201, 201, 201, 201, 422, 422, 422, 422, 409, 201, 201, 201, 201, 201, 201, 201, 201, 201],
        &[201, 422, 200, 409, 409, 409, 201, 409, 200, 409, 409, 201],
        &[200, 201, 409, 201, 201, 422],
        &[409, 409, 200],
    ];
    assert_eq!(statuses, due_statuses, "{:#?}", alone.answers);
    let (due_seen, due_notices) =
        (seen(&alone.api, &alone.people, &history, &due).await, notices(&alone.api, &alone.people, &due).await);
    let words: Vec<bool> =
        ["round_late", "round_proposed"].map(|word| due_notices.iter().any(|notice| notice.contains(word))).to_vec();
    assert_eq!(words, [true, true], "{due_notices:#?}");

    for way in [Way::AtOnce, Way::Batch] {
        let left = by_way(way, &history).await;
        let rows = rows(&left.api, &history, false).await;
        for (n, (due_stage, stage)) in alone.answers.iter().zip(&left.answers).enumerate() {
            for (place, (due_answer, answer)) in due_stage.iter().zip(stage).enumerate() {
                let is_line = matches!(answer, Answer::Line { .. });
                let due_answer = if is_line { due_answer.as_line() } else { due_answer.clone() };
                let what = format!("{way:?}: the answer to card {place} of stage {n}");
                assert_eq!(answer.text(&rows.names), due_answer.text(&due.names), "{what}");
            }
        }
        same(&rows.rounds, &due.rounds, &format!("{way:?}: a round, its holes, putts and result"));
        assert_eq!(rows.journal, due.journal, "{way:?}: the journal");
        let seen = seen(&left.api, &left.people, &history, &rows).await;
        same(&seen, &due_seen, &format!("{way:?}: what people see"));
        assert_eq!(notices(&left.api, &left.people, &rows).await, due_notices, "{way:?}: what players are told");
    }

    let whole = bundle(&alone.api, &history.league, &alone.people[OLGA]).await;
    let api = own();
    let people = claimed(&api, &whole, &history).await;
    clean(&api).await;
    let brought = rows(&api, &history, true).await;
    let exact = rows(&alone.api, &history, true).await;
    same(&brought.rounds, &exact.rounds, "a bundle: a round with its id and number, its holes, putts and result");
    assert_eq!(brought.cards, due.cards, "a bundle: the hashes of the cards in the journal");
    same(&seen(&api, &people, &history, &brought).await, &due_seen, "a bundle: what people see");
}
