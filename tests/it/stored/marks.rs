//! What tells that a table or board is still the same: how little it touches, and that a crowd is told each its own.

use crate::support::harness::{Api, Cast, Night, id, own, round, shared};
use crate::support::store::TestStore;
use evenfield::storage::{Database, Store};
use futures_util::future::join_all;
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, Row, SqliteConnection};

async fn night() -> (Api, Cast, Night) {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    (api, cast, night)
}

fn paths(night: &Night) -> [String; 2] {
    [format!("/seasons/{}/standings", night.season), format!("/events/{}/board", night.event)]
}

/// Members, an outsider, somebody who has signed out, and things that are not there: asked for at once, so that they share
/// statements, and each answered as if alone.
#[tokio::test]
async fn in_a_crowd_each_is_told_its_own() {
    let (api, cast, night) = night().await;
    let gone = api.person("Gwen").await;
    api.delete("/sessions/current").by(&gone).expect(204).await;
    for path in paths(&night) {
        let tag = api.get(&path).by(&cast.ann).expect(200).await.etag();
        let missing = path.replace(&night.season, &id()).replace(&night.event, &id());
        let crowd = (0..150).map(|n| match n % 5 {
            0 => (api.get(&path).by(&cast.ann).with("if-none-match", &tag), 304),
            1 => (api.get(&path).by(&cast.ben), 200),
            2 => (api.get(&path).by(&cast.otto).with("if-none-match", &tag), 404),
            3 => (api.get(&path).by(&gone).with("if-none-match", &tag), 401),
            _ => (api.get(&missing).by(&cast.ann).with("if-none-match", &tag), 404),
        });
        let asked = crowd.map(|(call, expected)| async move { (call.send().await.status, expected) });
        for (status, expected) in join_all(asked).await {
            assert_eq!(status, expected, "{path}");
        }
    }
}

/// The right to see it and the mark are all that is read: with every other table out of the way the answer is the same.
#[tokio::test]
async fn an_unchanged_table_reads_its_mark_and_who_may_see_it() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let mut tags = Vec::new();
    for path in paths(&night) {
        tags.push((path.clone(), api.get(&path).by(&cast.ann).expect(200).await.etag()));
    }
    put_away(&api.server.store().store, &["seasons", "events", "members", "sessions"]).await;
    for (path, tag) in &tags {
        api.get(path).by(&cast.ann).with("if-none-match", tag).expect(304).await;
    }
    // A table that is not kept cannot be made.
    let other = format!("{}?after_event={}", tags[0].0, night.event);
    assert_eq!(api.get(other).by(&cast.ann).send().await.status / 100, 5);
}

/// Renames every table but some.
async fn put_away(store: &Store, but: &[&str]) {
    let rename = |table: &String| format!("ALTER TABLE {table} RENAME TO away_{table}");
    let names = |names: Vec<String>| names.into_iter().filter(|name| !but.contains(&name.as_str()));
    match store {
        Store::File(path) => {
            let mut conn = SqliteConnection::connect(path.to_str().expect("a path")).await.expect("it opens");
            let sql = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'";
            let found = sqlx::query_scalar(sql).fetch_all(&mut conn).await.expect("tables");
            for table in names(found) {
                conn.execute(AssertSqlSafe(rename(&table))).await.expect("renamed");
            }
        }
        Store::Server(url) => {
            let mut conn = PgConnection::connect(url).await.expect("it opens");
            let sql = "SELECT relname::text FROM pg_class WHERE relkind IN ('r', 'p') AND NOT relispartition
                AND relnamespace = 'public'::regnamespace";
            let found = sqlx::query_scalar(sql).fetch_all(&mut conn).await.expect("tables");
            for table in names(found) {
                conn.execute(AssertSqlSafe(rename(&table))).await.expect("renamed");
            }
        }
    }
}

/// Each of these is one row, found by a key. (`tests/postgres.rs` asks PostgreSQL.)
#[tokio::test]
async fn a_mark_is_found_by_keys() {
    let store = TestStore::file();
    let Store::File(path) = &store.store else { panic!("not a file") };
    Database::open(&store.store).await.expect("it opens").close().await;
    let mut conn = SqliteConnection::connect(path.to_str().expect("a path")).await.expect("it opens");
    let texts = [
        include_str!("../../../src/storage/sql/season_shown_asked.sql"),
        include_str!("../../../src/storage/sql/event_shown_asked.sql"),
    ];
    for text in texts {
        let sql = format!("EXPLAIN QUERY PLAN {}", text.replace("VALUES", "VALUES (?, ?, ?, ?)"));
        let rows = conn.fetch_all(AssertSqlSafe(sql)).await.expect("a plan");
        let plan: Vec<String> = rows.iter().map(|row| row.get(3)).collect();
        for key in ["s USING", "m USING", "o USING"].map(|key| format!("SEARCH {key}")) {
            assert!(plan.iter().any(|line| line.contains(&key)), "no {key}:\n{}", plan.join("\n"));
        }
    }
}
