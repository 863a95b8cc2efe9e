//! Connections to either database.

use super::acknowledged::Acknowledged;
use super::error::StorageError;
use super::health::Health;
use super::row::{Row, Value};
use super::store::Store;
use super::wide::{block_of, wide};
use super::{postgres, sqlite};
use crate::sql;
use futures_util::StreamExt;
use futures_util::stream::{self, BoxStream};
use sqlx::pool::PoolConnection;
use sqlx::postgres::PgArguments;
use sqlx::{Executor, Postgres, Sqlite, SqliteConnection};
use std::time::Duration;
use tokio::time::timeout;

pub(super) enum Inner {
    Pooled(PoolConnection<Sqlite>),
    Own(SqliteConnection),
    Postgres(PoolConnection<Postgres>),
    /// It did not answer in time, and was dropped.
    Lost,
}

/// How long a statement may take where nobody waits for its answer: exports, imports, backups.
const LONG: Duration = Duration::from_secs(600);

/// A connection to the database.
pub struct Conn {
    inner: Inner,
    health: Health,
    /// Where a commit is written down before it is acknowledged.
    acknowledged: Option<Acknowledged>,
    /// How long a statement may take. A file does not fall silent; a server may.
    limit: Option<Duration>,
    rows_read: u64,
}

/// Does the same with either driver: `$connection` is its connection, `$arguments` makes its arguments. A connection whose
/// statement takes too long is dropped, as nobody knows where it stands.
macro_rules! either {
    ($self:expr, $row:ident, |$connection:ident, $arguments:ident| $body:expr) => {{
        let limit = $self.limit;
        let outcome = match &mut $self.inner {
            Inner::Pooled(connection) => {
                let ($row, $arguments) = (Row::Sqlite, sqlite::arguments);
                let $connection: &mut SqliteConnection = connection;
                Ok(async { $body }.await)
            }
            Inner::Own($connection) => {
                let ($row, $arguments) = (Row::Sqlite, sqlite::arguments);
                Ok(async { $body }.await)
            }
            Inner::Postgres(connection) => {
                let ($row, $arguments) = (Row::Postgres, postgres::arguments);
                let $connection: &mut sqlx::PgConnection = connection;
                timeout(limit.unwrap_or(LONG), async { $body }).await
            }
            Inner::Lost => return Err(StorageError::Away),
        };
        match outcome {
            Ok(outcome) => $self.noted(outcome),
            Err(_) => Err($self.give_up()),
        }
    }};
}

impl Conn {
    pub(super) fn new(inner: Inner, health: Health) -> Self {
        Self { inner, health, acknowledged: None, limit: None, rows_read: 0 }
    }

    /// Has commits written down in a file before they are acknowledged.
    pub(super) fn acknowledged_in(self, acknowledged: Option<Acknowledged>) -> Self {
        Self { acknowledged, ..self }
    }

    /// Gives each statement a limit.
    pub(super) fn limited_to(self, limit: Option<Duration>) -> Self {
        Self { limit, ..self }
    }

    /// Returns how many rows were read since it was last asked.
    pub(super) fn take_rows_read(&mut self) -> u64 {
        std::mem::take(&mut self.rows_read)
    }

    fn is_postgres(&self) -> bool {
        matches!(self.inner, Inner::Postgres(_))
    }

    /// Gives statements all the time that they may need: for acts whose answer nobody waits for at the bell.
    pub fn take_long(&mut self) {
        self.limit = None;
    }

