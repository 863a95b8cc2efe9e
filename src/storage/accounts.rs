//! Accounts, sessions, refresh tokens.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::ids::AccountId;
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// An account as stored.
#[derive(Clone, Debug)]
pub struct Account {
    /// Its id.
    pub id: AccountId,
    /// Its address, in lower case.
    pub email: String,
    /// The hash of its password.
    pub password_hash: String,
    /// What it calls itself.
    pub display_name: String,
}

fn account(row: &Row) -> Result<Account, StorageError> {
    Ok(Account {
        id: row.id("id")?,
        email: row.get("email")?,
        password_hash: row.get("password_hash")?,
        display_name: row.get("display_name")?,
    })
}

/// Stores an account; `false`: its address is taken.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, account: &Account, now: Timestamp) -> Result<bool, StorageError> {
    let values = values![account.id, &account.email, &account.password_hash, &account.display_name, now];
    Ok(conn.run(sql!("account_insert"), values).await? == 1)
}

/// Reads an account by its address.
///
/// # Errors
/// A failed database.
pub async fn by_email(conn: &mut Conn, email: &str) -> Result<Option<Account>, StorageError> {
    conn.row(sql!("account_by_email"), values![email]).await?.map(|row| account(&row)).transpose()
}

/// Reads an account.
///
/// # Errors
/// A failed database.
pub async fn get(conn: &mut Conn, id: AccountId) -> Result<Option<Account>, StorageError> {
    conn.row(sql!("account_get"), values![id]).await?.map(|row| account(&row)).transpose()
}

/// Stores a new hash of the same password.
///
/// # Errors
/// A failed database.
pub async fn rehash(conn: &mut Conn, id: AccountId, hash: &str) -> Result<(), StorageError> {
    conn.run(sql!("account_rehash"), values![id, hash]).await?;
    Ok(())
}

/// Stores the hash of a new password: every session but one ends, and every code for a new password is spent.
///
/// # Errors
/// A failed database.
pub async fn set_password(
    conn: &mut Conn,
    id: AccountId,
    hash: &str,
    kept_session: Uuid,
    now: Timestamp,
) -> Result<(), StorageError> {
    rehash(conn, id, hash).await?;
    conn.run(sql!("session_end_others"), values![id, kept_session, now.as_millisecond()]).await?;
    conn.run(sql!("password_reset_spend_all"), values![id, now]).await?;
    Ok(())
}

/// Ends an account: its sessions and keys go with it, its members stay without an account.
///
/// # Errors
/// A failed database.
pub async fn delete(conn: &mut Conn, id: AccountId) -> Result<(), StorageError> {
    conn.run(sql!("account_delete"), values![id]).await?;
    Ok(())
}

/// A session as stored; times in milliseconds since 1970.
#[derive(Clone, Debug)]
pub struct Session {
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub account: AccountId,
    /// When it began.
    pub created_at: i64,
    /// When it was last refreshed.
    pub last_used_at: i64,
    /// When it ended.
    pub ended_at: Option<i64>,
    /// What it was begun on, in words.
    pub device: String,
    /// Whether a browser's cookie holds it.
    pub is_browser: bool,
}

fn stored_session(row: &Row) -> Result<Session, StorageError> {
    Ok(Session {
        id: row.get("id")?,
        account: row.id("account_id")?,
        created_at: row.get("created_at")?,
        last_used_at: row.get("last_used_at")?,
        ended_at: row.get("ended_at")?,
        device: row.get("device")?,
        is_browser: row.get("is_browser")?,
    })
}

/// Begins a session.
///
/// # Errors
/// A failed database.
pub async fn begin_session(
    conn: &mut Conn,
    id: Uuid,
    account: AccountId,
    now: Timestamp,
    refresh_hash: [u8; 32],
    (device, is_browser): (&str, bool),
) -> Result<(), StorageError> {
    conn.run(sql!("session_insert"), values![id, account, now.as_millisecond(), device, is_browser]).await?;
    conn.run(sql!("refresh_token_insert"), values![refresh_hash, id]).await?;
    Ok(())
}

