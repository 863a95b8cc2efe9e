//! Erasing what a person wrote, wherever it stands.

use super::db::Conn;
use super::error::StorageError;
use crate::domain::ids::{LeagueId, MemberId};
use crate::{sql, values};
use uuid::Uuid;

/// Erases the earlier versions of a member and of that member's set-ups.
///
/// # Errors
/// A failed database.
pub async fn versions(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<(), StorageError> {
    conn.run(sql!("erase_versions"), values![league, member]).await?;
    conn.run(sql!("erase_setup_versions"), values![league, member]).await?;
    Ok(())
}

/// Erases a member's words, and what was said to that member.
///
/// # Errors
/// A failed database.
pub async fn words(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<(), StorageError> {
    conn.run(sql!("erase_reasons"), values![league, member]).await?;
    conn.run(sql!("erase_version_reasons"), values![league, member]).await?;
    conn.run(sql!("erase_rulings"), values![league, member]).await?;
    conn.run(sql!("erase_change_reasons"), values![league, member]).await?;
    conn.run(sql!("erase_queries"), values![league, member]).await?;
    conn.run(sql!("erase_answers"), values![league, member]).await?;
    conn.run(sql!("erase_finding_words"), values![league, member]).await?;
    conn.run(sql!("erase_carried_differentials"), values![league, member]).await?;
    conn.run(sql!("erase_handicap_acts"), values![league, member]).await?;
    conn.run(sql!("erase_carried_results"), values![league, member]).await?;
    conn.run(sql!("erase_entries"), values![league, member]).await?;
    conn.run(sql!("erase_notices"), values![league, member]).await?;
    conn.run(sql!("erase_cards_in_play"), values![league, member]).await?;
    Ok(())
}

/// Returns the ids of what is about a person beside the record: the rounds, the queries, the findings.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn about(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<Vec<Uuid>, StorageError> {
    conn.rows(sql!("erase_about"), values![league, member]).await?.iter().map(|row| row.get("id")).collect()
}
