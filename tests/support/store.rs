//! A database of a test's own: a file of SQLite, or, where `EVENFIELD_TEST_POSTGRES` names a server of PostgreSQL, a
//! database there. It goes with the test.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]
#![allow(dead_code, reason = "not every test uses all of it")]

use evenfield::storage::{Database, Store};
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};
use std::future::Future;
use std::sync::OnceLock;
use tempfile::TempDir;
use uuid::Uuid;

/// A database that is gone when this is dropped.
pub struct TestStore {
    /// Where it is.
    pub store: Store,
    /// Its folder, or the name of the database and of nothing else.
    _kept: Kept,
}

enum Kept {
    Folder { _folder: TempDir },
    Database(String),
}

/// Returns the server that tests are told to use.
pub fn server() -> Option<String> {
    std::env::var("EVENFIELD_TEST_POSTGRES").ok().filter(|url| !url.is_empty())
}

/// Returns the URL of a database on the server. The server may lose what it acknowledged: it is gone after the tests.
fn url(server: &str, name: &str) -> String {
    format!("{}/{name}?options[evenfield.volatile]=accepted", server.trim_end_matches('/'))
}

/// Runs something from wherever a test stands, inside a runtime or not.
fn apart<F: Future<Output = ()>>(work: impl FnOnce() -> F + Send + 'static) {
    std::thread::spawn(|| tokio::runtime::Runtime::new().unwrap().block_on(work())).join().unwrap();
}

fn command(server: &str, sql: String) {
    let url = url(server, "postgres");
    apart(|| async move {
        let mut conn = PgConnection::connect(&url).await.unwrap();
        conn.execute(AssertSqlSafe(sql)).await.unwrap();
        conn.close().await.unwrap();
    });
}

/// A database that was brought up to date, to make copies of.
fn template(server: &str) -> &'static str {
    static TEMPLATE: OnceLock<String> = OnceLock::new();
    TEMPLATE.get_or_init(|| {
        let name = format!("evenfield_template_{}", Uuid::new_v4().simple());
        command(server, format!("CREATE DATABASE {name}"));
        let store = Store::Server(url(server, &name));
        apart(|| async move { Database::open(&store).await.unwrap().close().await });
        name
    })
}

impl TestStore {
    /// Makes an empty database.
    pub fn new() -> Self {
        match server() {
            Some(server) => Self::on(&server),
            None => Self::file(),
        }
    }

    /// Makes an empty file of SQLite.
    pub fn file() -> Self {
        let folder = TempDir::new().unwrap();
        Self { store: Store::File(folder.path().join("league.sqlite")), _kept: Kept::Folder { _folder: folder } }
    }

    /// Makes a database on a server that no program has opened yet.
    pub fn unopened(server: &str) -> Self {
        Self::copy_of("template0", server)
    }

    /// Makes an empty database on a server.
    pub fn on(server: &str) -> Self {
        Self::copy_of(template(server), server)
    }

    /// Returns the words with which the program is told of it.
    pub fn url(&self) -> String {
        match &self.store {
            Store::File(path) => format!("sqlite:{}", path.display()),
            Store::Server(url) => url.clone(),
        }
    }

    /// Cuts every connection to the database, as a server of PostgreSQL does that stops.
    pub fn cut(&self) {
        if let (Kept::Database(name), Some(server)) = (&self._kept, server()) {
            let sql = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname =";
            command(&server, format!("{sql} '{name}'"));
        }
    }

    /// Has a database on a server take only reads, or changes again, from each session that begins afterwards.
    pub fn takes_only_reads(&self, only_reads: bool) {
        if let (Kept::Database(name), Some(server)) = (&self._kept, server()) {
            let set = if only_reads {
                "SET default_transaction_read_only = on"
            } else {
                "RESET default_transaction_read_only"
            };
            command(&server, format!("ALTER DATABASE {name} {set}"));
        }
    }

    fn copy_of(template: &str, server: &str) -> Self {
        let name = format!("evenfield_test_{}", Uuid::new_v4().simple());
        command(server, format!("CREATE DATABASE {name} TEMPLATE {template}"));
        Self { store: Store::Server(url(server, &name)), _kept: Kept::Database(name) }
    }
}

impl Drop for TestStore {
    fn drop(&mut self) {
        if let (Kept::Database(name), Some(server)) = (&self._kept, server()) {
            command(&server, format!("DROP DATABASE {name} WITH (FORCE)"));
        }
    }
}
