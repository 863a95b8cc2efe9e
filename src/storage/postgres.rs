//! PostgreSQL: a server that any number of ours share.

use super::db::{Conn, Inner};
use super::error::StorageError;
use super::health::Health;
use super::migrations;
use super::row::Value;
use super::sqlite::{last_known, refuse_newer};
use crate::sql;
use sqlx::encode::IsNull;
use sqlx::error::BoxDynError;
use sqlx::pool::PoolConnection;
use sqlx::postgres::types::Oid;
use sqlx::postgres::{PgArgumentBuffer, PgArguments, PgConnectOptions, PgPool, PgPoolOptions, PgTypeInfo};
use sqlx::{Arguments, ConnectOptions, Connection, Encode, Executor, PgConnection, Type};
use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::Duration;
use tokio::time::timeout;

/// The code of a full disk.
pub(super) const DISK_FULL: &str = "53100";
/// How many connections read at once: as on SQLite, and the one that hears of boards.
const READERS: u32 = 9;
/// How many changes are made at once, one a connection.
pub(super) const LANES: usize = 8;
/// How many connections write at once: the lanes, and imports beside them.
const WRITERS: u32 = LANES as u32 + 2;
/// How long a request waits for a connection.
const PATIENCE: Duration = Duration::from_secs(2);

/// How long a statement may take while somebody waits for its answer.
const STATEMENT: Duration = Duration::from_millis(2500);
/// How long a connection that is given back may take to answer.
const GIVEN_BACK: Duration = Duration::from_secs(2);
/// How long a start waits for a server that says nothing.
const START: Duration = Duration::from_secs(60);

/// A server of PostgreSQL.
#[derive(Clone)]
pub struct Postgres {
    readers: PgPool,
    writers: PgPool,
    health: Health,
    /// How long a statement may take.
    limit: Option<Duration>,
}

/// Reads a URL. A lock that is not had in a while is given up.
pub(super) fn options(url: &str) -> Result<PgConnectOptions, sqlx::Error> {
    let limits =
        [("lock_timeout", "2s"), ("synchronous_commit", "on"), ("client_min_messages", "error"), ("timezone", "UTC")];
    Ok(url.parse::<PgConnectOptions>()?.application_name("evenfield").options(limits).disable_statement_logging())
}

impl Postgres {
    pub(super) async fn open(url: &str) -> Result<Self, StorageError> {
        let options = options(url)?;
        // A server that cannot start says why, where one that runs would say that it is busy.
        let first = timeout(START, options.connect()).await.map_err(|_| StorageError::Away)?;
        let mut first = first.map_err(StorageError::Database)?;
        check_durable(&mut first).await.map_err(|error| match error {
            sqlx::Error::Configuration(detail) => StorageError::NotDurable(detail.to_string()),
            error => StorageError::Database(error),
        })?;
        is_writable(&mut first).await?;
        let migrations = migrations::postgres();
        let (found, known) = (last_migration(&mut first).await?, last_known(&migrations));
        refuse_newer(found, known)?;
        if 0 < found && found < known {
            tracing::info!(
                found,
                known,
                "the database is brought up to date; a dump of PostgreSQL (pg_dump) is the way back"
            );
        }
        // Takes an advisory lock, so that servers may start together.
        migrations.run(&mut first).await?;
        first.close().await?;
        let pool = |most| {
            PgPoolOptions::new()
                .max_connections(most)
                .acquire_timeout(PATIENCE)
                .after_release(|connection, _| {
                    Box::pin(async move {
                        // Whoever was dropped in mid-request leaves a transaction open.
                        let undone = timeout(GIVEN_BACK, connection.execute("ROLLBACK")).await;
                        // An error has the pool drop it without another word.
                        Ok(undone.map_err(|_| sqlx::Error::PoolTimedOut)?.is_ok())
                    })
                })
                .after_connect(|connection, _| Box::pin(check_durable(connection)))
        };
        let readers = pool(READERS).connect_with(options.clone()).await?;
        // A machine that is gone in mid-change does not hold its locks for long. Statements are planned once, not for each
        // change: their plans do not depend on what they are given. All of them look things up by key: a plan that was
        // made when a table was short must not read all of it when it is long.
        let writers = options.options([
            ("idle_in_transaction_session_timeout", "10s"),
            ("plan_cache_mode", "force_generic_plan"),
            ("enable_seqscan", "off"),
            ("enable_hashjoin", "off"),
            ("enable_mergejoin", "off"),
        ]);
        let writers = pool(WRITERS).connect_lazy_with(writers);
        Ok(Self { readers, writers, limit: None, health: Health::default() })
    }

