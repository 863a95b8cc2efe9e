//! Why a store does not do what it is asked.

use super::{postgres, sqlite};
use sqlx::migrate::MigrateError;
use std::io;
use std::path::PathBuf;

/// A failure of the store.
#[derive(Debug, thiserror::Error)]
pub enum StorageError {
    /// The database refused or failed.
    #[error("the database failed")]
    Database(#[source] sqlx::Error),
    /// A migration failed.
    #[error("the database could not be brought up to date")]
    Migration(#[source] MigrateError),
    /// The database has a migration that this program does not know.
    #[error(
        "the database was made by a newer evenfield: it has schema {found}, and this program knows {known} at most; run \
         the newer program"
    )]
    Newer {
        /// The number of its last migration.
        found: i64,
        /// The number of the last one that is known here.
        known: i64,
    },
    /// No copy of a file could be made before it is brought up to date.
    #[error("{0} cannot be written: the database is copied there before it is brought up to date")]
    NoCopyBefore(PathBuf, #[source] Box<StorageError>),
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
    /// The file of SQLite is not what was written to it.
    #[error("the file of the database is damaged ({0}): stop here, keep it, and restore a backup")]
    Damaged(String),
    /// The file of SQLite at the path is another one than is open, or is gone.
    #[error(
        "the file of the database was removed or replaced while it was open, so that changes would be lost: put the file \
         that was there back, or stop the server and restore a backup"
    )]
    Moved(PathBuf),
    /// The file of SQLite, or its log, cannot be written.
    #[error(
        "the file of the database is read-only: make it, its -wal and their file system writable for the user that the \
         server runs as"
    )]
    ReadOnly,
    /// PostgreSQL takes only reads.
    #[error(
        "PostgreSQL takes only reads: it is a standby, or default_transaction_read_only is on. Name the primary server, or \
         reset that setting"
    )]
    Standby,
    /// The file of SQLite lacks changes that were acknowledged.
    #[error(
        "{} ends with change {found}, but change {acknowledged} was acknowledged: its log {}-wal was lost or cut, or an \
         older file stands in its place. Put the missing file back, or restore a backup with --replace; to go on without \
         what is missing, start once with serve --accept-loss", .database.display(), .database.display()
    )]
    Behind {
        /// The file.
        database: PathBuf,
        /// Its last change.
        found: i64,
        /// The last that was acknowledged.
        acknowledged: i64,
    },
    /// What was acknowledged beside a file of SQLite belongs to another one.
    #[error(
        "{} belongs to another database than {}: put the right file back; if this one stands there on purpose, start once \
         with serve --accept-loss", .file.display(), .database.display()
    )]
    AnotherDatabase {
        /// The file of SQLite.
        database: PathBuf,
        /// The file beside it.
        file: PathBuf,
    },
    /// The file of what was acknowledged cannot be read as one.
    #[error(
        "{} is damaged, so that nobody can tell whether the database holds everything that was acknowledged: run evenfield \
         verify on a copy, compare it with a backup, and start once with serve --accept-loss", .0.display()
    )]
    AcknowledgedUnreadable(PathBuf),
    /// What was acknowledged cannot be read or written down.
    #[error("the file that says what was acknowledged cannot be read or written")]
    Acknowledged(#[source] io::Error),
    /// The database does not keep what it acknowledges.
    #[error("{0}")]
    NotDurable(String),
    /// What must outlast a restore could not be written down outside the database.
    #[error("the file of lasting acts cannot be written")]
    LastingActs(#[source] std::io::Error),
    /// There is no room for what was to be stored.
    #[error("the disk is full")]
    Full,
    /// PostgreSQL gave the change up for another's sake: run again, it may well succeed.
    #[error("another change was in the way")]
    Overtaken,
    /// A change panicked; nothing of it was kept.
    #[error("a change failed within the program")]
    Panicked,
    /// The database does not answer, so that nobody knows what became of a commit that was on its way.
    #[error("the database does not answer")]
    Away,
    /// The writer stopped or is full, or a lock was not had in time.
    #[error("the store takes no more work now")]
    Busy,
}

impl StorageError {
    /// Says whether the database takes no changes until somebody does something about it.
    pub fn stops_changes(&self) -> bool {
        matches!(
            self,
            StorageError::Damaged(_) | StorageError::Moved(_) | StorageError::ReadOnly | StorageError::Standby
        )
    }

    /// Says whether what is stored is not what was stored.
    pub fn is_damage(&self) -> bool {
        matches!(
            self,
            StorageError::Damaged(_)
                | StorageError::Corrupt { .. }
                | StorageError::Behind { .. }
                | StorageError::AnotherDatabase { .. }
                | StorageError::AcknowledgedUnreadable(_)
        )
    }

    /// Says whether a stored value cannot be read as what it should be.
    pub fn is_unreadable(&self) -> bool {
        matches!(
            self,
            StorageError::Corrupt { .. }
                | StorageError::Database(sqlx::Error::ColumnDecode { .. } | sqlx::Error::Decode(_))
        )
    }

    /// Returns what each of several changes is told that failed together.
    pub(super) fn for_each_change(&self) -> Self {
        match self {
            StorageError::Full => StorageError::Full,
            StorageError::Damaged(what) => StorageError::Damaged(what.clone()),
            StorageError::Moved(path) => StorageError::Moved(path.clone()),
            StorageError::ReadOnly => StorageError::ReadOnly,
            StorageError::Standby => StorageError::Standby,
            StorageError::Away => StorageError::Away,
            _ => StorageError::Busy,
        }
    }
}

impl From<sqlx::Error> for StorageError {
    fn from(error: sqlx::Error) -> Self {
        match error {
            error if sqlite::is_read_only(&error) => StorageError::ReadOnly,
            error if postgres::is_read_only(&error) => StorageError::Standby,
            error if postgres::is_overtaken(&error) => StorageError::Overtaken,
            error if postgres::is_away(&error) => StorageError::Away,
            error if postgres::is_passing(&error) => StorageError::Busy,
            error if is_full(&error) => StorageError::Full,
            error if let Some(what) = sqlite::damage(&error) => StorageError::Damaged(what),
            error => StorageError::Database(error),
        }
    }
}

impl From<MigrateError> for StorageError {
    fn from(error: MigrateError) -> Self {
        match error {
            MigrateError::Execute(error) | MigrateError::ExecuteMigration(error, _)
                if sqlite::damage(&error).is_some() =>
            {
                error.into()
            }
            error => StorageError::Migration(error),
        }
    }
}

fn is_full(error: &sqlx::Error) -> bool {
    const FULL: [&str; 2] = [sqlite::DISK_FULL, postgres::DISK_FULL];
    let code = error.as_database_error().and_then(|error| error.code());
    code.is_some_and(|code| FULL.contains(&code.as_ref()))
}
