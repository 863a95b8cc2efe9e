//! Copies of a whole database as a file of SQLite, from either database and back into either.

use super::backup_file::{LeagueHead, Manifest};
use super::db::{Conn, Database};
use super::error::StorageError;
use super::heads::SignedHead;
use super::row::{Row, Value};
use super::{journal, sqlite};
use crate::{sql, values};
use futures_util::TryStreamExt;
use jiff::Timestamp;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, Executor, SqliteConnection};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use uuid::Uuid;

/// Every table that a backup holds, each after those that it refers to.
pub const TABLES: [&str; 49] = [
    "accounts",
    "leagues",
    "members",
    "invitations",
    "secret_addresses",
    "courses",
    "setups",
    "seasons",
    "competitions",
    "events",
    "season_facts",
    "versions",
    "rounds",
    "holes",
    "putts",
    "attestations",
    "withdrawals",
    "carried_differentials",
    "carried_results",
    "handicap_acts",
    "events_kept",
    "results",
    "journal",
    "journal_heads",
    "idempotency_keys",
    "acceptances",
    "rulings",
    "ruled_rounds",
    "queries",
    "answers",
    "entrants",
    "cards_in_play",
    "notices",
    "account_notices",
    "standings_changes",
    "practice_blocks",
    "practice_putts",
    "evidence_rows",
    "evidence_digests",
    "evidence_field",
    "findings",
    "finding_concerned",
    "finding_words",
    "reviewers",
    "file_columns",
    "lasting_acts",
    "sessions",
    "refresh_tokens",
    "password_resets",
];

/// What stays behind: nobody signs in by a backup.
const LEFT_OUT: [&str; 3] = ["sessions", "refresh_tokens", "password_resets"];

/// How many values are sent at once.
const MOST_VALUES: usize = 16_384;

/// What is wrong with a copy.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    /// The database.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// The copy is not what it should be.
    #[error("the copy is not sound: {0}")]
    Unsound(String),
}

impl From<sqlx::Error> for CopyError {
    fn from(error: sqlx::Error) -> Self {
        StorageError::from(error).into()
    }
}

fn tables() -> impl Iterator<Item = &'static str> {
    TABLES.into_iter().filter(|table| !LEFT_OUT.contains(table))
}

async fn plain(path: &Path) -> Result<SqliteConnection, sqlx::Error> {
    let options = SqliteConnectOptions::new().filename(path).foreign_keys(true).busy_timeout(Duration::from_secs(10));
    options.pragma("secure_delete", "ON").disable_statement_logging().connect().await
}

/// Writes one state of a database to a new file of SQLite, while others read and write.
///
/// # Errors
/// A failed database; a file that cannot be written.
pub async fn copy_out(database: &Database, to: &Path) -> Result<(), CopyError> {
    let mut from = database.reader().await?;
    from.take_long();
    if database.is_shared() {
        let copy = sqlite::Sqlite::open_as_it_is(to).await?;
        let mut into = copy.writer().await?;
        from.begin_read().await?;
        into.begin_write().await?;
        let kinds = kinds(&mut from).await?;
        for table in tables() {
            copy_table(&mut from, &mut into, table, &kinds).await?;
        }
        into.commit().await?;
        drop(into);
        copy.close().await;
    } else {
        // SQLite writes into an empty file, too.
        sqlite::make(to).map_err(sqlx::Error::Io)?;
        from.run("VACUUM INTO $1", values![to.display().to_string()]).await?;
    }
    let mut copy = plain(to).await?;
    for table in LEFT_OUT {
        copy.execute(AssertSqlSafe(format!("DELETE FROM {table}"))).await?;
    }
    copy.close().await?;
    whole(to).await
}

/// Brings a file of SQLite that nobody else has open into one piece, without a log beside it. Waits a while for those who
/// are about to close it.
///
/// # Errors
/// [`StorageError::Busy`] where somebody else has it open.
pub async fn whole(path: &Path) -> Result<(), CopyError> {
    let mut file = plain(path).await?;
    for _ in 0..20 {
        let mode: Result<String, _> = sqlx::query_scalar("PRAGMA journal_mode = DELETE").fetch_one(&mut file).await;
        match mode.as_deref() {
            Ok("delete") => return Ok(file.close().await?),
            Err(error) if !is_locked(error) => break,
            _ => tokio::time::sleep(Duration::from_millis(250)).await,
        }
    }
    Err(StorageError::Busy.into())
}

