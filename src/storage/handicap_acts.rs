//! What organizers decided about members' indexes.

use super::db::Conn;
use super::error::StorageError;
use crate::domain::facts::HandicapAct;
use crate::domain::ids::{LeagueId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A handicap act as stored.
#[derive(Clone, Debug)]
pub struct StoredAct {
    pub id: Uuid,
    pub member: MemberId,
    pub act: HandicapAct,
    /// The number of its fact.
    pub seq: i64,
    pub received_at: Timestamp,
}

/// Stores an act of a member.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, league: LeagueId, stored: &StoredAct) -> Result<(), StorageError> {
    let StoredAct { id, member, act, seq, received_at } = stored;
    let decided = serde_json::to_string(&act.decided).expect("facts are plain values with text keys");
    let values = values![league, *id, *member, decided, act.reason.as_str(), *seq, *received_at];
    conn.run(sql!("handicap_act_insert"), values).await?;
    Ok(())
}

/// Reads a league's acts in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(conn: &mut Conn, league: LeagueId) -> Result<Vec<StoredAct>, StorageError> {
    let mut found = Vec::new();
    for row in conn.rows(sql!("handicap_act_list"), values![league]).await? {
        let decided: String = row.get("decided")?;
        let decided = serde_json::from_str(&decided).map_err(|error| StorageError::Corrupt {
            table: "handicap_acts",
            column: "decided",
            detail: error.to_string(),
        })?;
        let act = HandicapAct { decided, reason: row.get("reason")? };
        let received_at = row.parsed("handicap_acts", "received_at")?;
        found.push(StoredAct {
            id: row.get("id")?,
            member: row.id("member_id")?,
            act,
            seq: row.get("seq")?,
            received_at,
        });
    }
    Ok(found)
}
