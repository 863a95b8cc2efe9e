//! PostgreSQL as a full equal: a league moves there and back unchanged, and each statement of a league's rounds touches
//! one partition.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use crate::support::store::{self, TestStore};
use evenfield::demo::{DemoTerms, league};
use evenfield::domain::ids::LeagueId;
use evenfield::league::Leagues;
use evenfield::league::jobs::backups::{RestoreTerms, restore};
use evenfield::startup::{open, system_clock};
use evenfield::storage::Store;
use evenfield::storage::lasting::LastingActs;
use evenfield::wire::bundle::line::Line;
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, Row};
use std::collections::BTreeSet;
use std::fs;
use tokio::sync::mpsc;

const TABLES: [&str; 3] = ["rounds", "holes", "putts"];

fn demo() -> Vec<Line> {
    let terms = DemoTerms { seed: 7, players: 16, events: 8, today: "2026-11-02".parse().unwrap() };
    league(&terms).lines
}

async fn filled(store: &TestStore, lines: &[Line]) -> (Leagues, LeagueId) {
    let leagues = open(&store.store, system_clock()).await.unwrap();
    let mut import = leagues.import().await.unwrap();
    for line in lines {
        import.add(line).await.unwrap();
    }
    let (league, _) = import.finish().await.unwrap();
    (leagues, league)
}

async fn exported(leagues: &Leagues, league: LeagueId) -> Vec<String> {
    let (sender, mut receiver) = mpsc::channel(64);
    let leagues = leagues.clone();
    let export = tokio::spawn(async move { leagues.export(league, sender).await });
    let mut lines = Vec::new();
    while let Some(line) = receiver.recv().await {
        lines.push(line.to_json());
    }
    export.await.unwrap().unwrap();
    lines
}

#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn a_league_moves_to_postgresql_and_back_unchanged() {
    let server = store::server().expect("EVENFIELD_TEST_POSTGRES");
    let stores = [TestStore::file(), TestStore::on(&server), TestStore::file(), TestStore::on(&server)];
    let mut lines = demo();
    let mut first = None;
    for store in &stores {
        let (leagues, league) = filled(store, &lines).await;
        let differences = leagues.verify().await.unwrap().differences;
        assert!(differences.is_empty(), "{:?}: {differences:#?}", store.store);
        let out = exported(&leagues, league).await;
        assert!(out.len() > 100, "the league has hardly a line");
        lines = out.iter().map(|line| Line::read(line.as_bytes()).unwrap()).collect();
        let first = first.get_or_insert_with(|| out.clone());
        assert!(*first == out, "{:?} changed the league", store.store);
    }
}

/// The partitions that a plan would look into, or, where it was run, has looked into.
fn partitions(plan: &[String]) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for line in plan.iter().filter(|line| line.contains("Scan") && !line.contains("never executed")) {
        // "Index Scan using … on rounds_3 r": the word after that is a name of the plan's own.
        let relation = line.split_once(" on ").map_or("", |(_, rest)| rest);
        let number = TABLES.iter().find_map(|table| relation.strip_prefix(table)?.strip_prefix('_'));
        let digits: String = number.unwrap_or_default().chars().take_while(char::is_ascii_digit).collect();
        if !digits.is_empty() {
            found.insert(digits);
        }
    }
    found
}

async fn plan(conn: &mut PgConnection, sql: String) -> Vec<String> {
    let rows = conn.fetch_all(AssertSqlSafe(sql)).await.unwrap();
    rows.iter().map(|row| row.get(0)).collect()
}

/// Gives a statement that takes rows one of them, typed by the names of its columns.
fn with_a_row(sql: String) -> String {
    let Some((names, _)) = sql.split_once(") AS ( VALUES)") else { return sql };
    let names = names.rsplit_once('(').unwrap().1;
    let typed = |(n, name): (usize, &str)| {
        let kind = match name {
            "n" | "last_seq" => "bigint",
            "hash" => "bytea",
            "operation" => "text",
            _ => "uuid",
        };
        format!("${}::{kind}", n + 1)
    };
    let row: Vec<String> = names.split(", ").enumerate().map(typed).collect();
    sql.replace("( VALUES)", &format!("( VALUES ({}))", row.join(", ")))
}

