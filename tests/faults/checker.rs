//! Compares what phones remember with what is stored. Reads ledgers and exported lines as plain JSON, and works
//! standings out from cards with arithmetic of its own.

use super::phones::{self, World};
use super::program::succeeds;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What phones meant to send and what they were answered, by `client_round_id`.
#[derive(Clone, Default)]
pub struct Memory {
    pub intents: BTreeMap<String, Value>,
    pub acks: BTreeMap<String, String>,
}

impl Memory {
    /// Reads the ledgers in a folder. A line that is still being written is of no consequence: nothing followed it.
    pub fn read(folder: &Path) -> Self {
        let mut memory = Self::default();
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|kind| kind != "ledger") {
                continue;
            }
            let text = std::fs::read_to_string(path).unwrap();
            for line in text.split_inclusive('\n').filter(|line| line.ends_with('\n')) {
                let line: Value = serde_json::from_str(line).unwrap();
                if let Some(id) = line["ack"].as_str() {
                    memory.acks.insert(id.into(), line["answer"].as_str().unwrap().into());
                } else {
                    memory.intents.insert(line["intent"].as_str().unwrap().into(), line);
                }
            }
        }
        memory
    }
}

/// Takes out of a card what only says that something is not there, so that two cards can be compared.
fn told(value: &Value) -> Value {
    match value {
        Value::Object(fields) => {
            let kept = fields.iter().filter(|(_, field)| !field.is_null() && **field != json!(false));
            kept.map(|(name, field)| (name.clone(), told(field))).collect()
        }
        Value::Array(items) => items.iter().map(told).collect(),
        Value::Number(number) => json!(number.as_f64()),
        other => other.clone(),
    }
}

/// The rounds among the lines of a league.
fn rounds(lines: &[Value]) -> impl Iterator<Item = &Value> {
    lines.iter().filter(|line| line["kind"] == "round")
}

/// Compares: every acknowledged round is stored once and as it was sent, every other intent once or not at all, and
/// nothing else is. Returns what is wrong.
pub fn faults(memory: &Memory, lines: &[Value]) -> Vec<String> {
    let mut faults = Vec::new();
    let mut stored: BTreeMap<&str, &Value> = BTreeMap::new();
    let mut places = BTreeSet::new();
    for round in rounds(lines) {
        let id = round["client_round_id"].as_str().unwrap();
        if stored.insert(id, round).is_some() {
            faults.push(format!("{id} is stored twice"));
        }
        if !places.insert((round["event_id"].to_string(), round["member_id"].to_string())) {
            faults.push(format!("{id} is a member's second round in an event"));
        }
        let Some(intent) = memory.intents.get(id) else {
            faults.push(format!("{id} was never sent"));
            continue;
        };
        let card = &intent["card"];
        for field in ["member_id", "played_on", "holes"] {
            if told(&card[field]) != told(&round[field]) {
                faults.push(format!("{id} has another {field} than was sent: {}", round[field]));
            }
        }
        if intent["event_id"] != round["event_id"] {
            faults.push(format!("{id} is in another event"));
        }
    }
    for (id, answer) in &memory.acks {
        let answer: Value = serde_json::from_str(answer).unwrap();
        match stored.get(id.as_str()) {
            None => faults.push(format!("{id} was acknowledged and is lost")),
            Some(round) if round["id"] != answer["id"] => faults.push(format!("{id} has another id than was answered")),
            Some(round) if answer["gross"] != json!(gross(round)) => {
                faults.push(format!("{id} was answered with {} strokes", answer["gross"]));
            }
            Some(_) => {}
        }
    }
    faults
}

fn gross(round: &Value) -> u64 {
    round["holes"].as_array().unwrap().iter().map(|hole| hole["strokes"].as_u64().unwrap()).sum()
}

/// A row of a table: member, position, events played, events counted, total.
type Row = (String, Option<u64>, u64, u64, u64);

