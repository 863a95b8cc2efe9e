//! Somebody else's SQL beside the server runs into its changes: PostgreSQL gives the server's up, which runs them again.

use crate::support::harness::{Api, Cast, Night, Seen, id, own, round};
use evenfield::storage::Store;
use futures_util::future::join_all;
use serde_json::json;
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, Row};
use std::time::Duration;

/// A session beside the server.
struct Beside(PgConnection);

impl Beside {
    /// Opens one that is never the one given up: the server looks for deadlocks long before it does.
    async fn of(api: &Api) -> Self {
        let Store::Server(url) = &api.server.store().store else { panic!("not on PostgreSQL") };
        let mut conn = PgConnection::connect(url).await.expect("a connection");
        conn.execute("SET deadlock_timeout = '1min'").await.expect("set");
        Self(conn)
    }

    async fn run(&mut self, sql: &str) {
        self.0.execute(AssertSqlSafe(sql.to_owned())).await.expect("it runs");
    }

    async fn hold(&mut self, table: &str, row: &str) {
        self.run(&format!("SELECT 1 FROM {table} WHERE id = '{row}' FOR UPDATE")).await;
    }

    /// Returns a count once it is as wanted, or what it is after a while.
    ///
    /// What connections did is counted a little later, after ten seconds at most.
    async fn count(&mut self, sql: &str, is_as_wanted: impl Fn(i64) -> bool) -> i64 {
        let mut count = 0;
        for _ in 0..60_000 {
            // A transaction looks only once, unless it is told to forget what it saw.
            self.run("SELECT pg_stat_clear_snapshot()").await;
            count = self.0.fetch_one(AssertSqlSafe(sql.to_owned())).await.expect("a count").get(0);
            if is_as_wanted(count) {
                break;
            }
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        count
    }

    /// Waits until so many of the server's connections wait for what this session holds.
    async fn until_waiting(&mut self, wanted: i64) {
        let sql = "SELECT count(*) FROM pg_stat_activity WHERE pg_backend_pid() = ANY(pg_blocking_pids(pid))";
        let waiting = self.count(sql, |waiting| waiting == wanted).await;
        assert_eq!(waiting, wanted, "that many connections of the server wait");
    }

    /// Returns how many deadlocks there were in this database, waiting until there are as many as wanted. There may be
    /// more: a change that is run again can be first at the lock once more.
    async fn deadlocks(&mut self, wanted: i64) -> i64 {
        let sql = "SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()";
        self.count(sql, |deadlocks| deadlocks >= wanted).await
    }
}

async fn journal(api: &Api, cast: &Cast, night: &Night) -> usize {
    let path = format!("/leagues/{}/journal?limit=200", night.league);
    api.get(path).by(&cast.olga).expect(200).await.json()["items"].as_array().expect("items").len()
}

async fn is_sound(api: &Api) {
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
}

/// Changes that share a commit are all run again when one of them is in a deadlock: each counts once.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn changes_that_share_a_deadlock_are_made_once_each() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (mut gate, mut beside) = (Beside::of(&api).await, Beside::of(&api).await);
    let entries = journal(&api, &cast, &night).await;
    let members = format!("/leagues/{}/members", night.league);
    let setups = format!("/leagues/{}/setups", night.league);