    pub(super) fn answering_soon(self) -> Self {
        Self { limit: Some(STATEMENT), ..self }
    }

    /// Returns the connections that read.
    pub(super) fn readers(&self) -> &PgPool {
        &self.readers
    }

    pub(super) async fn reader(&self) -> Result<Conn, StorageError> {
        Ok(self.connection(self.readers.acquire().await?))
    }

    pub(super) async fn writer(&self) -> Result<Conn, StorageError> {
        let connection = match self.health.is_stopped() {
            true => self.writable(&self.writers).await?,
            false => self.writers.acquire().await?,
        };
        Ok(self.connection(connection))
    }

    fn connection(&self, connection: PoolConnection<sqlx::Postgres>) -> Conn {
        Conn::new(Inner::Postgres(connection), self.health.clone()).limited_to(self.limit)
    }

    /// Passes a server that takes changes.
    pub(super) async fn check(&self) -> Result<(), StorageError> {
        self.writable(&self.readers).await.map(drop)
    }

    /// Takes a connection whose session may write. Sessions that began while the server took only reads may go on so: they
    /// are closed, until a new one tells how it is now.
    async fn writable(&self, pool: &PgPool) -> Result<PoolConnection<sqlx::Postgres>, StorageError> {
        loop {
            let is_new = pool.num_idle() == 0;
            let mut connection = pool.acquire().await?;
            let Ok(answer) = timeout(STATEMENT, is_writable(&mut connection)).await else {
                drop(connection.detach());
                return Err(StorageError::Away);
            };
            let Err(error) = answer else { return Ok(connection) };
            connection.close_on_drop();
            if is_new || !matches!(error, StorageError::Standby) {
                self.health.note(&error);
                return Err(error);
            }
        }
    }

    pub(super) async fn close(&self) {
        self.readers.close().await;
        self.writers.close().await;
    }
}

/// A NULL of the type that the statement has at its place.
struct Untyped;

impl Type<sqlx::Postgres> for Untyped {
    fn type_info() -> PgTypeInfo {
        PgTypeInfo::with_oid(Oid(0))
    }
}

impl Encode<'_, sqlx::Postgres> for Untyped {
    fn encode_by_ref(&self, _: &mut PgArgumentBuffer) -> Result<IsNull, BoxDynError> {
        Ok(IsNull::Yes)
    }
}

