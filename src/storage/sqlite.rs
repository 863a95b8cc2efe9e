//! SQLite: a file with one writer and many readers.

use super::acknowledged::{self, Acknowledged, Change};
use super::db::{Conn, Inner};
use super::error::StorageError;
use super::health::Health;
use super::migrations;
use super::private;
use super::row::Value;
use crate::sql;
use sqlx::migrate::Migrator;
use sqlx::sqlite::{
    SqliteArguments, SqliteConnectOptions, SqliteError, SqliteJournalMode, SqlitePool, SqlitePoolOptions,
    SqliteSynchronous,
};
use sqlx::{Arguments, ConnectOptions, Connection, Executor, Row as _, SqliteConnection};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// SQLite before this version can lose data in WAL mode.
const LEAST: (u32, u32, u32) = (3, 51, 3);
/// How many statements a connection keeps prepared.
const MOST_STATEMENTS: usize = 1000;
/// The code of a full disk.
pub(super) const DISK_FULL: &str = "13";
/// The primary codes of a damaged file, and of one that is no database (sqlite.org/rescode.html).
const DAMAGED: [u32; 2] = [11, 26];
/// The primary code of a file that cannot be written.
const READ_ONLY: u32 = 8;

/// How long the last checkpoint waits for those who still read or write.
const LAST_WAIT: Duration = Duration::from_secs(2);
/// How long the writer waits at most while the log is emptied beside it.
const WRITER_WAITS: Duration = Duration::from_millis(100);
/// The primary code of a file that somebody else holds.
const LOCKED: u32 = 5;

/// A file of SQLite.
#[derive(Clone)]
pub struct Sqlite {
    readers: SqlitePool,
    options: Arc<SqliteConnectOptions>,
    health: Health,
    /// Where it is written down what was acknowledged; nowhere for a file that was opened as it is.
    acknowledged: Option<Acknowledged>,
}

impl Sqlite {
    /// Opens a file that holds every change that was acknowledged.
    pub(super) async fn open(path: &Path) -> Result<Self, StorageError> {
        let (options, mut first) = connect(path).await?;
        let last = last_change(&mut first).await?;
        acknowledged::compare(path, last)?;
        bring_up_to_date(path, &mut first, &migrations::sqlite()).await?;
        let last = last_change(&mut first).await?;
        first.close().await?;
        let opened = Self::with(options).await?;
        let acknowledged = last.map(|last| Acknowledged::open(path, last)).transpose();
        Ok(Self { acknowledged: acknowledged.map_err(StorageError::Acknowledged)?, ..opened })
    }

    /// Opens a file from which nobody is told that it keeps anything: a working copy, or one that another takes the place of.
    pub(super) async fn open_as_it_is(path: &Path) -> Result<Self, StorageError> {
        let (options, mut first) = connect(path).await?;
        bring_up_to_date(path, &mut first, &migrations::sqlite()).await?;
        first.close().await?;
        Self::with(options).await
    }

    async fn with(options: SqliteConnectOptions) -> Result<Self, StorageError> {
        // Connections stay open: the last one that is closed removes the log.
        let readers = SqlitePoolOptions::new()
            .max_connections(8)
            .idle_timeout(None)
            .max_lifetime(None)
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
        // Reading opens the log.
        readers.acquire().await?.execute("SELECT count(*) FROM sqlite_master").await?;
        let path = options.get_filename();
        let health = Health::of_files(&[path, &log_of(path)]).map_err(|_| StorageError::Moved(path.to_owned()))?;
        Ok(Self { readers, options: Arc::new(options), health, acknowledged: None })
    }

    /// Says whether changes can be kept.
    pub(super) fn check(&self) -> Result<(), StorageError> {
        self.health.check()
    }

    pub(super) async fn reader(&self) -> Result<Conn, StorageError> {
        // A new connection would open what stands at the path now.
        if self.readers.num_idle() == 0 {
            self.health.check_place()?;
        }
        let inner = Inner::Pooled(self.readers.acquire().await?);
        Ok(Conn::new(inner, self.health.clone()))
    }