    /// As [`take_long`](Self::take_long) in a transaction that was begun, which may also think for minutes between two
    /// statements.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn think_long(&mut self) -> Result<(), StorageError> {
        self.take_long();
        if self.is_postgres() {
            self.command("SET LOCAL idle_in_transaction_session_timeout = 0").await?;
        }
        Ok(())
    }

    /// Takes note of a failure that concerns the whole database.
    fn noted<T>(&mut self, outcome: Result<T, StorageError>) -> Result<T, StorageError> {
        let Err(error) = &outcome else { return outcome };
        self.health.note(error);
        if let (StorageError::Standby, Inner::Postgres(connection)) = (error, &mut self.inner) {
            // A session that takes only reads may go on so when the server takes changes again.
            connection.close_on_drop();
        }
        outcome
    }

    fn give_up(&mut self) -> StorageError {
        tracing::warn!(limit = ?self.limit.unwrap_or(LONG), "the database did not answer in time");
        if let Inner::Postgres(connection) = std::mem::replace(&mut self.inner, Inner::Lost) {
            // Not back to the pool, which would ask it something first.
            drop(connection.detach());
        }
        StorageError::Away
    }

    /// Chooses the statement that this database understands, where one text cannot serve both.
    pub fn text(&self, sqlite: &'static str, postgres: &'static str) -> &'static str {
        if self.is_postgres() { postgres } else { sqlite }
    }

    /// Runs a statement; returns how many rows it touched.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn run(&mut self, sql: &'static str, values: Vec<Value>) -> Result<u64, StorageError> {
        either!(self, _row, |connection, arguments| {
            Ok::<_, StorageError>(sqlx::query_with(sql, arguments(values)?).execute(connection).await?.rows_affected())
        })
    }

    /// Reads all rows.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn rows(&mut self, sql: &'static str, values: Vec<Value>) -> Result<Vec<Row>, StorageError> {
        let read = either!(self, row, |connection, arguments| {
            let rows = sqlx::query_with(sql, arguments(values)?).fetch_all(connection).await?;
            Ok::<_, StorageError>(rows.into_iter().map(row).collect::<Vec<Row>>())
        });
        self.counted(read)
    }

    fn counted(&mut self, read: Result<Vec<Row>, StorageError>) -> Result<Vec<Row>, StorageError> {
        self.rows_read += read.as_ref().map_or(0, Vec::len) as u64;
        read
    }

    /// Reads the first row.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn row(&mut self, sql: &'static str, values: Vec<Value>) -> Result<Option<Row>, StorageError> {
        either!(self, row, |connection, arguments| {
            let read = sqlx::query_with(sql, arguments(values)?).fetch_optional(connection).await?;
            Ok::<_, StorageError>(read.map(row))
        })
    }

    /// Reads rows one after the other, however many there are.
    pub(super) fn each(&mut self, sql: &'static str, values: Vec<Value>) -> BoxStream<'_, Result<Row, StorageError>> {
        let health = self.health.clone();
        let rows = match &mut self.inner {
            Inner::Pooled(connection) => {
                let rows = sqlite::arguments(values).map(|given| sqlx::query_with(sql, given).fetch(&mut **connection));
                each_or(rows, Row::Sqlite)
            }
            Inner::Own(connection) => {
                let rows = sqlite::arguments(values).map(|given| sqlx::query_with(sql, given).fetch(connection));
                each_or(rows, Row::Sqlite)
            }
            Inner::Postgres(connection) => {
                let rows =
                    postgres::arguments(values).map(|given| sqlx::query_with(sql, given).fetch(&mut **connection));
                let rows = each_or(rows, Row::Postgres);
                // The one who reads drops the stream and the connection with it.
                stream::unfold(Some(rows), |rows| async {
                    let mut rows = rows?;
                    match timeout(LONG, rows.next()).await {
                        Ok(Some(row)) => Some((row, Some(rows))),
                        Ok(None) => None,
                        Err(_) => Some((Err(StorageError::Away), None)),
                    }
                })
                .boxed()
            }
            Inner::Lost => stream::iter([Err(StorageError::Away)]).boxed(),
        };
        rows.map(move |read: Result<Row, StorageError>| read.inspect_err(|error| health.note(error))).boxed()
    }

    /// Inserts many rows of equal width with as few statements as the driver's limits allow.
    ///
    /// `statement` has no values: they come at its end, or where it says `VALUES`. On SQLite wide statements take `?`:
    /// numbered parameters are looked up by name one by one. PostgreSQL is given an array a column: one short statement,
    /// whatever the number of rows, that it plans once.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn insert_rows(
        &mut self,
        statement: &'static str,
        width: usize,
        values: Vec<Value>,
    ) -> Result<(), StorageError> {
        self.rows_for(statement, width, values).await?;
        Ok(())
    }

    /// Reads rows for a list of values that stands where a statement says `VALUES`.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn rows_for(
        &mut self,
        statement: &'static str,
        width: usize,
        values: Vec<Value>,
    ) -> Result<Vec<Row>, StorageError> {
        let mut rows = values.len() / width;
        if self.is_postgres() && rows > 0 {
            let (sql, arguments) = postgres::gathered(statement, width, values)?;
            return self.rows_given(sql, arguments).await;
        }
        let mut values = values.into_iter();
        let mut found = Vec::with_capacity(rows);
        while rows > 0 {
            let block = block_of(rows, width);
            let batch: Vec<Value> = values.by_ref().take(block * width).collect();
            let sql = wide(statement, width, block);
            either!(self, row, |connection, arguments| {
                let read = sqlx::query_with(sql, arguments(batch)?).fetch_all(connection).await?;
                found.extend(read.into_iter().map(row));
                Ok::<_, StorageError>(())
            })?;
            rows -= block;
        }
        self.counted(Ok(found))
    }

    async fn rows_given(&mut self, sql: &'static str, arguments: PgArguments) -> Result<Vec<Row>, StorageError> {
        let Inner::Postgres(connection) = &mut self.inner else { return Err(StorageError::Away) };
        let read = sqlx::query_with(sql, arguments).fetch_all(&mut **connection);
        match timeout(self.limit.unwrap_or(LONG), read).await {
            Ok(read) => {
                let rows = self.noted(read.map_err(StorageError::from))?;
                self.counted(Ok(rows.into_iter().map(Row::Postgres).collect()))
            }
            Err(_) => Err(self.give_up()),
        }
    }

    /// Starts a transaction that reads one state of the database.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn begin_read(&mut self) -> Result<(), StorageError> {
        self.command(self.text("BEGIN", "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")).await
    }

    /// Starts a transaction that writes; dropping the connection undoes it.
    ///
    /// On PostgreSQL each statement sees what was committed before it: a change that waited for its league's lock reads
    /// what the change before it left.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn begin_write(&mut self) -> Result<(), StorageError> {
        self.health.check()?;
        self.command(self.text("BEGIN IMMEDIATE", "BEGIN ISOLATION LEVEL READ COMMITTED")).await
    }

    /// Starts a transaction that writes, and may think for minutes between two statements.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn begin_long_write(&mut self) -> Result<(), StorageError> {
        self.begin_write().await?;
        self.think_long().await
    }

    /// Lets PostgreSQL look at every table, so that it plans for what is in them; tables that somebody else has locked are
    /// passed over. SQLite goes by its keys.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn look_at_tables(&mut self) -> Result<(), StorageError> {
        if self.is_postgres() { self.command("ANALYZE (SKIP_LOCKED)").await } else { Ok(()) }
    }

    /// As [`look_at_tables`](Self::look_at_tables), at those alone that the rows of cards refer to.
    ///
    /// # Errors
    /// Whatever the database refuses.
    pub async fn look_at_cards(&mut self) -> Result<(), StorageError> {
        if self.is_postgres() { self.command("ANALYZE (SKIP_LOCKED) rounds, holes").await } else { Ok(()) }
    }

    /// Ends a transaction: what it changed is on disk when this returns, in the file that the path leads to, and it is
    /// written down beside it that this is acknowledged.
    ///
    /// # Errors
    /// Whatever the database refuses; a file that was removed or replaced. Where what is acknowledged cannot be written
    /// down, the change was made all the same.
    pub async fn commit(&mut self) -> Result<(), StorageError> {
        let Some(acknowledged) = self.acknowledged.clone() else {
            self.command("COMMIT").await?;
            self.health.is_well();
            return Ok(());
        };
        let row = self.row(sql!("commit_count"), Vec::new()).await?;
        let n = row.map_or(Ok(0), |row| row.get("n"))?;
        self.health.check()?;
        self.command("COMMIT").await?;
        self.health.check_place()?;
        acknowledged.note(n).await.map_err(StorageError::Acknowledged)?;
        self.health.is_well();
        Ok(())
    }

    pub(super) async fn command(&mut self, sql: &'static str) -> Result<(), StorageError> {
        either!(self, _row, |connection, _arguments| {
            connection.execute(sql).await?;
            Ok::<_, StorageError>(())
        })
    }
}

