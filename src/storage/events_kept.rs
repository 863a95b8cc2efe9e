//! What final events keep.

use super::db::Conn;
use super::error::StorageError;
use crate::domain::facts::FinalRecord;
use crate::domain::ids::{EventId, LeagueId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// What a final event keeps, as stored.
#[derive(Clone, Debug)]
pub struct Kept {
    pub id: Uuid,
    pub event: EventId,
    /// What it keeps.
    pub record: FinalRecord,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

/// Stores what an event keeps.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, league: LeagueId, kept: &Kept) -> Result<(), StorageError> {
    let Kept { id, event, record, seq, received_at } = kept;
    let body = serde_json::to_string(record).expect("a record is plain values with text keys");
    conn.run(sql!("event_kept_insert"), values![league, *event, *id, *seq, *received_at, body]).await?;
    Ok(())
}

/// Reads what a league's events keep, in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn in_order(conn: &mut Conn, league: LeagueId) -> Result<Vec<Kept>, StorageError> {
    let mut found = Vec::new();
    for row in conn.rows(sql!("event_kept_list"), values![league]).await? {
        found.push(Kept {
            id: row.get("id")?,
            event: row.id("event_id")?,
            record: row.json("events_kept", "body")?,
            seq: row.get("seq")?,
            received_at: row.parsed("events_kept", "received_at")?,
        });
    }
    Ok(found)
}
