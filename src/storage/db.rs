//! The one place that knows the database driver: connections, values, rows.

use jiff::Timestamp;
use jiff::civil::Date;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::{
    SqliteArguments, SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteRow,
    SqliteSynchronous,
};
use sqlx::{Arguments, ConnectOptions, Connection, Executor, Row as _, Sqlite, SqliteConnection};
use std::collections::HashMap;
use std::path::Path;
use std::str::FromStr;
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::Duration;
use uuid::Uuid;

/// SQLite before this version can lose data in WAL mode.
const LEAST_SQLITE: (u32, u32, u32) = (3, 51, 3);

/// How many statements a connection keeps prepared.
const MOST_STATEMENTS: usize = 400;

/// A failure of the store.
#[derive(Debug, thiserror::Error)]
pub enum StorageError {
    /// The database refused or failed.
    #[error("the database failed")]
    Database(#[from] sqlx::Error),
    /// A migration failed, or the database is newer than this program.
    #[error("the database could not be brought up to date")]
    Migration(#[from] sqlx::migrate::MigrateError),
    /// A stored row cannot be read as what it should be.
    #[error("table {table}, column {column}: {detail}")]
    Corrupt {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
        /// What is wrong with it.
        detail: String,
    },
    /// The database does not keep what it acknowledges.
    #[error("{0}")]
    NotDurable(String),
    /// The writer stopped or is full.
    #[error("the writer takes no more work now")]
    Busy,
}

impl StorageError {
    /// Returns whether a unique index or another constraint refused the change.
    pub fn is_conflict(&self) -> bool {
        matches!(self, StorageError::Database(sqlx::Error::Database(error)) if error.is_unique_violation())
    }

    /// Returns whether the disk is full.
    pub fn is_full(&self) -> bool {
        const SQLITE_FULL: &str = "13";
        let StorageError::Database(sqlx::Error::Database(error)) = self else { return false };
        error.code().is_some_and(|code| code == SQLITE_FULL)
    }
}

/// What a statement is given.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// NULL.
    Null,
    /// A whole number; also true and false.
    Int(i64),
    /// A real number.
    Real(f64),
    /// A text.
    Text(String),
    /// Bytes; also ids.
    Bytes(Vec<u8>),
}

macro_rules! value_from {
    ($($from:ty => |$x:ident| $value:expr),* $(,)?) => {$(
        impl From<$from> for Value {
            fn from($x: $from) -> Self { $value }
        }
    )*};
}

value_from! {
    i64 => |n| Value::Int(n),
    i32 => |n| Value::Int(n.into()),
    u32 => |n| Value::Int(n.into()),
    u8 => |n| Value::Int(n.into()),
    bool => |b| Value::Int(b.into()),
    f64 => |x| Value::Real(x),
    String => |s| Value::Text(s),
    &str => |s| Value::Text(s.to_owned()),
    &String => |s| Value::Text(s.clone()),
    Vec<u8> => |b| Value::Bytes(b),
    &[u8] => |b| Value::Bytes(b.to_vec()),
    [u8; 32] => |b| Value::Bytes(b.to_vec()),
    Uuid => |id| Value::Bytes(id.as_bytes().to_vec()),
    Timestamp => |at| Value::Text(at.to_string()),
    Date => |day| Value::Text(day.to_string()),
}

macro_rules! value_from_id {
    ($($id:ident),*) => {$(
        impl From<crate::domain::ids::$id> for Value {
            fn from(id: crate::domain::ids::$id) -> Self { id.0.into() }
        }
    )*};
}
value_from_id!(LeagueId, MemberId, SetupId, CourseId, TeeId, SeasonId, EventId, RoundId, ClientRoundId, AccountId);

impl<T: Into<Value>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Value::Null, Into::into)
    }
}

/// Makes a list of values for a statement.
#[macro_export]
macro_rules! values {
    ($($value:expr),* $(,)?) => { vec![$($crate::storage::db::Value::from($value)),*] };
}

/// A statement from its own file in `sql/`.
#[macro_export]
macro_rules! sql {
    ($($name:literal),+) => {
        include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/src/storage/sql/", $($name,)+ ".sql"))
    };
}