/// Reads rows one after the other, or tells why they cannot be asked for.
fn each_or<'c, R: 'c>(
    rows: Result<BoxStream<'c, Result<R, sqlx::Error>>, StorageError>,
    row: fn(R) -> Row,
) -> BoxStream<'c, Result<Row, StorageError>> {
    match rows {
        Ok(rows) => rows.map(move |read| Ok(row(read?))).boxed(),
        Err(error) => stream::iter([Err(error)]).boxed(),
    }
}

/// A database: readers for many, and connections that write.
#[derive(Clone)]
pub enum Database {
    /// A file of SQLite: one connection writes.
    Sqlite(sqlite::Sqlite),
    /// A server of PostgreSQL, which other servers may use too.
    Postgres(postgres::Postgres),
}

impl Database {
    /// Opens a database, brings it up to date and makes sure that it keeps what it acknowledges. Statements have all the
    /// time that they may need.
    ///
    /// # Errors
    /// A database that cannot be opened, a failed migration, a connection that is not durable.
    pub async fn open(store: &Store) -> Result<Self, StorageError> {
        Ok(match store {
            Store::File(path) => Database::Sqlite(sqlite::Sqlite::open(path).await?),
            Store::Server(url) => Database::Postgres(postgres::Postgres::open(url).await?),
        })
    }