    pub(super) async fn writer(&self) -> Result<Conn, StorageError> {
        self.health.check_place()?;
        let options = self.options.as_ref().clone();
        let options = options.pragma("cache_size", "-65536").pragma("wal_autocheckpoint", "8000");
        let mut connection = options.connect().await?;
        check_durable(&mut connection).await?;
        let connection = Conn::new(Inner::Own(connection), self.health.clone());
        Ok(connection.acknowledged_in(self.acknowledged.clone()))
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

    /// Takes no more changes, closes the connections that read, and empties the log into the file.
    pub(super) async fn close(&self) {
        self.health.stop();
        self.readers.close().await;
        if let Some(Err(error)) = self.acknowledged.as_ref().map(Acknowledged::sync) {
            tracing::warn!(error = error.to_string(), "the file that says what was acknowledged cannot be synced");
        }
        match self.emptied_within(LAST_WAIT).await {
            Ok(true) => {}
            Ok(false) => tracing::warn!("others use the database: its -wal stays, and belongs to it"),
            Err(error) => tracing::warn!(error = error.to_string(), "the -wal stays, and belongs to the database"),
        }
    }

    /// Moves the log into the file and empties it, while the writer waits at most so long; `false`: somebody still reads an
    /// earlier state, or writes.
    async fn emptied_within(&self, wait: Duration) -> Result<bool, StorageError> {
        self.health.check_place()?;
        let mut connection = self.options.as_ref().clone().busy_timeout(wait).connect().await?;
        // Most of it goes into the file beside the writer, so that the rest is short.
        connection.execute("PRAGMA wal_checkpoint(PASSIVE)").await?;
        let emptied = sqlx::query_scalar::<_, i64>("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(&mut connection).await;
        connection.close().await?;
        match emptied {
            Ok(is_busy) => Ok(is_busy == 0),
            Err(error) if is_locked(&error) => Ok(false),
            Err(error) => Err(error.into()),
        }
    }

    /// Moves the log into the file and empties it, beside the writer; `false`: somebody still reads an earlier state.
    pub(super) async fn empty_log(&self) -> Result<bool, StorageError> {
        self.emptied_within(WRITER_WAITS).await
    }
}

/// Returns where the log of a file is.
pub fn log_of(path: &Path) -> PathBuf {
    PathBuf::from(format!("{}-wal", path.display()))
}

async fn connect(path: &Path) -> Result<(SqliteConnectOptions, SqliteConnection), StorageError> {
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
    make(path).map_err(sqlx::Error::Io)?;
    let mut first = options.connect().await?;
    check_version(&mut first).await?;
    Ok((options, first))
}

async fn has_table(connection: &mut SqliteConnection, name: &str) -> Result<bool, sqlx::Error> {
    let sql = "SELECT EXISTS (SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = $1)";
    sqlx::query_scalar(sql).bind(name).fetch_one(connection).await
}

/// Returns the last change of a file; none of one that nothing was stored in.
async fn last_change(connection: &mut SqliteConnection) -> Result<Option<Change>, StorageError> {
    if !has_table(connection, "commits").await? {
        return Ok(None);
    }
    let (database, n) = sqlx::query_as(sql!("commit_last")).fetch_one(connection).await?;
    Ok(Some(Change { database, n }))
}

/// Runs the migrations that a file lacks, once it is copied beside itself.
async fn bring_up_to_date(
    path: &Path,
    connection: &mut SqliteConnection,
    migrations: &Migrator,
) -> Result<(), StorageError> {
    if has_table(connection, "_sqlx_migrations").await? {
        let found: Option<i64> =
            sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations").fetch_one(&mut *connection).await?;
        let (found, known) = (found.unwrap_or(0), last_known(migrations));
        refuse_newer(found, known)?;
        if 0 < found && found < known {
            let copy = PathBuf::from(format!("{}.before-schema-{known}", path.display()));
            copy_whole(connection, &copy)
                .await
                .map_err(|error| StorageError::NoCopyBefore(copy.clone(), Box::new(error)))?;
            let copy = copy.display().to_string();
            tracing::info!(copy, found, known, "the database was copied and is brought up to date");
        }
    }
    Ok(migrations.run(connection).await?)
}

/// Returns the number of the last migration that this program knows.
pub(super) fn last_known(migrations: &Migrator) -> i64 {
    migrations.iter().map(|migration| migration.version).max().unwrap_or(0)
}

/// Passes the number of the last migration of a file of SQLite, such as a backup holds, if this program knows it.
///
/// # Errors
/// [`StorageError::Newer`].
pub fn knows_schema(found: i64) -> Result<(), StorageError> {
    refuse_newer(found, last_known(&migrations::sqlite()))
}

/// Passes a database whose last migration this program knows.
pub(super) fn refuse_newer(found: i64, known: i64) -> Result<(), StorageError> {
    if found > known { Err(StorageError::Newer { found, known }) } else { Ok(()) }
}

/// Copies what a connection sees to a file that its owner alone can read; it is on disk with its name when this returns.
async fn copy_whole(connection: &mut SqliteConnection, to: &Path) -> Result<(), StorageError> {
    let making = to.with_added_extension("making");
    let _ = fs::remove_file(&making);
    // SQLite copies into an empty file and leaves its permissions as they are.
    make(&making).map_err(|error| StorageError::Database(error.into()))?;
    let copied = sqlx::query("VACUUM INTO $1").bind(making.display().to_string()).execute(connection).await;
    let named = copied.map_err(StorageError::from).and_then(|_| {
        let named = File::open(&making).and_then(|file| file.sync_all()).and_then(|()| fs::rename(&making, to));
        named.and_then(|()| private::sync_name(to)).map_err(|error| StorageError::Database(error.into()))
    });
    if named.is_err() {
        let _ = fs::remove_file(&making);
    }
    named
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
    let is_damage = DAMAGED.contains(&primary_code(error)?);
    is_damage.then(|| error.as_database_error().map(|error| error.message().to_owned())).flatten()
}

/// Says whether SQLite refused to write to a file.
pub(super) fn is_read_only(error: &sqlx::Error) -> bool {
    primary_code(error) == Some(READ_ONLY)
}

/// Returns the primary code of an error of SQLite: extended ones have it in their last byte.
pub(super) fn primary_code(error: &sqlx::Error) -> Option<u32> {
    let error = error.as_database_error()?;
    error.try_downcast_ref::<SqliteError>()?;
    error.code()?.parse::<u32>().ok().map(|code| code & 0xff)
}

fn is_locked(error: &sqlx::Error) -> bool {
    primary_code(error) == Some(LOCKED)
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Before a file is brought up to date it is copied, so that a migration that goes wrong loses nothing.
    #[tokio::test]
    async fn a_migration_is_preceded_by_a_copy() {
        let folder = tempfile::tempdir().unwrap();
        let (path, steps) = (folder.path().join("league.sqlite"), folder.path().join("migrations"));
        fs::create_dir(&steps).unwrap();
        fs::write(steps.join("0001_first.sql"), "CREATE TABLE things (name TEXT NOT NULL) STRICT").unwrap();
        let first = Migrator::new(steps.as_path()).await.unwrap();
        fs::write(steps.join("0002_second.sql"), "DELETE FROM things").unwrap();
        let both = Migrator::new(steps.as_path()).await.unwrap();
        let options = |path: &Path| SqliteConnectOptions::new().filename(path).create_if_missing(true);
        let copies = || {
            let names = fs::read_dir(folder.path()).unwrap().map(|file| file.unwrap().file_name());
            names.filter(|name| name.to_string_lossy().contains("before-schema")).collect::<Vec<_>>()
        };

        let mut file = options(&path).connect().await.unwrap();
        bring_up_to_date(&path, &mut file, &first).await.unwrap();
        bring_up_to_date(&path, &mut file, &first).await.unwrap();
        assert!(copies().is_empty(), "a new file and one that is up to date are not copied");
        file.execute("INSERT INTO things VALUES ('putter')").await.unwrap();
        bring_up_to_date(&path, &mut file, &both).await.unwrap();
        assert_eq!(copies(), ["league.sqlite.before-schema-2"]);
        let copy = folder.path().join("league.sqlite.before-schema-2");
        let mut before = options(&copy).connect().await.unwrap();
        let row = before.fetch_one("SELECT max(version), (SELECT name FROM things) FROM _sqlx_migrations").await;
        let row = row.unwrap();
        assert_eq!((row.get::<i64, _>(0), row.get::<String, _>(1)), (1, "putter".into()));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = fs::metadata(&copy).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600, "others may read the copy");
        }
    }
}