/// Says whether somebody else has locked a file.
fn is_locked(error: &sqlx::Error) -> bool {
    const BUSY: u32 = 5;
    sqlite::primary_code(error) == Some(BUSY)
}

/// Says what a copy holds.
///
/// # Errors
/// A failed database.
pub async fn manifest(copy: &Path, made_at: Timestamp) -> Result<Manifest, CopyError> {
    let mut copy = plain(copy).await?;
    let schema = sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations").fetch_one(&mut copy).await?;
    let counts = counts(&mut copy).await?;
    let heads: Vec<(Uuid, i64, Vec<u8>)> =
        sqlx::query_as("SELECT id, journal_n, journal_hash FROM leagues ORDER BY id").fetch_all(&mut copy).await?;
    copy.close().await?;
    let heads = heads.into_iter().map(|(league_id, n, hash)| LeagueHead { league_id, n, hash: journal::hex(&hash) });
    let program = env!("CARGO_PKG_VERSION").into();
    Ok(Manifest { made_at, program, schema, counts, heads: heads.collect(), signed_heads: Vec::new() })
}

/// Reads the last signed head of each journal in a copy.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn signed_heads(copy: &Path) -> Result<Vec<SignedHead>, CopyError> {
    let mut copy = plain(copy).await?;
    let last = "SELECT head FROM journal_heads AS kept WHERE n = \
                (SELECT max(n) FROM journal_heads WHERE league_id = kept.league_id) ORDER BY league_id";
    let heads: Vec<String> = sqlx::query_scalar(last).fetch_all(&mut copy).await?;
    copy.close().await?;
    let read = heads.iter().map(|head| serde_json::from_str(head));
    read.collect::<Result<_, _>>().map_err(|error| CopyError::Unsound(format!("a signed head cannot be read: {error}")))
}

/// Counts the rows of the tables that a copy has; one of an earlier program lacks some.
async fn counts(copy: &mut SqliteConnection) -> Result<BTreeMap<String, i64>, CopyError> {
    let known: Vec<String> =
        sqlx::query_scalar("SELECT name FROM sqlite_master WHERE type = 'table'").fetch_all(&mut *copy).await?;
    let mut counts = BTreeMap::new();
    for table in tables().filter(|table| known.iter().any(|name| name == table)) {
        let sql = AssertSqlSafe(format!("SELECT count(*) FROM {table}"));
        counts.insert(table.to_owned(), sqlx::query_scalar(sql).fetch_one(&mut *copy).await?);
    }
    Ok(counts)
}

/// Passes a copy that has what its manifest says, and nothing else: rows, references, the heads of the journals and
/// every entry before them.
///
/// # Errors
/// [`CopyError::Unsound`]; a failed database.
pub async fn check(copy: &Path, manifest: &Manifest) -> Result<(), CopyError> {
    let unsound = |text: String| Err(CopyError::Unsound(text));
    let mut file = plain(copy).await?;
    if let Some(fault) = sqlite::first_fault(&mut file).await? {
        return unsound(fault);
    }
    let found = self::manifest(copy, manifest.made_at).await?;
    if (found.schema, &found.counts, &found.heads) != (manifest.schema, &manifest.counts, &manifest.heads) {
        return unsound("it does not hold what its manifest says".into());
    }
    for head in &manifest.heads {
        let (mut before, mut last) = (Vec::new(), 0);
        let signed = manifest.signed_heads.iter().find(|signed| signed.league_id.0 == head.league_id);
        if let Some(signed) = signed.filter(|signed| !signed.is_genuine() || signed.n > head.n) {
            return unsound(format!("its head of the journal of league {} was not signed so", signed.league_id));
        }
        let mut entries = sqlx::query_as("SELECT n, entry, hash FROM journal WHERE league_id = $1 ORDER BY n")
            .bind(head.league_id)
            .fetch(&mut file);
        while let Some((n, entry, hash)) = entries.try_next().await? {
            let (n, entry, hash): (i64, String, Vec<u8>) = (n, entry, hash);
            if n != last + 1 || journal::link(&before, &entry) != *hash {
                return unsound(format!("journal entry {n} of league {} does not follow", head.league_id));
            }
            if signed.is_some_and(|signed| signed.n == n && signed.hash != journal::hex(&hash)) {
                return unsound(format!("the journal of league {} is not the one that was signed", head.league_id));
            }
            (before, last) = (hash, n);
        }
        if (last, journal::hex(&before)) != (head.n, head.hash.clone()) {
            return unsound(format!("the journal of league {} does not end with its head", head.league_id));
        }
    }
    file.close().await?;
    Ok(())
}