/// Reads a session.
///
/// # Errors
/// A failed database.
pub async fn session(conn: &mut Conn, id: Uuid) -> Result<Option<Session>, StorageError> {
    conn.row(sql!("session_get"), values![id]).await?.as_ref().map(stored_session).transpose()
}

/// Reads an account's sessions before an id that began and were used after these instants, in a browser and elsewhere;
/// newest first.
///
/// # Errors
/// A failed database.
pub async fn sessions(
    conn: &mut Conn,
    account: AccountId,
    before: Uuid,
    (browser, elsewhere): (Since, Since),
    limit: i64,
) -> Result<Vec<Session>, StorageError> {
    let values = values![account, before, browser.begun, browser.used, elsewhere.begun, elsewhere.used, limit];
    conn.rows(sql!("session_list_by_account"), values).await?.iter().map(stored_session).collect()
}

/// The instants, in milliseconds since 1970, after which a session must have begun and been used so as not to be over.
#[derive(Clone, Copy, Debug)]
pub struct Since {
    pub begun: i64,
    pub used: i64,
}

/// Says whether an account never had a session.
///
/// # Errors
/// A failed database.
pub async fn is_first_session(conn: &mut Conn, account: AccountId) -> Result<bool, StorageError> {
    let row = conn.row(sql!("session_is_first"), values![account]).await?;
    row.map_or(Ok(true), |row| row.get("is_first"))
}

/// Ends a session of an account; `false`: it has none of this id that goes on.
///
/// # Errors
/// A failed database.
pub async fn end_own_session(
    conn: &mut Conn,
    account: AccountId,
    id: Uuid,
    now: Timestamp,
) -> Result<bool, StorageError> {
    Ok(conn.run(sql!("session_end_own"), values![id, account, now.as_millisecond()]).await? == 1)
}

/// Ends a session and with it every token that descends from its sign-in.
///
/// # Errors
/// A failed database.
pub async fn end_session(conn: &mut Conn, id: Uuid, now: Timestamp) -> Result<(), StorageError> {
    conn.run(sql!("session_end"), values![id, now.as_millisecond()]).await?;
    Ok(())
}

/// A refresh token as stored.
#[derive(Clone, Debug)]
pub struct RefreshToken {
    /// Its session.
    pub session: Uuid,
    /// When it was spent, in milliseconds since 1970.
    pub spent_at: Option<i64>,
    /// The hash of the token that it was spent for.
    pub successor_hash: Option<Vec<u8>>,
    /// That token, sealed under the spent one.
    pub sealed_successor: Option<Vec<u8>>,
}

/// Reads a refresh token by its hash.
///
/// # Errors
/// A failed database.
pub async fn refresh_token(conn: &mut Conn, hash: &[u8]) -> Result<Option<RefreshToken>, StorageError> {
    let Some(row) = conn.row(sql!("refresh_token_get"), values![hash]).await? else { return Ok(None) };
    Ok(Some(RefreshToken {
        session: row.get("session_id")?,
        spent_at: row.get("spent_at")?,
        successor_hash: row.get("successor_hash")?,
        sealed_successor: row.get("sealed_successor")?,
    }))
}

/// Spends a refresh token for its successor.
///
/// # Errors
/// A failed database.
pub async fn rotate(
    conn: &mut Conn,
    session: Uuid,
    spent: [u8; 32],
    successor: [u8; 32],
    sealed: Vec<u8>,
    now: Timestamp,
) -> Result<(), StorageError> {
    let at = now.as_millisecond();
    conn.run(sql!("refresh_token_spend"), values![spent, at, successor, sealed]).await?;
    conn.run(sql!("refresh_token_insert"), values![successor, session]).await?;
    touch(conn, session, now).await
}

/// Notes that a session was used.
///
/// # Errors
/// A failed database.
pub async fn touch(conn: &mut Conn, session: Uuid, now: Timestamp) -> Result<(), StorageError> {
    conn.run(sql!("session_touch"), values![session, now.as_millisecond()]).await?;
    Ok(())
}
