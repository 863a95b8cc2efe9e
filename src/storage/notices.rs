//! Notices: what concerns a member, for whoever holds the record, and what concerns an account.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::ids::{AccountId, EventId, LeagueId, MemberId, RoundId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// How many notices about an account are kept.
const MOST_ABOUT_ACCOUNT: i64 = 50;

/// A notice as stored.
#[derive(Clone, Debug)]
pub struct Notice {
    /// The league and the record that it concerns; none where it is about the account.
    pub place: Option<(LeagueId, MemberId)>,
    pub id: Uuid,
    /// What it tells.
    pub kind: String,
    /// The round that it is about.
    pub round: Option<RoundId>,
    /// The query that it is about.
    pub query: Option<Uuid>,
    /// The finding that it is about.
    pub finding: Option<Uuid>,
    /// The event that it is about.
    pub event: Option<EventId>,
    /// Where an act on the account came from.
    pub device: Option<String>,
    /// When it was made.
    pub at: Timestamp,
    /// When it was seen.
    pub seen_at: Option<Timestamp>,
}

/// What a notice to a member is about.
#[derive(Clone, Copy, Debug)]
pub struct Things {
    pub round: Option<RoundId>,
    pub query: Option<Uuid>,
    pub finding: Option<Uuid>,
    pub event: Option<EventId>,
}

fn notice(row: &Row) -> Result<Notice, StorageError> {
    let seen: Option<String> = row.get("seen_at")?;
    Ok(Notice {
        place: row.optional_id("league_id")?.zip(row.optional_id("member_id")?),
        id: row.get("id")?,
        kind: row.get("kind")?,
        round: row.optional_id("round_id")?,
        query: row.optional_id("query_id")?,
        finding: row.optional_id("finding_id")?,
        event: row.optional_id("event_id")?,
        device: row.get("device")?,
        at: row.parsed("notices", "at")?,
        seen_at: seen.map(|_| row.parsed("notices", "seen_at")).transpose()?,
    })
}

/// Stores a notice to a member that nobody has seen.
///
/// # Errors
/// A failed database.
pub async fn insert(
    conn: &mut Conn,
    (league, member): (LeagueId, MemberId),
    kind: &str,
    Things { round, query, finding, event }: Things,
    at: Timestamp,
) -> Result<(), StorageError> {
    let values = values![league, Uuid::now_v7(), member, kind, round, query, finding, event, at];
    conn.run(sql!("notice_insert"), values).await?;
    Ok(())
}

/// Stores a notice about an account that nobody has seen. Only the newest of an account are kept.
///
/// # Errors
/// A failed database.
pub async fn insert_about_account(
    conn: &mut Conn,
    account: AccountId,
    kind: &str,
    device: &str,
    at: Timestamp,
) -> Result<(), StorageError> {
    conn.run(sql!("account_notice_insert"), values![Uuid::now_v7(), account, kind, device, at]).await?;
    conn.run(sql!("account_notice_keep_newest"), values![account, MOST_ABOUT_ACCOUNT]).await?;
    Ok(())
}

/// Reads the notices of a record, oldest first.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<Vec<Notice>, StorageError> {
    conn.rows(sql!("notice_list_by_member"), values![league, member]).await?.iter().map(notice).collect()
}

/// Reads the notices of an account's records before an id, newest first.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_account(
    conn: &mut Conn,
    account: AccountId,
    before: Uuid,
    limit: i64,
) -> Result<Vec<Notice>, StorageError> {
    conn.rows(sql!("notice_list_by_account"), values![account, before, limit]).await?.iter().map(notice).collect()
}

/// Counts those of an account's newest notices that were not seen.
///
/// # Errors
/// A failed database.
pub async fn count_unseen(conn: &mut Conn, account: AccountId, most: i64) -> Result<i64, StorageError> {
    let row = conn.row(sql!("notice_count_unseen"), values![account, most]).await?;
    row.map_or(Ok(0), |row| row.get("unseen"))
}

/// Reads a notice of an account's record.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: Uuid, account: AccountId) -> Result<Option<Notice>, StorageError> {
    conn.row(sql!("notice_get"), values![id, account]).await?.as_ref().map(notice).transpose()
}

/// Notes that a notice was seen; again it stays seen at the first time.
///
/// # Errors
/// A failed database.
pub async fn see(conn: &mut Conn, notice: &Notice, at: Timestamp) -> Result<(), StorageError> {
    match notice.place {
        Some((league, _)) => conn.run(sql!("notice_see"), values![league, notice.id, at]).await?,
        None => conn.run(sql!("account_notice_see"), values![notice.id, at]).await?,
    };
    Ok(())
}
