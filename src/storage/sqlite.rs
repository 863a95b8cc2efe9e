//! SQLite: a file with one writer and many readers.

use super::db::{Conn, Inner, Value};
use super::error::StorageError;
use super::private;
use sqlx::sqlite::{
    SqliteArguments, SqliteConnectOptions, SqliteError, SqliteJournalMode, SqlitePool, SqlitePoolOptions,
    SqliteSynchronous,
};
use sqlx::{Arguments, ConnectOptions, Connection, Executor, Row as _, SqliteConnection};
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// SQLite before this version can lose data in WAL mode.
const LEAST: (u32, u32, u32) = (3, 51, 3);
/// How many statements a connection keeps prepared.
const MOST_STATEMENTS: usize = 1000;
/// The code of a full disk.
pub(super) const DISK_FULL: &str = "13";
/// The codes of a damaged file, and of one that is no database (sqlite.org/rescode.html).
const DAMAGED: [&str; 3] = ["11", "267", "26"];

/// A file of SQLite.
#[derive(Clone)]
pub struct Sqlite {
    readers: SqlitePool,
    options: Arc<SqliteConnectOptions>,
}

impl Sqlite {
    pub(super) async fn open(path: &Path) -> Result<Self, StorageError> {
        make(path).map_err(sqlx::Error::Io)?;
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

    /// Passes a file whose pages hold together (SQLite's `quick_check`).
    pub(super) async fn look_over(&self) -> Result<(), StorageError> {
        let mut connection = self.options.connect().await?;
        let found = said(sqlx::query_scalar("PRAGMA quick_check(1)").fetch_one(&mut connection).await)?;
        connection.close().await?;
        if found == "ok" { Ok(()) } else { Err(StorageError::Damaged(found)) }
    }

    /// Says the first thing that is wrong with a file.
    pub(super) async fn first_fault(&self) -> Result<Option<String>, StorageError> {
        let mut connection = self.options.connect().await?;
        let found = first_fault(&mut connection).await?;
        connection.close().await?;
        Ok(found)
    }

    pub(super) async fn close(&self) {
        self.readers.close().await;
    }
}

/// Makes a database that is not there yet, for its owner alone to read. SQLite gives the files beside it the same mode.
pub(super) fn make(path: &Path) -> io::Result<()> {
    match private::file().write(true).create_new(true).open(path) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => Err(error),
        _ => Ok(()),
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

/// Returns what SQLite says where a file is damaged, or none of its own.
pub(super) fn damage(error: &sqlx::Error) -> Option<String> {
    let error = error.as_database_error()?;
    error.try_downcast_ref::<SqliteError>()?;
    DAMAGED.contains(&error.code()?.as_ref()).then(|| error.message().to_owned())
}

/// What a check says; one that stumbles over a damaged page says so too.
fn said(outcome: Result<String, sqlx::Error>) -> Result<String, sqlx::Error> {
    Ok(outcome.or_else(|error| damage(&error).ok_or(error))?.replace('\n', " "))
}

/// Looks at every page, index and reference of a file and says the first thing that is wrong.
pub(super) async fn first_fault(connection: &mut SqliteConnection) -> Result<Option<String>, sqlx::Error> {
    let found = said(sqlx::query_scalar("PRAGMA integrity_check(1)").fetch_one(&mut *connection).await)?;
    if found != "ok" {
        return Ok(Some(found));
    }
    let row = connection.fetch_optional("PRAGMA foreign_key_check").await?;
    let table: Option<String> = row.map(|row| row.try_get(0)).transpose()?;
    Ok(table.map(|table| format!("a row of {table} refers to one that is not there")))
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