/// Writes a copy over everything that a server of PostgreSQL holds for us, in one change.
///
/// # Errors
/// A failed database; [`StorageError::Busy`] while others use it.
pub async fn copy_in(copy: &Path, database: &Database) -> Result<(), CopyError> {
    let copy = sqlite::Sqlite::open_as_it_is(copy).await?;
    let (mut from, mut into) = (copy.reader().await?, database.writer().await?);
    from.begin_read().await?;
    into.begin_long_write().await?;
    // The journal is append-only but for this: its owner takes the trigger away for one change.
    into.command("ALTER TABLE journal DISABLE TRIGGER USER").await?;
    into.command(leaked(format!("TRUNCATE round_leagues, {}", TABLES.join(", ")))).await?;
    into.command("ALTER TABLE journal ENABLE TRIGGER USER").await?;
    let kinds = kinds(&mut into).await?;
    for table in tables() {
        copy_table(&mut from, &mut into, table, &kinds).await?;
        // Rows of the tables after it refer to this one: how they are looked up depends on what is known of it.
        into.command(leaked(format!("ANALYZE (SKIP_LOCKED) {table}"))).await?;
    }
    into.commit().await?;
    drop((from, into));
    copy.close().await;
    Ok(())
}

/// The columns of each table with what PostgreSQL calls their type.
type Kinds = HashMap<String, Vec<(String, String)>>;

async fn kinds(postgres: &mut Conn) -> Result<Kinds, StorageError> {
    let mut kinds = Kinds::new();
    for row in postgres.rows(sql!("postgres_columns"), values![]).await? {
        kinds.entry(row.get("tab")?).or_default().push((row.get("col")?, row.get("kind")?));
    }
    Ok(kinds)
}

/// Statements are texts that stay: there are two a table, each written once however many backups are made.
fn leaked(text: String) -> &'static str {
    static KNOWN: Mutex<BTreeSet<&'static str>> = Mutex::new(BTreeSet::new());
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(same) = known.get(text.as_str()) {
        return same;
    }
    let text = text.leak();
    known.insert(text);
    text
}

async fn copy_table(from: &mut Conn, into: &mut Conn, table: &'static str, kinds: &Kinds) -> Result<(), StorageError> {
    let columns = kinds.get(table).map(Vec::as_slice).unwrap_or_default();
    let names: Vec<&str> = columns.iter().map(|(name, _)| name.as_str()).collect();
    let names = names.join(", ");
    let insert = leaked(format!("INSERT INTO {table} ({names})"));
    let mut rows = from.each(leaked(format!("SELECT {names} FROM {table}")), Vec::new());
    let mut values = Vec::with_capacity(MOST_VALUES + columns.len());
    while let Some(row) = rows.try_next().await? {
        for (name, kind) in columns {
            values.push(value(&row, name, kind)?);
        }
        if values.len() >= MOST_VALUES {
            into.insert_rows(insert, columns.len(), std::mem::take(&mut values)).await?;
        }
    }
    if !values.is_empty() {
        into.insert_rows(insert, columns.len(), values).await?;
    }
    Ok(())
}

fn value(row: &Row, name: &str, kind: &str) -> Result<Value, StorageError> {
    Ok(match kind {
        "uuid" => row.get::<Option<Uuid>>(name)?.into(),
        "boolean" => row.get::<Option<bool>>(name)?.into(),
        "bigint" => row.get::<Option<i64>>(name)?.into(),
        "double precision" => row.get::<Option<f64>>(name)?.into(),
        "bytea" => row.get::<Option<Vec<u8>>>(name)?.into(),
        _ => row.get::<Option<String>>(name)?.into(),
    })
}