/// A row of an answer.
pub struct Row(SqliteRow);

impl Row {
    /// Reads a column.
    ///
    /// # Errors
    /// A column that is not there or holds something else.
    pub fn get<'r, T: sqlx::Decode<'r, Sqlite> + sqlx::Type<Sqlite>>(&'r self, name: &str) -> Result<T, StorageError> {
        Ok(self.0.try_get(name)?)
    }

    /// Reads an id.
    ///
    /// # Errors
    /// Anything that is not 16 bytes.
    pub fn id<T: From<Uuid>>(&self, name: &str) -> Result<T, StorageError> {
        Ok(T::from(self.get::<Uuid>(name)?))
    }

    /// Reads an id that may be missing.
    ///
    /// # Errors
    /// Anything else.
    pub fn optional_id<T: From<Uuid>>(&self, name: &str) -> Result<Option<T>, StorageError> {
        Ok(self.get::<Option<Uuid>>(name)?.map(T::from))
    }

    /// Reads a text that its type can parse.
    ///
    /// # Errors
    /// A text that it cannot.
    pub fn parsed<T: FromStr>(&self, table: &'static str, column: &'static str) -> Result<T, StorageError> {
        let text: String = self.get(column)?;
        text.parse().map_err(|_| StorageError::Corrupt { table, column, detail: format!("{text:?} cannot be read") })
    }

    /// Reads a JSON text.
    ///
    /// # Errors
    /// A text that its type refuses.
    pub fn json<T: serde::de::DeserializeOwned>(
        &self,
        table: &'static str,
        column: &'static str,
    ) -> Result<T, StorageError> {
        let text: String = self.get(column)?;
        serde_json::from_str(&text).map_err(|error| StorageError::Corrupt { table, column, detail: error.to_string() })
    }
}

enum Inner {
    Pooled(PoolConnection<Sqlite>),
    Own(SqliteConnection),
}

/// A connection to the database.
pub struct Conn(Inner);

/// The most rows of one statement, a power of two: few different statements, each prepared once.
const MOST_ROWS: usize = 256;

/// Returns how many of so many rows the next statement takes.
fn block_of(rows: usize) -> usize {
    if rows >= MOST_ROWS { MOST_ROWS } else { 1 << rows.ilog2() }
}

/// What a wide statement is made of: head, columns, rows, tail.
type WideParts = (&'static str, usize, usize, &'static str);

/// Returns the statement that takes so many rows of values; each is written once and stays.
fn wide(head: &'static str, width: usize, rows: usize, tail: &'static str) -> &'static str {
    static KNOWN: LazyLock<Mutex<HashMap<WideParts, &'static str>>> = LazyLock::new(Mutex::default);
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    known.entry((head, width, rows, tail)).or_insert_with(|| {
        let row = format!("({})", vec!["?"; width].join(","));
        format!("{head} VALUES {}{tail}", vec![row; rows].join(",")).leak()
    })
}

fn arguments(values: impl IntoIterator<Item = Value>) -> Result<SqliteArguments, StorageError> {
    let mut arguments = SqliteArguments::default();
    for value in values {
        let added = match value {
            Value::Null => arguments.add(None::<i64>),
            Value::Int(n) => arguments.add(n),
            Value::Real(x) => arguments.add(x),
            Value::Text(text) => arguments.add(text),
            Value::Bytes(bytes) => arguments.add(bytes),
        };
        added.map_err(sqlx::Error::Encode)?;
    }
    Ok(arguments)
}

impl Conn {
    fn driver(&mut self) -> &mut SqliteConnection {
        match &mut self.0 {
            Inner::Pooled(connection) => connection,
            Inner::Own(connection) => connection,
        }
    }

