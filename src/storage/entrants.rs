//! Who plays in an event, and the cards in play.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::facts::{CardInPlay, EventEntry};
use crate::domain::ids::{EventId, LeagueId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A member's entry in an event, as stored.
#[derive(Clone, Debug)]
pub struct StoredEntrant {
    pub league: LeagueId,
    pub id: Uuid,
    pub event: EventId,
    /// Who plays.
    pub member: MemberId,
    /// When and where, and in what.
    pub entry: EventEntry,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

fn entrant(row: &Row) -> Result<StoredEntrant, StorageError> {
    Ok(StoredEntrant {
        league: row.id("league_id")?,
        id: row.get("id")?,
        event: row.id("event_id")?,
        member: row.id("member_id")?,
        entry: EventEntry {
            slot: row.get("slot")?,
            bay: row.get("bay")?,
            competitions: row.json("entrants", "competitions")?,
        },
        seq: row.get("seq")?,
        received_at: row.parsed("entrants", "received_at")?,
    })
}

/// Stores an entry.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, stored: &StoredEntrant) -> Result<(), StorageError> {
    let StoredEntrant { league, id, event, member, entry, seq, received_at } = stored;
    let EventEntry { slot, bay, competitions } = entry;
    let competitions = serde_json::to_string(competitions).expect("ids are texts");
    let (slot, bay) = (slot.as_deref(), bay.as_deref());
    let values = values![*league, *id, *event, *member, slot, bay, competitions, *seq, *received_at];
    conn.run(sql!("entrant_insert"), values).await?;
    Ok(())
}

/// Deletes an entry.
///
/// # Errors
/// A failed database.
pub async fn delete(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("entrant_delete"), values![league, id]).await?;
    Ok(())
}

/// Reads an entry.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: Uuid) -> Result<Option<StoredEntrant>, StorageError> {
    conn.row(sql!("entrant_get"), values![id]).await?.as_ref().map(entrant).transpose()
}

/// Reads who plays in an event, in the order in which they entered.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_event(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<Vec<StoredEntrant>, StorageError> {
    conn.rows(sql!("entrant_list_by_event"), values![league, event]).await?.iter().map(entrant).collect()
}

/// Reads a member's entries in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
) -> Result<Vec<StoredEntrant>, StorageError> {
    conn.rows(sql!("entrant_list_by_member"), values![league, member]).await?.iter().map(entrant).collect()
}

/// Reads a league's entries in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn in_order(conn: &mut Conn, league: LeagueId) -> Result<Vec<StoredEntrant>, StorageError> {
    conn.rows(sql!("entrant_list"), values![league]).await?.iter().map(entrant).collect()
}

/// Reads a league's entries that enter competitions, in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn in_competitions(conn: &mut Conn, league: LeagueId) -> Result<Vec<StoredEntrant>, StorageError> {
    conn.rows(sql!("entrant_list_in_competitions"), values![league]).await?.iter().map(entrant).collect()
}

/// A card in play.
#[derive(Debug)]
pub struct StoredCard {
    pub member: MemberId,
    /// The number of its version.
    pub version: i64,
    /// When it last changed.
    pub updated_at: Timestamp,
    /// Its holes so far.
    pub card: CardInPlay,
}

fn card(row: &Row) -> Result<StoredCard, StorageError> {
    Ok(StoredCard {
        member: row.id("member_id")?,
        version: row.get("version")?,
        updated_at: row.parsed("cards_in_play", "updated_at")?,
        card: row.json("cards_in_play", "body")?,
    })
}

/// Puts a card in play in the place of the one before.
///
/// # Errors
/// A failed database.
pub async fn put_card(
    conn: &mut Conn,
    league: LeagueId,
    event: EventId,
    StoredCard { member, version, updated_at, card }: &StoredCard,
) -> Result<(), StorageError> {
    let body = serde_json::to_string(card).expect("a card is plain values with text keys");
    let values = values![league, event, *member, *version, *updated_at, body];
    conn.run(sql!("card_in_play_put"), values).await?;
    Ok(())
}

/// Reads a member's card in play.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn card_of(
    conn: &mut Conn,
    league: LeagueId,
    event: EventId,
    member: MemberId,
) -> Result<Option<StoredCard>, StorageError> {
    conn.row(sql!("card_in_play_get"), values![league, event, member]).await?.as_ref().map(card).transpose()
}

/// Reads the cards in play of an event.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn cards_of(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<Vec<StoredCard>, StorageError> {
    conn.rows(sql!("card_in_play_list"), values![league, event]).await?.iter().map(card).collect()
}
