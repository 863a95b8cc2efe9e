//! Members.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::facts::{EarlierStart, Member, Role};
use crate::domain::ids::{AccountId, LeagueId, MemberId};
use crate::domain::units::Tenths;
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A member as stored.
#[derive(Clone, Debug)]
pub struct StoredMember {
    /// Its id.
    pub id: MemberId,
    /// Its league.
    pub league: LeagueId,
    /// The account that claimed it.
    pub account: Option<AccountId>,
    /// What was laid down.
    pub member: Member,
    /// Whether the person was erased.
    pub is_erased: bool,
    /// The number of its version.
    pub version: i64,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

pub(super) fn role(row: &Row) -> Result<Role, StorageError> {
    let word: String = row.get("role")?;
    Role::from_word(&word).ok_or(StorageError::Corrupt { table: "members", column: "role", detail: word })
}

fn member(row: &Row) -> Result<StoredMember, StorageError> {
    Ok(StoredMember {
        id: row.id("id")?,
        league: row.id("league_id")?,
        account: row.optional_id("account_id")?,
        member: Member {
            display_name: row.get("display_name")?,
            role: role(row)?,
            flight: row.get("flight")?,
            starting_handicap: row.get::<Option<i64>>("starting_handicap")?.map(|tenths| Tenths(tenths as i32)),
            guest: row.get("guest")?,
            earlier_starts: row.json("members", "earlier_starts")?,
        },
        is_erased: row.get::<Option<String>>("erased_at")?.is_some(),
        version: row.get("version")?,
        seq: row.get("seq")?,
        received_at: row.parsed("members", "received_at")?,
    })
}

fn starts_text(earlier: &[EarlierStart]) -> String {
    serde_json::to_string(earlier).expect("starting handicaps are plain values with text keys")
}

/// Stores a member.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, stored: &StoredMember) -> Result<(), StorageError> {
    let Member { display_name, role, flight, starting_handicap, guest, earlier_starts } = &stored.member;
    // Of a record that comes in erased nobody knows when it was.
    let erased_at = stored.is_erased.then_some(stored.received_at);
    let values = values![
        stored.league,
        stored.id,
        stored.account,
        role.word(),
        display_name,
        flight.as_deref(),
        starting_handicap.map(|index| index.0),
        *guest,
        starts_text(earlier_starts),
        erased_at,
        stored.version,
        stored.seq,
        stored.received_at
    ];
    conn.run(sql!("member_insert"), values).await?;
    Ok(())
}

/// Reads a member.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: MemberId) -> Result<Option<StoredMember>, StorageError> {
    conn.row(sql!("member_get"), values![id]).await?.map(|row| member(&row)).transpose()
}

/// Reads an account's member record in a league.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn by_account(
    conn: &mut Conn,
    account: AccountId,
    league: LeagueId,
) -> Result<Option<StoredMember>, StorageError> {
    conn.row(sql!("member_by_account"), values![account, league]).await?.map(|row| member(&row)).transpose()
}

/// Reads a league's members after an id, in order of ids.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(
    conn: &mut Conn,
    league: LeagueId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<StoredMember>, StorageError> {
    conn.rows(sql!("member_list"), values![league, after, limit]).await?.iter().map(member).collect()
}

/// Reads an account's member records in all its leagues.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_account(conn: &mut Conn, account: AccountId) -> Result<Vec<StoredMember>, StorageError> {
    conn.rows(sql!("member_list_by_account"), values![account]).await?.iter().map(member).collect()
}

/// Says whether an account organizes a league.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn organizes(conn: &mut Conn, account: AccountId) -> Result<bool, StorageError> {
    Ok(of_account(conn, account).await?.iter().any(|record| record.member.role == Role::Organizer))
}

/// Replaces what was laid down.
///
/// # Errors
/// A failed database.
pub async fn update(conn: &mut Conn, league: LeagueId, id: MemberId, member: &Member) -> Result<(), StorageError> {
    let Member { display_name, role, flight, starting_handicap, guest, earlier_starts } = member;
    let (index, earlier) = (starting_handicap.map(|index| index.0), starts_text(earlier_starts));
    let values = values![league, id, role.word(), display_name, flight.as_deref(), index, *guest, earlier];
    conn.run(sql!("member_update"), values).await?;
    Ok(())
}

/// Gives a record without an account to one; `false`: it has one.
///
/// # Errors
/// A failed database.
pub async fn claim(
    conn: &mut Conn,
    league: LeagueId,
    id: MemberId,
    account: AccountId,
    role: Role,
) -> Result<bool, StorageError> {
    Ok(conn.run(sql!("member_claim"), values![league, id, account, role.word()]).await? == 1)
}

/// Erases the person from a record: the numbers stay under a name that says nothing.
///
/// # Errors
/// A failed database.
pub async fn erase(
    conn: &mut Conn,
    league: LeagueId,
    id: MemberId,
    name: &str,
    at: Timestamp,
) -> Result<(), StorageError> {
    conn.run(sql!("member_erase"), values![league, id, name, at]).await?;
    Ok(())
}

/// Counts a league's organizers.
///
/// # Errors
/// A failed database.
pub async fn count_organizers(conn: &mut Conn, league: LeagueId) -> Result<i64, StorageError> {
    let row = conn.row(sql!("member_count_organizers"), values![league]).await?;
    row.map_or(Ok(0), |row| row.get("organizers"))
}

/// Says whether a member is an organizer beside whom nobody else can act as one.
///
/// # Errors
/// A failed database.
pub async fn is_only_organizer(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<bool, StorageError> {
    let row = conn.row(sql!("member_is_only_organizer"), values![league, member]).await?;
    row.map_or(Ok(false), |row| row.get("is_only"))
}

/// Counts a league's erased members.
///
/// # Errors
/// A failed database.
pub async fn count_erased(conn: &mut Conn, league: LeagueId) -> Result<i64, StorageError> {
    let row = conn.row(sql!("member_count_erased"), values![league]).await?;
    row.map_or(Ok(0), |row| row.get("erased"))
}

/// Returns a league's organizers.
///
/// # Errors
/// A failed database.
pub async fn organizers(conn: &mut Conn, league: LeagueId) -> Result<Vec<MemberId>, StorageError> {
    conn.rows(sql!("organizer_list"), values![league]).await?.iter().map(|row| row.id("id")).collect()
}
