//! What was done to rounds beside rulings: attested, let in, taken back.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// Something that was done to a round, as stored.
#[derive(Clone, Debug)]
pub struct RoundAct {
    pub id: Uuid,
    pub round: RoundId,
    /// Who did it, where that is known.
    pub member: Option<MemberId>,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

fn act(row: &Row, table: &'static str) -> Result<RoundAct, StorageError> {
    Ok(RoundAct {
        id: row.get("id")?,
        round: row.id("round_id")?,
        member: row.optional_id("member_id")?,
        seq: row.get("seq")?,
        received_at: row.parsed(table, "received_at")?,
    })
}

fn acts(rows: &[Row], table: &'static str) -> Result<Vec<RoundAct>, StorageError> {
    rows.iter().map(|row| act(row, table)).collect()
}

fn withdrawals(rows: &[Row]) -> Result<Vec<(RoundAct, Option<String>)>, StorageError> {
    rows.iter().map(|row| Ok((act(row, "withdrawals")?, row.get("reason")?))).collect()
}

/// Stores an attestation.
///
/// # Errors
/// A failed database.
pub async fn attest(conn: &mut Conn, league: LeagueId, stored: &RoundAct) -> Result<(), StorageError> {
    let RoundAct { id, round, member, seq, received_at } = *stored;
    conn.run(sql!("attestation_insert"), values![league, id, round, member, seq, received_at]).await?;
    Ok(())
}

/// Stores that a round was let in.
///
/// # Errors
/// A failed database.
pub async fn accept(conn: &mut Conn, league: LeagueId, stored: &RoundAct) -> Result<(), StorageError> {
    let RoundAct { id, round, member, seq, received_at } = *stored;
    conn.run(sql!("acceptance_insert"), values![league, id, round, member, seq, received_at]).await?;
    Ok(())
}

/// Stores that a round was taken back, and why.
///
/// # Errors
/// A failed database.
pub async fn withdraw(
    conn: &mut Conn,
    league: LeagueId,
    stored: &RoundAct,
    reason: Option<&str>,
) -> Result<(), StorageError> {
    let RoundAct { id, round, member, seq, received_at } = *stored;
    conn.run(sql!("withdrawal_insert"), values![league, id, round, member, reason, seq, received_at]).await?;
    Ok(())
}

/// Deletes the attestations of a round.
///
/// # Errors
/// A failed database.
pub async fn clear_attestations(conn: &mut Conn, league: LeagueId, round: RoundId) -> Result<(), StorageError> {
    conn.run(sql!("attestation_clear"), values![league, round]).await?;
    Ok(())
}

/// Reads the attestations of a round in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn attestations_of(conn: &mut Conn, league: LeagueId, round: RoundId) -> Result<Vec<RoundAct>, StorageError> {
    acts(&conn.rows(sql!("attestation_list_by_round"), values![league, round]).await?, "attestations")
}

/// Reads when a round was let in, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn acceptances_of(conn: &mut Conn, league: LeagueId, round: RoundId) -> Result<Vec<RoundAct>, StorageError> {
    acts(&conn.rows(sql!("acceptance_list_by_round"), values![league, round]).await?, "acceptances")
}

/// Reads when a round was taken back, and why, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn withdrawals_of(
    conn: &mut Conn,
    league: LeagueId,
    round: RoundId,
) -> Result<Vec<(RoundAct, Option<String>)>, StorageError> {
    withdrawals(&conn.rows(sql!("withdrawal_list_by_round"), values![league, round]).await?)
}

/// Reads a league's attestations in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn all_attestations(conn: &mut Conn, league: LeagueId) -> Result<Vec<RoundAct>, StorageError> {
    acts(&conn.rows(sql!("attestation_list"), values![league]).await?, "attestations")
}

/// Reads which rounds of a league were let in, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn all_acceptances(conn: &mut Conn, league: LeagueId) -> Result<Vec<RoundAct>, StorageError> {
    acts(&conn.rows(sql!("acceptance_list"), values![league]).await?, "acceptances")
}

/// Reads which rounds of a league were taken back, and why, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn all_withdrawals(
    conn: &mut Conn,
    league: LeagueId,
) -> Result<Vec<(RoundAct, Option<String>)>, StorageError> {
    withdrawals(&conn.rows(sql!("withdrawal_list"), values![league]).await?)
}
