//! A file of SQLite that is not what was written to it (R9, F5).

use super::backup::{ends, run};
use crate::support::harness::{own, round};
use crate::support::store::TestStore;
use evenfield::storage::{Database, Store};
use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, Executor, PgConnection, Row, SqliteConnection};
use std::fs;
use std::path::{Path, PathBuf};
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
    ends(&run(&store, &["restore", &backup, "--without-lasting-acts"]).await, 0, "1 rounds");
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
    let options = SqliteConnectOptions::new().filename(path).create_if_missing(true);
    options.connect().await.expect("a file of SQLite")
}

/// Before a file is brought up to date it is copied, so that a migration that goes wrong loses nothing.
#[tokio::test]
async fn a_migration_is_preceded_by_a_copy() {
    let store = TestStore::file();
    let Store::File(path) = &store.store else { unreachable!("a file was asked for") };
    let migrations = Migrator::new(Path::new("migrations/sqlite")).await.expect("the migrations");
    let known = migrations.iter().map(|migration| migration.version).max().expect("a migration");
    let mut earlier = connection(path).await;
    migrations.run_to(known - 1, &mut earlier).await.expect("an earlier schema");
    let account =
        "INSERT INTO accounts VALUES (randomblob(16), 'ann@example.org', 'hash', 'Ann', '2027-01-14T20:00:00Z')";
    earlier.execute(account).await.expect("a row");
    earlier.close().await.expect("closed");
    Database::open(&store.store).await.expect("it is brought up to date").close().await;
    let copy = PathBuf::from(format!("{}.before-schema-{known}", path.display()));
    let mut before = connection(&copy).await;
    let row = before.fetch_one("SELECT max(version), (SELECT email FROM accounts) FROM _sqlx_migrations").await;
    let row = row.expect("the copy holds what was there");
    assert_eq!((row.get::<i64, _>(0), row.get::<String, _>(1)), (known - 1, "ann@example.org".into()));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(&copy).expect("it is there").permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "others may read the copy");
    }
    // A second start has nothing to do, and a new database nothing to copy.
    fs::remove_file(&copy).expect("it is there");
    Database::open(&store.store).await.expect("it opens").close().await;
    let new = TestStore::file();
    Database::open(&new.store).await.expect("it opens").close().await;
    let Store::File(new) = &new.store else { unreachable!("a file was asked for") };
    for path in [path, new] {
        let folder = fs::read_dir(path.parent().expect("a folder")).expect("the folder");
        let names: Vec<String> =
            folder.map(|file| file.expect("a file").file_name().to_string_lossy().into()).collect();
        assert!(!names.iter().any(|name| name.contains("before-schema")), "{names:?}");
    }
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