    gate.run("BEGIN").await;
    gate.hold("leagues", &night.league).await;
    beside.run("BEGIN").await;
    beside.hold("members", &night.ann).await;
    let new = |name: &str| api.post(&members, &json!({ "display_name": name })).by(&cast.olga).key(&id());
    // The first takes the lane; those behind it share the next commit.
    let first = tokio::spawn(new("Ira").send());
    gate.until_waiting(1).await;
    let commits = api.server.app.leagues.writer.commits();
    let others = [
        new("Ulla"),
        api.post(&setups, &json!({ "label": "Bay 9", "sensor": "camera" })).by(&cast.ann).key(&id()),
        new("Timo"),
    ];
    let others = tokio::spawn(join_all(others.map(|call| call.send())));
    for _ in 0..60_000 {
        if api.server.app.leagues.writer.waiting() == 3 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    gate.run("COMMIT").await;
    assert_eq!(first.await.expect("an answer").status, 201);
    beside.until_waiting(1).await;
    beside.hold("leagues", &night.league).await;
    beside.run("COMMIT").await;
    let statuses: Vec<u16> = others.await.expect("answers").iter().map(|seen| seen.status).collect();
    assert_eq!(statuses, [201, 201, 201]);

    assert!(beside.deadlocks(1).await >= 1, "there was no deadlock");
    assert_eq!(journal(&api, &cast, &night).await - entries, 4);
    let listed = [&members, &setups].map(|path| api.get(path).by(&cast.olga).expect(200));
    let listed: String = join_all(listed).await.iter().map(|seen| seen.text()).collect();
    for name in ["Ira", "Ulla", "Timo", "Bay 9"] {
        assert_eq!(listed.matches(&format!("\"{name}\"")).count(), 1, "{listed}");
    }
    is_sound(&api).await;
    assert_eq!(api.server.app.leagues.writer.commits() - commits, 2, "the changes did not share a commit");
}

/// Rounds that are stored together and run into a deadlock are stored all the same, once.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn rounds_in_a_deadlock_come_in_once() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let other = api.event(&cast, &night, json!({ "name": "Before" })).await;
    // After this the server knows the league's book, and rounds are stored together.
    api.hand_in(&other, &cast.ann, &round(&night.ann)).await;
    let mut beside = Beside::of(&api).await;
    beside.run("BEGIN").await;
    beside.hold("events", &night.event).await;
    let sends = [(&cast.ann, &night.ann), (&cast.ben, &night.ben)].map(|(person, member)| {
        api.post(format!("/events/{}/rounds", night.event), &round(member)).by(person).key(&id()).send()
    });
    let sent = tokio::spawn(join_all(sends));
    beside.until_waiting(1).await;
    beside.hold("leagues", &night.league).await;
    beside.run("COMMIT").await;
    for seen in sent.await.expect("answers") {
        assert_eq!(seen.status, 201, "{}", seen.text());
    }
    assert!(beside.deadlocks(1).await >= 1, "there was no deadlock");
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 2);
    is_sound(&api).await;
}

/// A change that is in the way of another for ever is told to come later, and has done nothing.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn a_deadlock_that_does_not_end_is_a_503_that_left_nothing() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let mut beside = Beside::of(&api).await;
    let entries = journal(&api, &cast, &night).await;
    let path = format!("/events/{}", night.event);
    let before = api.get(&path).by(&cast.olga).expect(200).await;
    let patch = || api.patch(&path, &json!({ "name": "Never" })).by(&cast.olga).matching(&before.etag());
    beside.run("BEGIN").await;
    beside.hold("events", &night.event).await;
    let sent = tokio::spawn(patch().once());
    while !sent.is_finished() {
        beside.run("SAVEPOINT league").await;
        beside.hold("leagues", &night.league).await;
        beside.run("ROLLBACK TO league").await;
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    let seen = sent.await.expect("an answer").problem("temporary-reduced-capacity");
    assert_eq!(seen.status, 503);
    assert!(seen.header("retry-after").parse::<u32>().is_ok_and(|wait| wait > 0));
    assert_eq!(beside.deadlocks(6).await, 6, "once, and five times again");
    beside.run("ROLLBACK").await;

    assert_eq!(api.get(&path).by(&cast.olga).expect(200).await.text(), before.text());
    assert_eq!(journal(&api, &cast, &night).await, entries);
    is_sound(&api).await;
    assert_eq!(patch().expect(200).await.json()["name"], "Never");
}

/// What an answer is made of is read from one state, whatever is committed between two of its statements.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn an_answer_of_several_statements_shows_one_state() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let paths = [
        format!("/rounds/{handed}"),
        format!("/rounds/{handed}/working"),
        format!("/events/{}/rounds", night.event),
        format!("/members/{}/handicap", night.ann),
        format!("/events/{}/board", night.event),
    ];
    let read = || join_all(paths.iter().map(|path| api.get(path).by(&cast.ann).send()));
    let texts = |seen: Vec<Seen>| seen.iter().map(Seen::text).collect::<Vec<_>>();
    // Nothing waits to be weighed after this.
    journal(&api, &cast, &night).await;
    // The server has not kept the board yet: it is made from the store.
    let fresh = Api::new(api.server.beside());
    let before = texts(read().await);
    let mut beside = Beside::of(&api).await;
    beside.run("BEGIN").await;
    beside.run("LOCK TABLE results IN ACCESS EXCLUSIVE MODE").await;
    let reads = paths.clone().map(|path| fresh.get(path).by(&cast.ann).send());
    let reading = tokio::spawn(join_all(reads));
    beside.until_waiting(5).await;
    beside.run("DELETE FROM results").await;
    beside.run("COMMIT").await;
    assert_eq!(texts(reading.await.expect("answers")), before);

    let fresh = Api::new(api.server.beside());
    for (path, before) in paths.iter().zip(before) {
        let after = fresh.get(path).by(&cast.ann).send().await.text();
        assert_ne!(after, before, "{path} does not read what was deleted");
    }
}