pub(super) fn arguments(values: Vec<Value>) -> Result<PgArguments, StorageError> {
    let mut arguments = PgArguments::default();
    for value in values {
        let added = match value {
            Value::Null => arguments.add(Untyped),
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

/// Adds a column of values as an array; returns the array's type, `None` for a column of NULLs, which is not sent.
fn add_column(arguments: &mut PgArguments, column: Vec<Value>) -> Result<Option<&'static str>, StorageError> {
    macro_rules! array {
        ($kind:ident, $type:literal) => {{
            let array: Result<Vec<Option<_>>, BoxDynError> = column
                .into_iter()
                .map(|value| match value {
                    Value::Null => Ok(None),
                    Value::$kind(value) => Ok(Some(value)),
                    other => Err(format!("{other:?} in a column of {}", $type).into()),
                })
                .collect();
            arguments.add(array.map_err(sqlx::Error::Encode)?).map_err(sqlx::Error::Encode)?;
            Ok(Some($type))
        }};
    }
    match column.iter().find(|value| **value != Value::Null) {
        None | Some(Value::Null) => Ok(None),
        Some(Value::Flag(_)) => array!(Flag, "boolean[]"),
        Some(Value::Int(_)) => array!(Int, "bigint[]"),
        Some(Value::Real(_)) => array!(Real, "double precision[]"),
        Some(Value::Text(_)) => array!(Text, "text[]"),
        Some(Value::Id(_)) => array!(Id, "uuid[]"),
        Some(Value::Bytes(_)) => array!(Bytes, "bytea[]"),
    }
}

/// Makes the statement that takes rows of values as an array a column, where it says `VALUES` or at its end, and its
/// arguments. A statement is written once and stays.
pub(super) fn gathered(
    statement: &'static str,
    width: usize,
    values: Vec<Value>,
) -> Result<(&'static str, PgArguments), StorageError> {
    type Parts = (&'static str, Vec<Option<&'static str>>);
    static KNOWN: LazyLock<Mutex<HashMap<Parts, &'static str>>> = LazyLock::new(Mutex::default);
    let mut columns: Vec<Vec<Value>> = vec![Vec::with_capacity(values.len() / width); width];
    for (n, value) in values.into_iter().enumerate() {
        columns[n % width].push(value);
    }
    let mut arguments = PgArguments::default();
    let mut types = Vec::with_capacity(width);
    for column in columns {
        types.push(add_column(&mut arguments, column)?);
    }
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    let sql = known.entry((statement, types)).or_insert_with_key(|(_, types)| {
        let (mut shown, mut arrays, mut names) = (Vec::new(), Vec::new(), Vec::new());
        for (n, of) in types.iter().enumerate() {
            let Some(of) = of else {
                shown.push("NULL".to_owned());
                continue;
            };
            shown.push(format!("c{n}"));
            names.push(format!("c{n}"));
            arrays.push(format!("${}::{of}", arrays.len() + 1));
        }
        let [shown, arrays, names] = [shown, arrays, names].map(|list| list.join(","));
        let (head, tail) = statement.split_once("VALUES").unwrap_or((statement, ""));
        format!("{head} SELECT {shown} FROM unnest({arrays}) AS given ({names}) {tail}").leak()
    });
    Ok((sql, arguments))
}

/// Says whether a transaction was given up for another's sake: a serialization failure or a deadlock.
pub(super) fn is_overtaken(error: &sqlx::Error) -> bool {
    has_code(error, &["40001", "40P01"])
}

/// Says whether a failure passes: the same change sent again may well succeed.
pub(super) fn is_passing(error: &sqlx::Error) -> bool {
    // A lock not had; too many connections.
    has_code(error, &["55P03", "53300"])
}

/// Says whether the database is not reached.
pub(super) fn is_away(error: &sqlx::Error) -> bool {
    // Connections ended; a server that starts or stops; a database that is not there.
    const AWAY: [&str; 7] = ["57P01", "57P02", "57P03", "25P03", "08006", "08003", "3D000"];
    matches!(error, sqlx::Error::Io(_) | sqlx::Error::PoolTimedOut) || has_code(error, &AWAY)
}

/// Says whether a change was refused because the server or the session takes only reads.
pub(super) fn is_read_only(error: &sqlx::Error) -> bool {
    has_code(error, &["25006"])
}

fn has_code(error: &sqlx::Error, codes: &[&str]) -> bool {
    let sqlx::Error::Database(error) = error else { return false };
    error.code().is_some_and(|code| codes.contains(&code.as_ref()))
}

/// Returns the number of the last migration; 0 in a database that is new.
async fn last_migration(connection: &mut PgConnection) -> Result<i64, sqlx::Error> {
    let known: Option<String> =
        sqlx::query_scalar("SELECT to_regclass('_sqlx_migrations')::text").fetch_one(&mut *connection).await?;
    if known.is_none() {
        return Ok(0);
    }
    sqlx::query_scalar("SELECT coalesce(max(version), 0) FROM _sqlx_migrations").fetch_one(connection).await
}

/// Passes a session whose transactions may write.
async fn is_writable(connection: &mut PgConnection) -> Result<(), StorageError> {
    let read_only: String = sqlx::query_scalar("SHOW transaction_read_only").fetch_one(connection).await?;
    if read_only == "off" { Ok(()) } else { Err(StorageError::Standby) }
}

/// What a commit promises is set for each connection, and the server may be set to break it: read it back.
async fn check_durable(connection: &mut PgConnection) -> Result<(), sqlx::Error> {
    let found: Vec<(String, String)> = sqlx::query_as(sql!("postgres_durability")).fetch_all(&mut *connection).await?;
    let is_off = |(_, setting): &&(String, String)| setting == "off";
    match found.iter().find(is_off) {
        None => Ok(()),
        Some((name, _)) => {
            Err(sqlx::Error::Configuration(format!("the database is not durable: {name} is off").into()))
        }
    }
}
