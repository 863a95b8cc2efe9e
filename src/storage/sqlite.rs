//! SQLite: a file with one writer and many readers.

use super::db::{Conn, Inner, StorageError, Value};
use sqlx::sqlite::{
    SqliteArguments, SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{Arguments, ConnectOptions, Connection, Executor, SqliteConnection};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// SQLite before this version can lose data in WAL mode.
const LEAST: (u32, u32, u32) = (3, 51, 3);
/// How many statements a connection keeps prepared.
const MOST_STATEMENTS: usize = 1000;
/// The code of a full disk.
pub(super) const DISK_FULL: &str = "13";

/// A file of SQLite.
#[derive(Clone)]
pub struct Sqlite {
    readers: SqlitePool,
    options: Arc<SqliteConnectOptions>,
}

impl Sqlite {
    pub(super) async fn open(path: &Path) -> Result<Self, StorageError> {
        let options = SqliteConnectOptions::new()
            .filename(path)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(Duration::from_secs(10))
            .pragma("secure_delete", "ON")
            .statement_cache_capacity(MOST_STATEMENTS)
            .disable_statement_logging();
        let mut first = options.connect().await?;
        check_version(&mut first).await?;
        sqlx::migrate!("migrations/sqlite").run(&mut first).await?;
        first.close().await?;
        let readers = SqlitePoolOptions::new()
            .max_connections(8)
            .test_before_acquire(false)
            .after_release(|connection, _| {
                Box::pin(async move {
                    // A reader that was dropped in mid-request leaves its read transaction open.
                    let _ = connection.execute("ROLLBACK").await;
                    Ok(true)
                })
            })
            .after_connect(|connection, _| Box::pin(check_durable(connection)))
            .connect_with(options.clone())
            .await?;
        Ok(Self { readers, options: Arc::new(options) })
    }

    pub(super) async fn reader(&self) -> Result<Conn, StorageError> {
        Ok(Conn(Inner::Pooled(self.readers.acquire().await?)))
    }

    pub(super) async fn writer(&self) -> Result<Conn, StorageError> {
        let options = self.options.as_ref().clone();
        let options = options.pragma("cache_size", "-65536").pragma("wal_autocheckpoint", "8000");
        let mut connection = options.connect().await?;
        check_durable(&mut connection).await?;
        Ok(Conn(Inner::Own(connection)))
    }

    pub(super) async fn close(&self) {
        self.readers.close().await;
    }
}

pub(super) fn arguments(values: Vec<Value>) -> Result<SqliteArguments, StorageError> {
    let mut arguments = SqliteArguments::default();
    for value in values {
        let added = match value {
            Value::Null => arguments.add(None::<i64>),
            Value::Flag(flag) => arguments.add(flag),
            Value::Int(n) => arguments.add(n),
            Value::Real(x) => arguments.add(x),
            Value::Text(text) => arguments.add(text),
            Value::Id(id) => arguments.add(id),
            Value::Bytes(bytes) => arguments.add(bytes),
        };
        added.map_err(sqlx::Error::Encode)?;
    }
    Ok(arguments)
}

/// Writes the places of so many values, in rows.
pub(super) fn placeholders(width: usize, values: usize) -> String {
    let row = format!("({})", vec!["?"; width].join(","));
    vec![row; values / width].join(",")
}

async fn check_version(connection: &mut SqliteConnection) -> Result<(), StorageError> {
    let version: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(connection).await?;
    let mut parts = version.split('.').map(|part| part.parse().unwrap_or(0));
    let mut next = || parts.next().unwrap_or(0);
    if (next(), next(), next()) < LEAST {
        return Err(StorageError::NotDurable(format!("SQLite {version} can lose data; 3.51.3 or later is needed")));
    }
    Ok(())
}

/// `synchronous` belongs to a connection, not to the file: read it back on each.
async fn check_durable(connection: &mut SqliteConnection) -> Result<(), sqlx::Error> {
    let synchronous: i64 = sqlx::query_scalar("PRAGMA synchronous").fetch_one(&mut *connection).await?;
    let journal: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(&mut *connection).await?;
    let foreign_keys: i64 = sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(&mut *connection).await?;
    if (synchronous, journal.as_str(), foreign_keys) == (2, "wal", 1) {
        return Ok(());
    }
    let found = format!("synchronous {synchronous}, journal {journal}, foreign keys {foreign_keys}");
    Err(sqlx::Error::Configuration(format!("the database is not durable: {found}").into()))
}