/// PostgreSQL understands every statement and knows the type of every value that it is given.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn every_statement_is_understood() {
    let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
    let Store::Server(url) = &store.store else { panic!("not on PostgreSQL") };
    let mut conn = PgConnection::connect(url).await.unwrap();
    for file in fs::read_dir("src/storage/sql").unwrap() {
        let path = file.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let text = fs::read_to_string(&path).unwrap();
        // Heads have no values of their own; a file of SQLite alone counts its commits.
        let is_whole = !name.ends_with("_put_head") && !name.ends_with("_insert_head");
        if is_whole && !text.contains(" commits") {
            let sql = with_a_row(text);
            let prepared = conn.execute(AssertSqlSafe(format!("PREPARE s_{name} AS {sql}"))).await;
            assert!(prepared.is_ok(), "{name}: {prepared:?}");
        }
    }
}

/// Looks at the plan of every statement that names rounds, holes or putts, with its values known and unknown.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn a_statement_touches_one_partition() {
    let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
    let (leagues, league) = filled(&store, &demo()).await;
    let Store::Server(url) = &store.store else { panic!("not on PostgreSQL") };
    let mut conn = PgConnection::connect(url).await.unwrap();
    conn.execute("ANALYZE").await.unwrap();
    let round: uuid::Uuid =
        sqlx::query_scalar("SELECT round_id FROM round_leagues LIMIT 1").fetch_one(&mut conn).await.unwrap();
    let event: uuid::Uuid = sqlx::query_scalar("SELECT id FROM events LIMIT 1").fetch_one(&mut conn).await.unwrap();
    let member: uuid::Uuid =
        sqlx::query_scalar("SELECT member_id FROM results LIMIT 1").fetch_one(&mut conn).await.unwrap();
    let mut seen = 0;
    for file in fs::read_dir("src/storage/sql").unwrap() {
        let path = file.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let sql = with_a_row(fs::read_to_string(&path).unwrap());
        let names = |word: &str| TABLES.iter().any(|table| sql.contains(&format!("{word} {table}")));
        let reads = ["FROM", "JOIN", "UPDATE"].into_iter().any(names);
        // SQLite's own, and inserts, which go where their league says.
        if !reads || name == "round_get" || name.ends_with("_insert") {
            continue;
        }
        conn.execute(AssertSqlSafe(format!("PREPARE {name} AS {sql}"))).await.unwrap();
        let types: Vec<String> =
            sqlx::query_scalar("SELECT unnest(parameter_types)::text FROM pg_prepared_statements WHERE name = $1")
                .bind(&name)
                .fetch_all(&mut conn)
                .await
                .unwrap();
        let values: Vec<String> = types
            .iter()
            .enumerate()
            .map(|(n, kind)| match kind.as_str() {
                "uuid" if name == "hand_in_asked" => format!("'{event}'"),
                "uuid" if n == 0 && name != "round_get_postgres" => format!("'{league}'"),
                "uuid" if name == "result_list_by_member" => format!("'{member}'"),
                "uuid" => format!("'{round}'"),
                "bigint" => "1".to_owned(),
                "double precision" => "1.5".to_owned(),
                "boolean" => "false".to_owned(),
                _ => "'attested'".to_owned(),
            })
            .collect();
        let given = if values.is_empty() { String::new() } else { format!("({})", values.join(", ")) };
        // Which partition these need is known once it runs; the others know it before.
        let is_run = ["round_get_postgres", "hand_in_asked", "result_list_by_member"].contains(&name.as_str());
        for mode in ["force_custom_plan", "force_generic_plan"] {
            conn.execute(AssertSqlSafe(format!("SET plan_cache_mode = {mode}"))).await.unwrap();
            conn.execute("BEGIN").await.unwrap();
            let plan = plan(&mut conn, format!("EXPLAIN (ANALYZE {is_run}) EXECUTE {name} {given}")).await;
            conn.execute("ROLLBACK").await.unwrap();
            let found = partitions(&plan);
            assert!(found.len() == 1, "{name}, {mode}: partitions {found:?}\n{}", plan.join("\n"));
        }
        seen += 1;
    }
    assert!(seen >= 20, "only {seen} statements were looked at");
    drop(leagues);
}

