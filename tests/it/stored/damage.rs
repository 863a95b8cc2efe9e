//! A file of SQLite that is not what was written to it (R9, F5).

use super::backup::{ends, run};
use crate::support::harness::{own, round};
use crate::support::store::TestStore;
use evenfield::storage::{Database, Store};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, Executor, PgConnection, SqliteConnection};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// The size of a page of SQLite.
const PAGE: usize = 4096;

/// `verify` names the damage and exits with 1; a server refuses to start on such a file.
#[tokio::test]
async fn a_damaged_file_is_named_and_not_served() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let folder = TempDir::new().expect("a folder");
    let backup = folder.path().join("night.backup").display().to_string();
    ends(&run(api.server.store(), &["backup", &backup]).await, 0, "");
    let store = TestStore::new();
    // PostgreSQL looks after its own pages.
    let Store::File(path) = &store.store else { return };
    ends(&run(&store, &["restore", &backup, "--without-lasting-acts"]).await, 0, "1 round");
    ends(&run(&store, &["verify"]).await, 0, " 0 differences");
    let whole = fs::read(path).expect("the file");
    for page in [1, 3, 20, whole.len() / PAGE / 2, whole.len() / PAGE - 20] {
        let mut damaged = whole.clone();
        damaged[page * PAGE..(page + 1) * PAGE].fill(0xA5);
        fs::write(path, damaged).expect("written");
        ends(&run(&store, &["verify"]).await, 1, "the file of the database is damaged");
        let served = run(&store, &["serve", "--listen", "127.0.0.1:0"]).await;
        ends(&served, 2, "restore a backup");
    }
}

async fn connection(path: &Path) -> SqliteConnection {
    let options = SqliteConnectOptions::new().filename(path);
    options.connect().await.expect("a file of SQLite")
}

/// What a later program made is left alone.
#[tokio::test]
async fn a_newer_schema_is_told_as_such() {
    let store = TestStore::new();
    Database::open(&store.store).await.expect("it opens").close().await;
    let later = "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
                 SELECT 9999, description, success, checksum, execution_time FROM _sqlx_migrations WHERE version = 1";
    match &store.store {
        Store::File(path) => drop(connection(path).await.execute(later).await.expect("a later migration")),
        Store::Server(url) => {
            let mut server = PgConnection::connect(url).await.expect("the server");
            server.execute(AssertSqlSafe(later)).await.expect("a later migration");
        }
    }
    for words in [vec!["verify"], vec!["serve", "--listen", "127.0.0.1:0"]] {
        ends(&run(&store, &words).await, 2, "made by a newer evenfield");
    }
}
