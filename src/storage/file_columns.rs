//! What the columns of a set-up's files mean, as a member said it last.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::ids::{LeagueId, MemberId, SetupId};
use crate::{sql, values};
use jiff::Timestamp;
use serde::de::DeserializeOwned;

/// The columns of one set-up's files.
#[derive(Clone, Debug)]
pub struct StoredColumns<T> {
    /// The set-up.
    pub setup: SetupId,
    /// When the member said so last.
    pub updated_at: Timestamp,
    /// What was said.
    pub columns: T,
}

fn stored<T: DeserializeOwned>(row: &Row) -> Result<StoredColumns<T>, StorageError> {
    Ok(StoredColumns {
        setup: row.id("setup_id")?,
        updated_at: row.parsed("file_columns", "updated_at")?,
        columns: row.json("file_columns", "body")?,
    })
}

/// Remembers what the columns of a set-up's files mean, in place of what was remembered.
///
/// # Errors
/// A failed database.
pub async fn put(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
    setup: SetupId,
    now: Timestamp,
    body: &str,
) -> Result<(), StorageError> {
    conn.run(sql!("file_columns_put"), values![league, member, setup, now, body]).await?;
    Ok(())
}

/// Reads what is remembered for a set-up.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get<T: DeserializeOwned>(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
    setup: SetupId,
) -> Result<Option<StoredColumns<T>>, StorageError> {
    conn.row(sql!("file_columns_get"), values![league, member, setup]).await?.as_ref().map(stored).transpose()
}

/// Reads all that is remembered for a member.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member<T: DeserializeOwned>(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
) -> Result<Vec<StoredColumns<T>>, StorageError> {
    conn.rows(sql!("file_columns_list"), values![league, member]).await?.iter().map(stored).collect()
}

/// Forgets all that is remembered for a member.
///
/// # Errors
/// A failed database.
pub async fn erase(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<(), StorageError> {
    conn.run(sql!("file_columns_erase"), values![league, member]).await?;
    Ok(())
}
