//! Up to which fact of a league evidence has taken its rounds in.

use super::db::Conn;
use super::error::StorageError;
use super::rounds::{self, RoundRow};
use crate::domain::ids::LeagueId;
use crate::{sql, values};

/// Where a league's evidence stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weighed {
    /// The last number given to a fact.
    pub seq: i64,
    /// The number of the last fact up to which counting rounds are in the evidence.
    pub upto: i64,
    /// Whether a counting round waits behind it.
    pub waits: bool,
}

/// Reads where a league's evidence stands; `None` for a league that is not there.
///
/// # Errors
/// A failed database.
pub async fn weighed(conn: &mut Conn, league: LeagueId) -> Result<Option<Weighed>, StorageError> {
    let row = conn.row(sql!("league_weighed"), values![league]).await?;
    row.map(|row| Ok(Weighed { seq: row.get("seq")?, upto: row.get("weighed_seq")?, waits: row.get("waits")? }))
        .transpose()
}

/// Notes up to which fact a league's rounds are in the evidence.
///
/// # Errors
/// A failed database.
pub async fn set_weighed(conn: &mut Conn, league: LeagueId, upto: i64) -> Result<(), StorageError> {
    conn.run(sql!("league_set_weighed"), values![league, upto]).await?;
    Ok(())
}

/// Reads the leagues with facts behind which evidence may lag.
///
/// # Errors
/// A failed database.
pub async fn leagues(conn: &mut Conn) -> Result<Vec<LeagueId>, StorageError> {
    conn.rows(sql!("league_list_unweighed"), values![]).await?.iter().map(|row| row.id("id")).collect()
}

/// Reads the counting rounds after a fact, in the order received, holes apart.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn rounds_after(
    conn: &mut Conn,
    league: LeagueId,
    seq: i64,
    most: usize,
) -> Result<Vec<RoundRow>, StorageError> {
    let rows = conn.rows(sql!("round_list_unweighed"), values![league, seq, most as i64]).await?;
    rows.iter().map(rounds::round_row).collect()
}
