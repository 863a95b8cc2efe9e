//! Why a store does not do what it is asked.

use super::{postgres, sqlite};
use sqlx::migrate::MigrateError;

/// A failure of the store.
#[derive(Debug, thiserror::Error)]
pub enum StorageError {
    /// The database refused or failed.
    #[error("the database failed")]
    Database(#[source] sqlx::Error),
    /// A migration failed, or the database is newer than this program.
    #[error("the database could not be brought up to date")]
    Migration(#[source] MigrateError),
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
    /// The writer stopped or is full, the database is not reached, or a lock was not had in time.
    #[error("the store takes no more work now")]
    Busy,
}

impl From<sqlx::Error> for StorageError {
    fn from(error: sqlx::Error) -> Self {
        match error {
            error if postgres::is_overtaken(&error) => StorageError::Overtaken,
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
