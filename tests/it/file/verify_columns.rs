//! What `verify` notices: a value that somebody changed behind the server's back, in whichever column.

use crate::pages::desk::{Browser, OPINION};
use crate::stored::backup::{ends, run};
use crate::stored::journal_bundle::eventful;
use crate::support::harness::{Api, Cast, id, merged, own, round, text};
use crate::support::store::TestStore;
use evenfield::startup::{open, system_clock};
use evenfield::storage::Store;
use serde_json::json;
use sqlx::sqlite::{SqliteConnectOptions, SqliteRow};
use sqlx::{AssertSqlSafe, ConnectOptions, Executor, Row, SqliteConnection};
use std::collections::BTreeMap;

/// Columns that `verify` does not notice, each with the reason. The list only shrinks.
const NOT_VERIFIED: &str = include_str!("../../data/columns_not_verified.csv");

/// A league in which every table of a league gets rows, a person was erased, and another league beside it.
async fn story(api: &Api, cast: &Cast) {
    let night = eventful(api, cast).await;
    let post = async |path: String, body, by| api.post(path, &body).by(by).key(&id()).expect(201).await.id();
    let (olga, ann, ben) = (&cast.olga, &cast.ann, &cast.ben);
    let next = async || api.event(cast, &night, json!({ "holes": 18 })).await;
    let finding = api.setup_finding(cast, &night, ann, &night.ann).await.0;
    let other = api.finding(cast, &night, ben, &night.ben).await.0;
    post(format!("/findings/{other}/statements"), json!({ "text": "a new putter" }), ben).await;
    let due = json!({ "text": "a film, please", "due_at": "2027-02-14T20:00:00Z" });
    post(format!("/findings/{other}/requests"), due, olga).await;
    Browser::of(api, &olga.email).await.does(&format!("/findings/{other}/first-opinions"), &OPINION).await;
    let nothing = json!({ "decision": "no_action", "reason": "an honest putter" });
    api.post(format!("/findings/{other}/rulings"), &nothing).by(olga).key(&id()).expect(201).await;
    api.hand_in(&next().await, ben, &crate::support::harness::softened(&night.ben, &night.setup, 3)).await;
    let invite = format!("/leagues/{}/invitations", night.league);
    let reviewer = json!({ "role": "reviewer", "finding_id": finding });
    let code = text(&api.post(&invite, &reviewer).by(olga).expect(201).await.json(), "code");
    let from_outside = api.person("Rita").await;
    api.call("POST", &format!("/invitations/{code}/acceptance")).by(&from_outside).expect(201).await;

    let asked = api.hand_in(&next().await, ben, &round(&night.ben)).await.id();
    let query = post(format!("/rounds/{asked}/queries"), json!({ "text": "a six?", "pointer": "/holes/3" }), ann).await;
    post(format!("/queries/{query}/answers"), json!({ "text": "a four" }), olga).await;
    let out = json!({ "decision": "exclude_round", "reason": "the wrong tee" });
    api.post(format!("/rounds/{asked}/rulings"), &out).by(olga).key(&id()).expect(201).await;
    let proposed = api.hand_in(&next().await, ann, &round(&night.ben)).await.id();
    api.call("POST", &format!("/rounds/{proposed}/acceptance")).by(ben).expect(200).await;
    api.call("POST", &format!("/rounds/{proposed}/attestation")).by(ann).expect(200).await;
    let last = next().await;
    post(format!("/events/{last}/entries"), json!({ "slot": "19:30", "bay": "2" }), ann).await;
    let holes = json!({ "holes": [{ "number": 1, "strokes": 4 }] });
    api.put(format!("/events/{last}/progress"), &holes).by(ann).matching("*").expect(200).await;
    let differential = json!({ "played_on": "2026-12-01", "differential": 12.3, "source": "an old sheet" });
    post(format!("/members/{}/carried-differentials", night.ben), differential, olga).await;
    let cap = json!({ "kind": "cap", "value": 30, "from": "2030-01-01", "reason": "-" });
    post(format!("/members/{}/handicap-acts", night.ben), cap, olga).await;
    let value = json!({ "member_id": night.ben, "label": "First night", "value": 12, "source": "an old sheet" });
    post(format!("/seasons/{}/carried-results", night.season), value, olga).await;
    post(format!("/members/{}/practice", night.ann), crate::stored::practice::block(&night.setup), ann).await;

    let addresses = format!("/leagues/{}/addresses", night.league);
    api.post(addresses, &json!({ "kind": "public" })).by(olga).expect(201).await;

    let gone = api.person("Gus").await;
    let member = api.join(&night.league, olga, &gone, "player").await;
    let bay = json!({ "label": "Bay 9", "sensor": "radar", "shared": true, "notes": "by the door" });
    post(format!("/leagues/{}/setups", night.league), bay, &gone).await;
    let card = merged(round(&member), &json!({ "setup_id": night.setup }));
    let card = api.hand_in(&last, &gone, &card).await.id();
    api.delete(format!("/rounds/{card}?reason=gone")).by(olga).matching("*").expect(204).await;
    api.delete(format!("/members/{member}")).by(&gone).matching("*").expect(204).await;
    let elsewhere = api.night(cast).await;
    api.hand_in(&elsewhere.event, ann, &round(&elsewhere.ann)).await;
    api.server.app.leagues.sign_due().await.expect("heads are signed");
    api.server.app.leagues.all_weighed().await.expect("evidence takes what waits");
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Column {
    table: String,
    name: String,
}

/// A copy of a database that somebody holds who is not the server.
struct Held {
    store: TestStore,
    conn: SqliteConnection,
}

impl Held {
    async fn copy_of(api: &Api) -> Option<Self> {
        let Store::File(from) = &api.server.store().store else { return None };
        let store = TestStore::file();
        let Store::File(to) = &store.store else { return None };
        let mut server = SqliteConnectOptions::new().filename(from).connect().await.expect("the file opens");
        sqlx::query("VACUUM INTO $1").bind(to.display().to_string()).execute(&mut server).await.expect("a copy");
        let options = SqliteConnectOptions::new().filename(to).foreign_keys(false);
        let mut conn = options.connect().await.expect("the copy opens");
        for trigger in ["journal_never_changes", "journal_never_shrinks"] {
            conn.execute(AssertSqlSafe(format!("DROP TRIGGER {trigger}"))).await.expect("it goes");
        }
        Some(Self { store, conn })
    }

    async fn rows(&mut self, sql: String) -> Vec<SqliteRow> {
        self.conn.fetch_all(AssertSqlSafe(sql)).await.expect("rows")
    }

    async fn texts(&mut self, sql: String) -> Vec<String> {
        self.rows(sql).await.iter().map(|row| row.get(0)).collect()
    }

    /// Every column, with the key of its table.
    async fn columns(&mut self) -> Vec<(Column, Vec<String>)> {
        let tables = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE '\\_%' ESCAPE '\\' \
                      AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name";
        let mut columns = Vec::new();
        for table in self.texts(tables.to_owned()).await {
            let named = |what: &str| format!("SELECT name FROM pragma_table_info('{table}') {what}");
            let key = self.texts(named("WHERE pk > 0 ORDER BY pk")).await;
            for name in self.texts(named("ORDER BY cid")).await {
                columns.push((Column { table: table.clone(), name }, key.clone()));
            }
        }
        columns
    }

    /// Returns the values, as they are written in SQL, of a row's key and of its column: of the first row that has one.
    async fn first(&mut self, column: &Column, key: &[String]) -> Option<(Vec<String>, String)> {
        let Column { table, name } = column;
        let quoted: Vec<String> = key.iter().map(|part| format!("quote({part})")).collect();
        let sql = format!(
            "SELECT quote({name}), {} FROM {table} ORDER BY {name} IS NULL, {} LIMIT 1",
            quoted.join(", "),
            key.join(", ")
        );
        let row = self.rows(sql).await.into_iter().next()?;
        Some(((1..=key.len()).map(|n| row.get(n)).collect(), row.get(0)))
    }

    /// Other values that the column might take: another row's, or one near its own.
    async fn others(&mut self, column: &Column, at: &[(String, String)], value: &str) -> Vec<String> {
        let Column { table, name } = column;
        let sql =
            format!("SELECT DISTINCT quote({name}) FROM {table} WHERE quote({name}) <> $1 AND {name} NOTNULL LIMIT 8");
        let read = sqlx::query(AssertSqlSafe(sql)).bind(value).fetch_all(&mut self.conn).await.expect("values");
        let mut others: Vec<String> = read.iter().map(|row| row.get(0)).collect();
        // Of a reference, something else of the league that is there.
        let refers = format!(
            "SELECT \"table\" || ' ' || \"to\" FROM pragma_foreign_key_list('{table}') WHERE \"from\" = '{name}' AND \"to\" <> 'league_id'"
        );
        let league = at.iter().find(|(part, _)| part == "league_id").map(|(_, league)| league);
        for referred in self.texts(refers).await {
            let (Some((of, to)), Some(league)) = (referred.split_once(' '), league) else { continue };
            if of != "leagues" && of != "accounts" {
                let there =
                    self.texts(format!("SELECT quote({to}) FROM {of} WHERE league_id = {league} LIMIT 8")).await;
                others.extend(there.into_iter().filter(|there| there != value));
            }
        }
        let near = match value.chars().next() {
            Some('\'') => {
                let digit = value.rfind(|c: char| c.is_ascii_digit());
                let mut near = value.to_owned();
                if let Some(place) = digit {
                    let other = if &value[place..=place] == "1" { "2" } else { "1" };
                    near.replace_range(place..=place, other);
                } else {
                    near.insert(1, 'x');
                }
                near
            }
            Some('X') if value.len() > 4 => {
                let (front, last) = value.split_at(value.len() - 2);
                format!("{front}{}", if last == "1'" { "2'" } else { "1'" })
            }
            Some('X') => "X'01'".to_owned(),
            Some('N') => String::new(),
            _ => format!("{value} + 100"),
        };
        // A document is changed in one place.
        let is_document = value.starts_with("'{") || value.starts_with("'[");
        others.insert(if is_document { 0 } else { others.len() }, near);
        if value.parse::<i64>().is_ok() {
            others.extend([format!("{value} + 1"), format!("1 - {value}")]);
        }
        // Of words that a table allows, another one.
        let words = format!("SELECT sql FROM sqlite_master WHERE name = '{table}'");
        for sql in self.texts(words).await {
            let quoted = sql.split('\'').skip(1).step_by(2);
            others.extend(quoted.map(|word| format!("'{word}'")).filter(|word| word != value));
        }
        if value == "NULL" {
            others.extend(["1", "1.5", "'2027-01-14T20:00:00Z'", "randomblob(16)"].map(str::to_owned));
        }
        others.retain(|other| !other.is_empty());
        others
    }

    async fn put(&mut self, column: &Column, place: &[(String, String)], value: &str) -> bool {
        let Column { table, name } = column;
        let place: Vec<String> = place.iter().map(|(part, value)| format!("{part} = {value}")).collect();
        let sql = format!("UPDATE {table} SET {name} = {value} WHERE {}", place.join(" AND "));
        matches!(self.conn.execute(AssertSqlSafe(sql)).await, Ok(done) if done.rows_affected() == 1)
    }
}

/// Says a part of a key as people read it.
fn said(quoted: &str) -> String {
    let inner = quoted.trim_start_matches('X').trim_matches('\'').to_lowercase();
    match inner.len() {
        32 if quoted.starts_with('X') => {
            let parts = [&inner[..8], &inner[8..12], &inner[12..16], &inner[16..20], &inner[20..]];
            parts.join("-")
        }
        _ => inner,
    }
}

/// One value after the other is changed to another that the table takes, and `verify` names table and row: unless the
/// column stands in the list of those that it cannot tell, which must not name one that it tells.
#[tokio::test]
async fn whatever_column_is_changed_is_noticed_or_listed() {
    let api = own();
    let cast = api.cast().await;
    story(&api, &cast).await;
    let Some(mut held) = Held::copy_of(&api).await else { return };
    let leagues = open(&held.store.store, system_clock()).await.expect("opens");
    assert_eq!(leagues.verify().await.expect("verify runs").differences, Vec::<String>::new(), "nothing was changed");

    let listed: BTreeMap<Column, &str> = NOT_VERIFIED
        .lines()
        .skip(1)
        .map(|line| {
            let mut parts = line.splitn(3, ',');
            let mut part = || parts.next().unwrap_or_default();
            (Column { table: part().to_owned(), name: part().to_owned() }, part())
        })
        .collect();
    assert!(listed.values().all(|reason| !reason.is_empty()), "each column in the list has its reason");
    let mut wrong = Vec::new();
    let mut columns = held.columns().await;
    // A changed mark of the evidence has rounds taken in twice, which stays: last.
    columns.sort_by_key(|(column, _)| column.name == "weighed_seq");
    for column in listed.keys().filter(|column| !columns.iter().any(|(known, _)| known == *column)) {
        wrong.push(format!("{}.{} is listed and is no column", column.table, column.name));
    }
    for (column, key) in &columns {
        let Column { table, name } = column;
        let is_listed = listed.contains_key(column);
        let Some((row, value)) = held.first(column, key).await else {
            if !is_listed {
                wrong.push(format!("{table}.{name} has no row to try and is not listed"));
            }
            continue;
        };
        let at: Vec<(String, String)> = key.iter().cloned().zip(row.iter().cloned()).collect();
        let by_id = match key.iter().any(|part| part == "id")
            || !["invitations", "secret_addresses"].contains(&table.as_str())
        {
            true => None,
            false => {
                let of_row = format!("SELECT quote(id) FROM {table} WHERE {} = {}", key[0], row[0]);
                held.texts(of_row).await.into_iter().next()
            }
        };
        let mut changed = None;
        for other in held.others(column, &at, &value).await {
            if held.put(column, &at, &other).await {
                changed = Some(other);
                break;
            }
        }
        let Some(other) = changed else {
            if !is_listed {
                wrong.push(format!("{table}.{name} could not be changed from {value} and is not listed"));
            }
            continue;
        };
        let found = match leagues.verify().await {
            Ok(found) => found.differences,
            Err(error) => vec![format!("{error:?}")],
        };
        let parts = at.iter().filter(|(part, _)| part != "league_id").map(|(_, value)| value);
        let ids: Vec<String> = parts.chain(&by_id).chain([&other]).map(|value| said(value)).collect();
        // A reference to what is not there is told by SQLite, which names the table that refers.
        let is_named = found.iter().any(|text| {
            text.contains("Damaged") || text.contains(table.as_str()) && ids.iter().any(|id| text.contains(id))
        });
        match (is_listed, found.is_empty()) {
            (false, true) => wrong.push(format!("{table}.{name}: {value} became {other}, and nothing is said")),
            // A reference that leads nowhere is told by SQLite, whatever column holds it.
            (true, false) if !found[0].contains("Damaged") => {
                wrong.push(format!("{table}.{name} is listed and noticed: {}", found[0]));
            }
            (false, false) if !is_named => {
                wrong.push(format!("{table}.{name} of {at:?}: neither table nor row is named: {found:?}"));
            }
            _ => {}
        }
        let now: Vec<(String, String)> =
            at.into_iter().map(|(part, was)| if part == *name { (part, other.clone()) } else { (part, was) }).collect();
        assert!(held.put(column, &now, &value).await, "{table}.{name} is put back");
    }
    assert!(wrong.is_empty(), "{} columns:\n{}", wrong.len(), wrong.join("\n"));
}

/// What cannot be read is named with its row, and what comes after it is looked at all the same.
#[tokio::test]
async fn what_cannot_be_read_is_named_and_the_rest_is_looked_at() {
    let api = own();
    let cast = api.cast().await;
    story(&api, &cast).await;
    let Some(mut held) = Held::copy_of(&api).await else { return };
    ends(&run(&held.store, &["verify"]).await, 0, " 0 differences");
    let mut due = Vec::new();
    for (table, name, value) in [
        ("members", "earlier_starts", "'[{'"),
        ("events", "body", "'{\"name\": 7'"),
        ("rounds", "played_on", "'a day'"),
        ("results", "card", "X'09'"),
        ("evidence_digests", "digest", "'none'"),
        ("evidence_rows", "state", "X'0102'"),
        ("journal_heads", "head", "'{}'"),
        ("putts", "distance_ft", "-5.0"),
        ("standings_changes", "moves", "'['"),
        ("attestations", "received_at", "'then'"),
    ] {
        let key = held.texts(format!("SELECT name FROM pragma_table_info('{table}') WHERE pk > 0 ORDER BY pk")).await;
        let column = Column { table: table.to_owned(), name: name.to_owned() };
        let (row, _) = held.first(&column, &key).await.unwrap_or_else(|| panic!("{table} has no row"));
        let at: Vec<(String, String)> = key.into_iter().zip(row).collect();
        assert!(held.put(&column, &at, value).await, "{table}.{name} takes {value}");
        let parts = at.iter().filter(|(part, _)| part != "league_id");
        due.push((table, parts.map(|(_, part)| said(part)).collect::<Vec<_>>()));
    }
    let told = run(&held.store, &["verify"]).await;
    ends(&told, 1, " differences");
    let told = String::from_utf8_lossy(&told.stdout).into_owned();
    for (table, row) in due {
        let is_named = |line: &str| line.contains(table) && row.iter().any(|part| line.contains(part));
        assert!(told.lines().any(is_named), "{table} {row:?} in {told}");
    }
}
