//! Secret addresses: what somebody may read who knows a code.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::facts::{Leads, Names};
use crate::domain::ids::{LeagueId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

#[derive(Clone, Debug)]
pub struct SecretAddress {
    pub id: Uuid,
    pub league: LeagueId,
    pub leads: Leads,
    pub member: MemberId,
    pub created_at: Timestamp,
    pub is_revoked: bool,
}

fn address_of(row: &Row) -> Result<SecretAddress, StorageError> {
    let names = row.get::<Option<String>>("names")?.as_deref().and_then(Names::from_word);
    Ok(SecretAddress {
        id: row.get("id")?,
        league: row.id("league_id")?,
        leads: names.map_or(Leads::ToCalendar, Leads::ToPublicPages),
        member: row.id("member_id")?,
        created_at: row.parsed("secret_addresses", "created_at")?,
        is_revoked: row.get::<Option<String>>("revoked_at")?.is_some(),
    })
}

/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, code_hash: [u8; 32], address: &SecretAddress) -> Result<(), StorageError> {
    let SecretAddress { id, league, leads, member, created_at, .. } = address;
    let names = leads.names().map(Names::word);
    let values = values![code_hash, *id, *league, leads.word(), names, *member, *created_at];
    conn.run(sql!("secret_address_insert"), values).await?;
    Ok(())
}

/// Reads an address by the hash of its code.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, code_hash: [u8; 32]) -> Result<Option<SecretAddress>, StorageError> {
    conn.row(sql!("secret_address_get"), values![code_hash]).await?.as_ref().map(address_of).transpose()
}

/// # Errors
/// A failed database or an unreadable row.
pub async fn by_id(conn: &mut Conn, id: Uuid) -> Result<Option<SecretAddress>, StorageError> {
    conn.row(sql!("secret_address_by_id"), values![id]).await?.as_ref().map(address_of).transpose()
}

/// Reads a league's addresses after an id that were not revoked.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(
    conn: &mut Conn,
    league: LeagueId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<SecretAddress>, StorageError> {
    conn.rows(sql!("secret_address_list"), values![league, after, limit]).await?.iter().map(address_of).collect()
}

/// Revokes an address; `false`: it was revoked before.
///
/// # Errors
/// A failed database.
pub async fn revoke(conn: &mut Conn, id: Uuid, at: Timestamp) -> Result<bool, StorageError> {
    Ok(conn.run(sql!("secret_address_revoke"), values![id, at]).await? == 1)
}

/// Revokes a member's calendars.
///
/// # Errors
/// A failed database.
pub async fn void_of(conn: &mut Conn, league: LeagueId, member: MemberId, at: Timestamp) -> Result<(), StorageError> {
    conn.run(sql!("secret_address_void"), values![league, member, at]).await?;
    Ok(())
}

/// Revokes every address: what was revoked since a backup was made is not known after a restore.
///
/// # Errors
/// A failed database.
pub async fn revoke_all(conn: &mut Conn, at: Timestamp) -> Result<(), StorageError> {
    conn.run(sql!("restored_secret_address_revoke"), values![at]).await?;
    Ok(())
}