/// What tells that a table or board is still the same is found by keys.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn a_mark_is_found_by_keys() {
    let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
    filled(&store, &demo()).await;
    let Store::Server(url) = &store.store else { panic!("not on PostgreSQL") };
    let mut conn = PgConnection::connect(url).await.unwrap();
    conn.execute("ANALYZE").await.unwrap();
    // A table of a few pages is read whole, whatever keys it has.
    conn.execute("SET enable_seqscan = off").await.unwrap();
    for name in ["season_shown_asked", "event_shown_asked"] {
        let sql = fs::read_to_string(format!("src/storage/sql/{name}.sql")).unwrap();
        let row = "VALUES (1, gen_random_uuid(), gen_random_uuid(), gen_random_uuid())";
        let plan = plan(&mut conn, format!("EXPLAIN {}", sql.replace("VALUES", row))).await;
        let whole = plan.iter().find(|line| line.contains("Seq Scan"));
        assert!(whole.is_none(), "{name}:\n{}", plan.join("\n"));
        let keyed = plan.iter().filter(|line| line.contains("Index")).count();
        assert!(keyed >= 3, "{name}:\n{}", plan.join("\n"));
    }
}

/// Sums what the indexes of a kind of table were read for, and says which tables of it PostgreSQL believes empty.
async fn looked_up(conn: &mut PgConnection, table: &str) -> (i64, Vec<String>) {
    let read = format!(
        "SELECT coalesce(sum(idx_tup_read), 0)::bigint FROM pg_stat_user_indexes WHERE relname ~ '^{table}_[0-9]+$'"
    );
    let read = conn.fetch_one(AssertSqlSafe(read)).await.unwrap().get(0);
    let unseen = format!(
        "SELECT relname::text FROM pg_class WHERE relname ~ '^{table}_[0-9]+$' AND relkind = 'r' AND reltuples <= 0 \
         AND pg_relation_size(oid) > 0"
    );
    let unseen = conn.fetch_all(AssertSqlSafe(unseen)).await.unwrap();
    (read, unseen.iter().map(|row| row.get(0)).collect())
}

/// A league of many rounds comes in, by import and by restore, without looking for each row among all others, and
/// PostgreSQL knows afterwards how much there is.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn what_came_in_is_known_to_the_planner() {
    const ROUNDS: i64 = 600;
    let server = store::server().expect("EVENFIELD_TEST_POSTGRES");
    let mut bundle = Vec::new();
    evenfield::demo::big_bundle(3, ROUNDS as usize, &mut bundle).unwrap();
    let lines = bundle.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    let lines: Vec<Line> = lines.map(|line| Line::read(line).unwrap()).collect();
    let stores = [TestStore::on(&server), TestStore::on(&server)];
    let (leagues, _) = filled(&stores[0], &lines).await;
    let folder = tempfile::TempDir::new().unwrap();
    let file = folder.path().join("a.backup");
    leagues.backup(&file).await.unwrap();
    leagues.database.close().await;
    let terms = RestoreTerms {
        file,
        store: stores[1].store.clone(),
        lasting: LastingActs(None),
        replace: false,
        clock: system_clock(),
    };
    restore(terms).await.unwrap();
    for store in &stores {
        let Store::Server(url) = &store.store else { panic!("not on PostgreSQL") };
        let mut conn = PgConnection::connect(url).await.unwrap();
        // What connections did is counted when they end, or a second later.
        tokio::time::sleep(std::time::Duration::from_millis(1500)).await;
        for table in TABLES {
            let (read, unseen) = looked_up(&mut conn, table).await;
            assert!(unseen.is_empty(), "{unseen:?} are believed to be empty");
            // Eighteen holes refer to their round, and as many rows as it has are read a few times.
            assert!(read < ROUNDS * 500, "{read} entries of indexes of {table} were read for {ROUNDS} rounds");
        }
    }
}