    /// Runs a statement; returns how many rows it touched.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn run(&mut self, sql: &'static str, values: Vec<Value>) -> Result<u64, StorageError> {
        Ok(sqlx::query_with(sql, arguments(values)?).execute(self.driver()).await?.rows_affected())
    }

    /// Reads all rows.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn rows(&mut self, sql: &'static str, values: Vec<Value>) -> Result<Vec<Row>, StorageError> {
        let rows = sqlx::query_with(sql, arguments(values)?).fetch_all(self.driver()).await?;
        Ok(rows.into_iter().map(Row).collect())
    }

    /// Reads the first row.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn row(&mut self, sql: &'static str, values: Vec<Value>) -> Result<Option<Row>, StorageError> {
        Ok(sqlx::query_with(sql, arguments(values)?).fetch_optional(self.driver()).await?.map(Row))
    }

    /// Inserts many rows of equal width with as few statements as the driver's limits allow.
    ///
    /// `head` is the statement up to and without `VALUES`. Wide statements take `?`: numbered parameters are looked up
    /// by name one by one.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn insert_rows(
        &mut self,
        head: &'static str,
        width: usize,
        values: Vec<Value>,
    ) -> Result<(), StorageError> {
        let mut rows = values.len() / width;
        let mut values = values.into_iter();
        while rows > 0 {
            let block = block_of(rows);
            let batch = arguments(values.by_ref().take(block * width))?;
            self.driver().execute(sqlx::query_with(wide(head, width, block, ""), batch)).await?;
            rows -= block;
        }
        Ok(())
    }

    /// Reads rows for a list of values that stands between the two ends of a statement.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn rows_for(
        &mut self,
        head: &'static str,
        width: usize,
        values: Vec<Value>,
        tail: &'static str,
    ) -> Result<Vec<Row>, StorageError> {
        let mut rows = values.len() / width;
        let mut values = values.into_iter();
        let mut found = Vec::with_capacity(rows);
        while rows > 0 {
            let block = block_of(rows);
            let batch = arguments(values.by_ref().take(block * width))?;
            let statement = sqlx::query_with(wide(head, width, block, tail), batch);
            found.extend(statement.fetch_all(self.driver()).await?.into_iter().map(Row));
            rows -= block;
        }
        Ok(found)
    }

    /// Starts a transaction that reads one state of the database.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn begin_read(&mut self) -> Result<(), StorageError> {
        self.driver().execute("BEGIN").await?;
        Ok(())
    }

    /// Starts a transaction that writes; dropping the connection undoes it.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn begin_write(&mut self) -> Result<(), StorageError> {
        self.command("BEGIN IMMEDIATE").await
    }

    /// Ends a transaction: what it changed is on disk when this returns.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn commit(&mut self) -> Result<(), StorageError> {
        self.command("COMMIT").await
    }

    pub(super) async fn command(&mut self, sql: &'static str) -> Result<(), StorageError> {
        self.driver().execute(sql).await?;
        Ok(())
    }
}

/// A database: readers for many, one connection that writes.
#[derive(Clone)]
pub struct Database {
    readers: SqlitePool,
    options: SqliteConnectOptions,
}

impl Database {
    /// Opens a database, brings it up to date and makes sure that it keeps what it acknowledges.
    ///
    /// # Errors
    /// A file that cannot be opened, a failed migration, a connection that is not durable.
    pub async fn open(path: &Path) -> Result<Self, StorageError> {
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
        Ok(Self { readers, options })
    }

    /// Borrows a connection for reading.
    ///
    /// # Errors
    /// A database that cannot be reached.
    pub async fn reader(&self) -> Result<Conn, StorageError> {
        Ok(Conn(Inner::Pooled(self.readers.acquire().await?)))
    }

    /// Opens the connection that writes.
    ///
    /// # Errors
    /// A database that cannot be reached, or would not keep what it acknowledges.
    pub async fn writer(&self) -> Result<Conn, StorageError> {
        let options = self.options.clone().pragma("cache_size", "-65536").pragma("wal_autocheckpoint", "8000");
        let mut connection = options.connect().await?;
        check_durable(&mut connection).await?;
        Ok(Conn(Inner::Own(connection)))
    }

    /// Closes every reader.
    pub async fn close(&self) {
        self.readers.close().await;
    }
}

async fn check_version(connection: &mut SqliteConnection) -> Result<(), StorageError> {
    let version: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(connection).await?;
    let mut parts = version.split('.').map(|part| part.parse().unwrap_or(0));
    let mut next = || parts.next().unwrap_or(0);
    if (next(), next(), next()) < LEAST_SQLITE {
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
