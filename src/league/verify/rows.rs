//! Comparing each stored row with what the journal says was stored.

use super::chain::Told;
use super::verification::{Verification, in_words};
use crate::domain::audit;
use crate::domain::ids::{LeagueId, RoundId};
use crate::domain::season::RoundState;
use crate::league::Refusal;
use crate::storage::Conn;
use crate::storage::evidence;
use crate::storage::heads::SignedHead;
use crate::storage::results;
use crate::storage::row::{Row, Value};
use crate::storage::row_hashes::{Kind, Role, TABLES, Table};
use serde::de::IgnoredAny;
use std::collections::{HashMap, HashSet};
use uuid::Uuid;

/// Tables whose rows go without an entry of their own: with an erasure, an account, a correction or the event.
const MAY_GO: [&str; 4] = ["versions", "attestations", "entrants", "reviewers"];
/// Tables with a kind of evidence.
const OF_EVIDENCE: [&str; 3] = ["evidence_rows", "evidence_digests", "findings"];
/// What stands in the place of a text that was erased and cannot be missing.
const ERASED: &str = "erased";

/// A row, with a null wherever a value cannot be read.
struct Read {
    table: &'static Table,
    values: Vec<Value>,
}

impl Read {
    fn value(&self, column: &str) -> &Value {
        let found = self.table.columns.iter().zip(&self.values).find(|(known, _)| known.name == column);
        found.map_or(&Value::Null, |(_, value)| value)
    }

    fn id(&self, column: &str) -> Uuid {
        match self.value(column) {
            Value::Id(id) => *id,
            _ => Uuid::nil(),
        }
    }

    fn int(&self, column: &str) -> i64 {
        match self.value(column) {
            Value::Int(n) => *n,
            _ => 0,
        }
    }

    fn text(&self, column: &str) -> &str {
        match self.value(column) {
            Value::Text(text) => text,
            _ => "",
        }
    }
}

/// What the rows of other tables are compared with.
#[derive(Default)]
struct Seen {
    /// The greatest number of a fact.
    seq: i64,
    league_seq: i64,
    weighed_seq: i64,
    seasons: HashMap<Uuid, Uuid>,
    /// Event, member and set-up of each round.
    rounds: HashMap<Uuid, (Uuid, Uuid, Uuid)>,
    /// The number of each round, and whether it counts.
    numbers: Vec<(i64, Uuid, bool)>,
    /// The set-ups of earlier versions of rounds.
    earlier_setups: Vec<(Uuid, Uuid)>,
    /// Who and what takes part in each season, as stored.
    field: HashSet<(Uuid, String, Uuid)>,
}

/// Compares every row of a league with the journal, and what follows from single rows with those. Returns the rounds in
/// the order received.
///
/// # Errors
/// A failed database.
pub async fn compare(
    conn: &mut Conn,
    league: LeagueId,
    told: &mut Told,
    verification: &mut Verification,
) -> Result<Vec<RoundId>, Refusal> {
    let mut seen = Seen::default();
    let mut found: Vec<String> = Vec::new();
    for table in TABLES.iter() {
        table.each(conn, league, |row| look(league, table, row, told, &mut seen, &mut found)).await?;
    }
    if seen.league_seq < seen.seq || seen.weighed_seq > seen.league_seq {
        found.push(format!("leagues {league}: its counters do not fit its facts: the last has number {}", seen.seq));
    }
    if told.is_complete {
        found.extend(field_faults(&seen));
    }
    let missing = told
        .rows
        .iter()
        .filter(|(name, row)| !row.is_there && !MAY_GO.iter().any(|table| name.split(' ').next() == Some(table)));
    let mut missing: Vec<String> =
        missing.map(|(name, row)| format!("{name} is missing: journal entry {} tells of it", row.n)).collect();
    missing.sort();
    let lines = found.into_iter().chain(missing).map(|text| format!("league {league}: {text}"));
    verification.differences.extend(lines);
    seen.numbers.sort_unstable();
    Ok(seen.numbers.into_iter().map(|(_, id, _)| RoundId(id)).collect())
}

fn look(league: LeagueId, table: &'static Table, row: &Row, told: &mut Told, seen: &mut Seen, found: &mut Vec<String>) {
    let (mut values, mut bad) = (Vec::with_capacity(table.columns.len()), Vec::new());
    for column in &table.columns {
        let value = column.read(row).unwrap_or_else(|error| {
            bad.push(format!("{}: {}", column.name, in_words(&error)));
            Value::Null
        });
        if let ("kind", Value::Text(word)) = (column.name, &value)
            && OF_EVIDENCE.contains(&table.name)
            && audit::kind(word).is_none()
            // A blob of evidence holds rows of all kinds.
            && !(word.is_empty() && table.name == "evidence_rows")
        {
            bad.push(format!("{}: there is no kind {word}", column.name));
        }
        if let ("state", Value::Bytes(bytes)) = (column.name, &value)
            && !evidence::is_packed(bytes)
        {
            bad.push(format!("{}: not the bytes of rows of evidence", column.name));
        }
        if let ("results", Value::Bytes(bytes)) = (table.name, &value)
            && !results::is_packed(column.name, bytes)
        {
            bad.push(format!("{}: its bytes are not what was packed", column.name));
        }
        if let (Kind::Json, Value::Text(text)) = (column.kind, &value)
            && let Err(error) = serde_json::from_str::<IgnoredAny>(text)
        {
            bad.push(format!("{}: {error}", column.name));
        }
        values.push(value);
    }
    let (key, read) = (table.key(&values), Read { table, values });
    let name = format!("{} {key}", table.name);
    if !bad.is_empty() {
        found.extend(bad.iter().map(|text| format!("{name} cannot be read: {text}")));
        if let Some(row) = told.rows.get_mut(&name) {
            row.is_there = true;
        }
    } else if table.is_told {
        found.extend(not_as_told(&read, &name, told));
    }
    found.extend(not_as_seen(league, &read, &name, told, seen));
}