    /// Opens a working copy, or a database that is about to be replaced: it may lack what was acknowledged, and nobody is
    /// told that it keeps anything.
    ///
    /// # Errors
    /// As for [`open`](Self::open).
    pub async fn open_as_it_is(store: &Store) -> Result<Self, StorageError> {
        match store {
            Store::File(path) => Ok(Database::Sqlite(sqlite::Sqlite::open_as_it_is(path).await?)),
            Store::Server(_) => Self::open(store).await,
        }
    }

    /// Passes a database that takes changes: it can be reached and written, and on SQLite its file still stands where it was
    /// opened and nothing in it was found damaged.
    ///
    /// # Errors
    /// Why it does not.
    pub async fn check(&self) -> Result<(), StorageError> {
        match self {
            Database::Sqlite(database) => {
                database.check()?;
                database.reader().await.map(drop)
            }
            Database::Postgres(database) => database.check().await,
        }
    }

    /// Returns it as somebody uses it who waits for answers: each statement has a limit.
    pub fn answering_soon(self) -> Self {
        match self {
            Database::Sqlite(database) => Database::Sqlite(database),
            Database::Postgres(database) => Database::Postgres(database.answering_soon()),
        }
    }

    /// Passes a database whose file holds together, as far as that is quickly seen. PostgreSQL looks after its own.
    ///
    /// # Errors
    /// [`StorageError::Damaged`]; a database that cannot be reached.
    pub async fn look_over(&self) -> Result<(), StorageError> {
        match self {
            Database::Sqlite(database) => database.look_over().await,
            Database::Postgres(_) => Ok(()),
        }
    }

    /// Looks at every page, index and reference of a file and says the first thing that is wrong. PostgreSQL looks after its
    /// own.
    ///
    /// # Errors
    /// A database that cannot be reached.
    pub async fn first_fault(&self) -> Result<Option<String>, StorageError> {
        match self {
            Database::Sqlite(database) => database.first_fault().await,
            Database::Postgres(_) => Ok(None),
        }
    }

    /// Moves the write-ahead log of SQLite into the file and empties it; `false`: somebody still reads an earlier state.
    /// PostgreSQL looks after its own.
    ///
    /// # Errors
    /// A database that cannot be reached.
    pub async fn empty_log(&self) -> Result<bool, StorageError> {
        match self {
            Database::Sqlite(database) => database.empty_log().await,
            Database::Postgres(_) => Ok(true),
        }
    }

    /// Returns whether other servers may use it at the same time.
    pub fn is_shared(&self) -> bool {
        matches!(self, Database::Postgres(_))
    }

    /// Borrows a connection for reading.
    ///
    /// # Errors
    /// A database that cannot be reached.
    pub async fn reader(&self) -> Result<Conn, StorageError> {
        match self {
            Database::Sqlite(database) => database.reader().await,
            Database::Postgres(database) => database.reader().await,
        }
    }

    /// Returns a connection that writes.
    ///
    /// # Errors
    /// A database that cannot be reached, or would not keep what it acknowledges.
    pub async fn writer(&self) -> Result<Conn, StorageError> {
        match self {
            Database::Sqlite(database) => database.writer().await,
            Database::Postgres(database) => database.writer().await,
        }
    }

    /// Closes every connection that is not in use. A file of SQLite takes no more changes, and its log is emptied into it.
    pub async fn close(&self) {
        match self {
            Database::Sqlite(database) => database.close().await,
            Database::Postgres(database) => database.close().await,
        }
    }
}
