//! Answers kept under idempotency keys, written in the transaction of their effect.

use super::db::Conn;
use super::error::StorageError;
use super::row::Value;
use crate::domain::ids::{AccountId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// An answer that can be given again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// The HTTP status.
    pub status: u16,
    /// The body.
    pub body: String,
    /// The entity tag.
    pub etag: Option<String>,
    /// Where the new resource is.
    pub location: Option<String>,
    /// Whether this is an answer given again.
    pub is_replay: bool,
}

/// Reads the answer under a key with the hash of the body that it answered.
///
/// # Errors
/// A failed database.
pub async fn get(
    conn: &mut Conn,
    account: AccountId,
    operation: &str,
    key: Uuid,
) -> Result<Option<(Vec<u8>, Reply)>, StorageError> {
    let Some(row) = conn.row(sql!("idempotency_get"), values![account, operation, key]).await? else {
        return Ok(None);
    };
    let reply = Reply {
        status: row.get::<i64>("status")? as u16,
        body: row.get("reply")?,
        etag: row.get("etag")?,
        location: row.get("location")?,
        is_replay: true,
    };
    Ok(Some((row.get("body_hash")?, reply)))
}

/// Keeps an answer.
///
/// # Errors
/// A failed database.
pub async fn keep(
    conn: &mut Conn,
    account: AccountId,
    operation: &str,
    key: Uuid,
    body_hash: [u8; 32],
    reply: &Reply,
    now: Timestamp,
) -> Result<(), StorageError> {
    insert_rows(conn, row_values(account, operation, key, body_hash, reply, now)).await
}

/// Keeps answers by their rows' values.
///
/// # Errors
/// A failed database.
pub async fn insert_rows(conn: &mut Conn, rows: Vec<Value>) -> Result<(), StorageError> {
    conn.insert_rows(sql!("idempotency_insert_head"), 9, rows).await
}

/// Writes an answer as its row's values.
pub fn row_values(
    account: AccountId,
    operation: &str,
    key: Uuid,
    body_hash: [u8; 32],
    reply: &Reply,
    now: Timestamp,
) -> Vec<Value> {
    values![
        account,
        operation,
        key,
        body_hash,
        i64::from(reply.status),
        &reply.body,
        reply.etag.as_deref(),
        reply.location.as_deref(),
        now.as_millisecond()
    ]
}

/// Forgets the answers kept before a time.
///
/// # Errors
/// A failed database.
pub async fn expire(conn: &mut Conn, before: Timestamp) -> Result<u64, StorageError> {
    conn.run(sql!("idempotency_expire"), values![before.as_millisecond()]).await
}

/// Forgets the answers that are about a person: those whose route or text names the member, or one of the things that are
/// about the member.
///
/// # Errors
/// A failed database.
pub async fn erase(conn: &mut Conn, member: MemberId, about: Vec<Uuid>) -> Result<(), StorageError> {
    conn.run(sql!("idempotency_erase_rounds"), values![member.to_string()]).await?;
    let ids: Vec<String> = about.iter().chain([&member.0]).map(Uuid::to_string).collect();
    for row in conn.rows(sql!("idempotency_list_others"), values![]).await? {
        let (operation, reply): (String, String) = (row.get("operation")?, row.get("reply")?);
        if ids.iter().any(|id| operation.contains(id) || reply.contains(id)) {
            let (account, key): (Uuid, Uuid) = (row.get("account_id")?, row.get("key")?);
            conn.run(sql!("idempotency_delete"), values![account, operation, key]).await?;
        }
    }
    Ok(())
}