/// Compares a row with what the journal says of it.
fn not_as_told(read: &Read, name: &str, told: &mut Told) -> Option<String> {
    let Some(row) = told.rows.get_mut(name) else {
        // The operator's invitations stand in no journal.
        let is_known = !told.is_complete || read.table.name == "invitations";
        return (!is_known).then(|| format!("{name} is not in the journal"));
    };
    row.is_there = true;
    let (fixed, erasable) = read.table.hashes(&read.values);
    if fixed != row.fixed {
        return Some(format!("{name} is not what journal entry {} says was stored", row.n));
    }
    // An account that ended leaves the member's record.
    let may_be_erased = told.has_erased || read.table.name == "members";
    let (columns, values): (Vec<&str>, Vec<&Value>) = read
        .table
        .columns
        .iter()
        .zip(&read.values)
        .filter(|(column, _)| column.role == Role::Erasable)
        .map(|(column, value)| (column.name, value))
        .unzip();
    let is_erased = values.iter().all(|value| match value {
        Value::Null => true,
        Value::Text(text) => text == ERASED,
        _ => false,
    });
    let is_same = erasable == row.erasable || may_be_erased && is_erased;
    (!is_same).then(|| format!("{name}: {} is not what journal entry {} says was stored", columns.join(" or "), row.n))
}

/// Compares a row with rows that were seen before it.
fn not_as_seen(league: LeagueId, read: &Read, name: &str, told: &Told, seen: &mut Seen) -> Option<String> {
    for column in ["seq", "version_seq", "created_seq"] {
        if read.table.name != "leagues" || column == "created_seq" {
            seen.seq = seen.seq.max(read.int(column));
        }
    }
    match read.table.name {
        "leagues" => (seen.league_seq, seen.weighed_seq) = (read.int("seq"), read.int("weighed_seq")),
        "events" => {
            seen.seasons.insert(read.id("id"), read.id("season_id"));
        }
        "versions" if read.text("kind") == "round" => {
            let body: Option<serde_json::Value> = serde_json::from_str(read.text("body")).ok();
            let setup = body.and_then(|body| body.get("setup_id")?.as_str()?.parse().ok());
            seen.earlier_setups.extend(setup.map(|setup| (read.id("id"), setup)));
        }
        "rounds" => {
            let of = (read.id("event_id"), read.id("member_id"), read.id("setup_id"));
            seen.rounds.insert(read.id("id"), of);
            let counts = RoundState::from_word(read.text("state")).is_some_and(RoundState::counts);
            seen.numbers.push((read.int("seq"), read.id("id"), counts));
        }
        "results" => {
            let (event, member) = (read.id("event_id"), read.id("member_id"));
            let round = seen.rounds.get(&read.id("round_id")).map(|(event, member, _)| (*event, *member));
            let fits = round == Some((event, member));
            return (!fits).then(|| format!("{name}: event or member are not those of the round"));
        }
        "evidence_field" => {
            seen.field.insert((read.id("season_id"), read.text("about").to_owned(), read.id("id")));
        }
        "journal_heads" => {
            let n = read.int("n");
            let head: Option<SignedHead> = serde_json::from_str(read.text("head")).ok();
            let is_same = head
                .is_some_and(|head| (head.league_id, head.n) == (league, n) && head.at.to_string() == read.text("at"));
            let event = Some(read.id("event_id")).filter(|event| !event.is_nil());
            let fits = is_same && told.settled.get(&n).is_none_or(|settled| event == Some(*settled));
            return (!fits).then(|| format!("{name} is not what its head says, or names another event"));
        }
        _ => {}
    }
    None
}

/// Finds who or what takes part in a season by its rounds and is not noted, and who is noted and has no round.
fn field_faults(seen: &Seen) -> Vec<String> {
    let season_of = |round: &Uuid| Some(*seen.seasons.get(&seen.rounds.get(round)?.0)?);
    let (mut due, mut may_be) = (HashSet::new(), HashSet::new());
    for (_, round, counts) in &seen.numbers {
        let (Some(season), Some((_, member, setup))) = (season_of(round), seen.rounds.get(round)) else { continue };
        // An import takes part for the rounds alone that count.
        let rows = if *counts { &mut due } else { &mut may_be };
        rows.insert((season, "player".to_owned(), *member));
        if !setup.is_nil() {
            rows.insert((season, "setup".to_owned(), *setup));
        }
    }
    let earlier = seen.earlier_setups.iter();
    may_be.extend(earlier.filter_map(|(round, setup)| Some((season_of(round)?, "setup".to_owned(), *setup))));
    let lacks = due.difference(&seen.field).map(|row| (row, "is missing"));
    let extra = seen.field.iter().filter(|row| !due.contains(*row) && !may_be.contains(*row));
    let faults = lacks.chain(extra.map(|row| (row, "has no round")));
    let mut faults: Vec<String> =
        faults.map(|((season, about, id), what)| format!("evidence_field {season}/{about}/{id} {what}")).collect();
    faults.sort();
    faults
}
