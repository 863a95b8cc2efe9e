//! Leagues and invitations.

use super::db::Conn;
use super::error::StorageError;
use super::journal::Head;
use super::row::Row;
use crate::domain::facts::{League, Role};
use crate::domain::ids::{AccountId, LeagueId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A league as stored.
#[derive(Clone, Debug)]
pub struct StoredLeague {
    /// Its id.
    pub id: LeagueId,
    /// What was laid down.
    pub league: League,
    /// The last number given to a raw fact.
    pub seq: i64,
    /// Changes with everything that the derivation knows beside the cards.
    pub book_mark: i64,
    /// The number of its version.
    pub version: i64,
    /// The number of its own fact.
    pub created_seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

fn league(row: &Row) -> Result<StoredLeague, StorageError> {
    Ok(StoredLeague {
        id: row.id("id")?,
        league: League { name: row.get("name")?, time_zone: row.get("time_zone")? },
        seq: row.get("seq")?,
        book_mark: row.get("book_mark")?,
        version: row.get("version")?,
        created_seq: row.get("created_seq")?,
        received_at: row.parsed("leagues", "received_at")?,
    })
}

/// Stores a league.
///
/// # Errors
/// A failed database.
pub async fn insert(
    conn: &mut Conn,
    id: LeagueId,
    league: &League,
    seq: i64,
    book_mark: i64,
    at: Timestamp,
    version: i64,
) -> Result<(), StorageError> {
    let values = values![id, &league.name, &league.time_zone, seq, book_mark, at, version];
    conn.run(sql!("league_insert"), values).await?;
    Ok(())
}

/// Reads a league.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: LeagueId) -> Result<Option<StoredLeague>, StorageError> {
    conn.row(sql!("league_get"), values![id]).await?.map(|row| league(&row)).transpose()
}

/// Reads the leagues of an account after an id, each with the account's role there.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_account(
    conn: &mut Conn,
    account: AccountId,
    after: uuid::Uuid,
    limit: i64,
) -> Result<Vec<(StoredLeague, Role, MemberId)>, StorageError> {
    let rows = conn.rows(sql!("league_list_by_account"), values![account, after, limit]).await?;
    rows.iter().map(|row| Ok((league(row)?, super::members::role(row)?, row.id("member_id")?))).collect()
}

/// Reads the ids of all leagues.
///
/// # Errors
/// A failed database.
pub async fn ids(conn: &mut Conn) -> Result<Vec<LeagueId>, StorageError> {
    conn.rows(sql!("league_list_all"), values![]).await?.iter().map(|row| row.id("id")).collect()
}

/// Reads all leagues.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn all(conn: &mut Conn) -> Result<Vec<StoredLeague>, StorageError> {
    conn.rows(sql!("league_list_all"), values![]).await?.iter().map(league).collect()
}

/// Replaces name and time zone.
///
/// # Errors
/// A failed database.
pub async fn update(conn: &mut Conn, id: LeagueId, league: &League) -> Result<(), StorageError> {
    conn.run(sql!("league_update"), values![id, &league.name, &league.time_zone]).await?;
    Ok(())
}

/// Takes the next number for a raw fact.
///
/// # Errors
/// A failed database; a league that is gone.
pub async fn next_seq(conn: &mut Conn, id: LeagueId) -> Result<i64, StorageError> {
    let row = conn.row(sql!("league_next_seq"), values![id]).await?;
    row.ok_or(StorageError::Corrupt { table: "leagues", column: "id", detail: format!("{id} is gone") })?.get("seq")
}

/// Stores leagues' last numbers of a raw fact and the heads of their journals.
///
/// # Errors
/// A failed database.
pub async fn advance(
    conn: &mut Conn,
    leagues: impl IntoIterator<Item = (LeagueId, i64, Head)>,
) -> Result<(), StorageError> {
    let rows = leagues.into_iter().flat_map(|(id, seq, head)| values![id, seq, head.n, head.hash]).collect();
    conn.rows_for(sql!("league_advance"), 4, rows).await?;
    Ok(())
}

/// Locks those of the leagues that nobody else has locked until the transaction ends, and returns them.
///
/// # Errors
/// A failed database.
pub async fn lock_free(conn: &mut Conn, leagues: &[LeagueId]) -> Result<Vec<LeagueId>, StorageError> {
    let wanted = leagues.iter().flat_map(|league| values![*league]).collect();
    conn.rows_for(sql!("lock_free_leagues"), 1, wanted).await?.iter().map(|row| row.id("id")).collect()
}