/// Works out the table of a season of gross scores of which the best three count, fewer being unranked: the lower total,
/// then more first places among what counts, then the lower scores one by one, then the same position.
pub fn table(events: &[String], lines: &[Value]) -> BTreeSet<Row> {
    let place = |round: &Value| events.iter().position(|event| round["event_id"] == json!(event)).unwrap();
    let mut lowest = BTreeMap::new();
    for round in rounds(lines) {
        let least = lowest.entry(place(round)).or_insert(u64::MAX);
        *least = gross(round).min(*least);
    }
    let mut cards: BTreeMap<String, Vec<(u64, usize)>> = BTreeMap::new();
    for round in rounds(lines) {
        let member = round["member_id"].as_str().unwrap().to_owned();
        cards.entry(member).or_default().push((gross(round), place(round)));
    }
    let mut members = Vec::new();
    for (member, mut own) in cards {
        let played = own.len();
        // Of equal scores that of the earlier event drops.
        own.sort_by_key(|(score, event)| (*score, usize::MAX - event));
        own.truncate(3);
        let firsts = own.iter().filter(|(score, event)| lowest[event] == *score).count();
        let scores: Vec<u64> = own.iter().map(|(score, _)| *score).collect();
        members.push((scores.iter().sum::<u64>(), usize::MAX - firsts, scores, member, played));
    }
    let ranked = |total: &u64, firsts: &usize, scores: &Vec<u64>| {
        let better = members.iter().filter(|other| other.2.len() == 3);
        let better = better.filter(|other| (&other.0, &other.1, &other.2) < (total, firsts, scores));
        (scores.len() == 3).then_some(1 + better.count() as u64)
    };
    let row = |(total, firsts, scores, member, played): &(u64, usize, Vec<u64>, String, usize)| {
        (member.clone(), ranked(total, firsts, scores), *played as u64, scores.len() as u64, *total)
    };
    members.iter().map(row).collect()
}

/// The same rows of a table that the program made.
pub fn told_table(items: &[Value]) -> BTreeSet<Row> {
    let number = |row: &Value, name: &str| row[name].as_u64().unwrap();
    let row = |row: &Value| {
        let member = row["member_id"].as_str().unwrap().to_owned();
        let position = row["position"].as_u64();
        (member, position, number(row, "events_played"), number(row, "events_counted"), number(row, "total"))
    };
    items.iter().map(row).collect()
}

/// Takes a league's lines out of a database.
pub async fn export(database: &str, league: &str) -> Vec<Value> {
    let out = succeeds(&["export", league, "--database", database]).await;
    out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Checks all of it on a served database: rounds, table, kept answers, and what the program says of itself. Returns how
/// many acknowledged rounds there were.
pub async fn passes(world: &World, database: &str, origin: &str, folder: &Path) -> usize {
    let memory = Memory::read(folder);
    let lines = export(database, &world.league).await;
    let found = faults(&memory, &lines);
    assert!(found.is_empty(), "{} faults: {:#?}", found.len(), &found[..found.len().min(20)]);
    let told = world.table(origin, &world.token(origin).await).await;
    assert_eq!(told_table(&told), table(&world.events, &lines), "the table is not what cards say");
    succeeds(&["verify", "--database", database]).await;
    // The same request again gets the same bytes, whatever became of the server in between.
    let (client, token) = (phones::client(), world.phone_tokens(origin).await);
    let every = memory.acks.len() / 200 + 1;
    for (id, answer) in memory.acks.iter().step_by(every) {
        let intent = &memory.intents[id];
        let (event, key) = (intent["event_id"].as_str().unwrap(), intent["key"].as_str().unwrap());
        let token = &token[intent["phone"].as_u64().unwrap() as usize];
        let again = phones::send(&client, origin, token, event, key, &intent["card"].to_string()).await.unwrap();
        assert_eq!(again.1, *answer, "{id} is answered differently the second time ({})", again.0);
    }
    memory.acks.len()
}

/// A checker that cannot fail checks nothing.
#[test]
fn the_checker_sees_rounds_that_are_lost_doubled_or_altered() {
    let holes: Vec<Value> = (1..=9).map(|n| json!({ "number": n, "strokes": 4, "picked_up": false })).collect();
    let card = json!({ "member_id": "m", "played_on": "2026-01-14", "holes": holes });
    let mut round = card.clone();
    for (name, value) in [("kind", "round"), ("id", "r"), ("client_round_id", "c"), ("event_id", "e")] {
        round[name] = value.into();
    }
    let mut memory = Memory::default();
    memory.intents.insert("c".into(), json!({ "event_id": "e", "card": card }));
    let clean = |memory: &Memory, lines: &[Value]| faults(memory, lines).is_empty();
    assert!(clean(&memory, &[]) && clean(&memory, std::slice::from_ref(&round)), "an intent lands once or not at all");
    memory.acks.insert("c".into(), json!({ "id": "r", "gross": 36 }).to_string());
    assert!(clean(&memory, std::slice::from_ref(&round)));
    assert!(!clean(&memory, &[]), "a lost round passes");
    assert!(!clean(&memory, &[round.clone(), round.clone()]), "a doubled round passes");
    let mut other = round.clone();
    other["holes"][3]["strokes"] = 5.into();
    assert!(!clean(&memory, &[other]), "an altered round passes");
    let mut other = round.clone();
    other["id"] = "s".into();
    assert!(!clean(&memory, &[other]), "another id passes");
    let mut other = round.clone();
    other["client_round_id"] = "d".into();
    assert!(!clean(&memory, &[round, other]), "a round that nobody sent passes");
}