/// Raises the last number to one that came along in a bundle.
///
/// # Errors
/// A failed database.
pub async fn raise_seq(conn: &mut Conn, id: LeagueId, seq: i64) -> Result<(), StorageError> {
    conn.run(sql!("league_raise_seq"), values![id, seq]).await?;
    Ok(())
}

/// Marks that something changed that the derivation knows beside the cards.
///
/// # Errors
/// A failed database.
pub async fn mark_book(conn: &mut Conn, id: LeagueId, mark: i64) -> Result<(), StorageError> {
    conn.run(sql!("league_mark_book"), values![id, mark]).await?;
    Ok(())
}

/// An invitation as stored.
#[derive(Clone, Debug)]
pub struct Invitation {
    /// Its id.
    pub id: Uuid,
    /// The league; `None`: to register only.
    pub league: Option<LeagueId>,
    /// The role that it gives.
    pub role: Option<Role>,
    /// The record that it claims.
    pub member: Option<MemberId>,
    /// The finding that it lets somebody from outside rule on.
    pub finding: Option<Uuid>,
    /// Until when it holds.
    pub expires_at: Timestamp,
    /// Whether it was used.
    pub is_spent: bool,
    /// Whether an organizer revoked it.
    pub is_revoked: bool,
}

fn invitation_of(row: &Row) -> Result<Invitation, StorageError> {
    Ok(Invitation {
        id: row.get("id")?,
        league: row.optional_id("league_id")?,
        role: row.get::<Option<String>>("role")?.as_deref().and_then(Role::from_word),
        member: row.optional_id("member_id")?,
        finding: row.optional_id("finding_id")?,
        expires_at: row.parsed("invitations", "expires_at")?,
        is_spent: row.get::<Option<String>>("spent_at")?.is_some(),
        is_revoked: row.get::<Option<String>>("revoked_at")?.is_some(),
    })
}

/// Stores an invitation.
///
/// # Errors
/// A failed database.
pub async fn insert_invitation(
    conn: &mut Conn,
    code_hash: [u8; 32],
    invitation: &Invitation,
    by: Option<AccountId>,
) -> Result<(), StorageError> {
    let Invitation { id, league, role, member, finding, expires_at, .. } = invitation;
    let values = values![code_hash, *league, role.map(Role::word), *member, *finding, *expires_at, by, *id];
    conn.run(sql!("invitation_insert"), values).await?;
    Ok(())
}

/// Reads an invitation by the hash of its code.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn invitation(conn: &mut Conn, code_hash: [u8; 32]) -> Result<Option<Invitation>, StorageError> {
    conn.row(sql!("invitation_get"), values![code_hash]).await?.map(|row| invitation_of(&row)).transpose()
}

/// Reads an invitation by its id.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn invitation_by_id(conn: &mut Conn, id: Uuid) -> Result<Option<Invitation>, StorageError> {
    conn.row(sql!("invitation_by_id"), values![id]).await?.map(|row| invitation_of(&row)).transpose()
}

/// Reads a league's invitations after an id that were neither used nor revoked and hold at a time.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn open_invitations(
    conn: &mut Conn,
    league: LeagueId,
    after: Uuid,
    at: Timestamp,
    limit: i64,
) -> Result<Vec<Invitation>, StorageError> {
    let rows = conn.rows(sql!("invitation_list_open"), values![league, after, at, limit]).await?;
    rows.iter().map(invitation_of).collect()
}

/// Revokes an invitation; `false`: it was used or revoked.
///
/// # Errors
/// A failed database.
pub async fn revoke_invitation(conn: &mut Conn, id: Uuid, at: Timestamp) -> Result<bool, StorageError> {
    Ok(conn.run(sql!("invitation_revoke"), values![id, at]).await? == 1)
}

/// Revokes what is open of a league's invitations that an account made or that give a record.
///
/// # Errors
/// A failed database.
pub async fn void_invitations(
    conn: &mut Conn,
    league: LeagueId,
    by: Option<AccountId>,
    member: MemberId,
    at: Timestamp,
) -> Result<(), StorageError> {
    conn.run(sql!("invitation_void"), values![league, by, member, at]).await?;
    Ok(())
}

/// Spends an invitation; `false`: somebody was quicker.
///
/// # Errors
/// A failed database.
pub async fn spend_invitation(conn: &mut Conn, code_hash: [u8; 32], at: Timestamp) -> Result<bool, StorageError> {
    Ok(conn.run(sql!("invitation_spend"), values![code_hash, at]).await? == 1)
}
