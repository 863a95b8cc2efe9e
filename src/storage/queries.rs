//! Queries about a card, and their answers.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::facts::{Answer, Query};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A query about a round, as stored.
#[derive(Clone, Debug)]
pub struct StoredQuery {
    pub league: LeagueId,
    pub id: Uuid,
    pub round: RoundId,
    /// Who asks.
    pub member: MemberId,
    /// What is asked.
    pub query: Query,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

/// An answer to a query, as stored.
#[derive(Clone, Debug)]
pub struct StoredAnswer {
    pub id: Uuid,
    /// The query.
    pub query: Uuid,
    /// Who answers.
    pub member: MemberId,
    pub answer: Answer,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

fn query(row: &Row) -> Result<StoredQuery, StorageError> {
    Ok(StoredQuery {
        league: row.id("league_id")?,
        id: row.get("id")?,
        round: row.id("round_id")?,
        member: row.id("member_id")?,
        query: Query { pointer: row.get("pointer")?, text: row.get("text")? },
        seq: row.get("seq")?,
        received_at: row.parsed("queries", "received_at")?,
    })
}

fn answer(row: &Row) -> Result<StoredAnswer, StorageError> {
    Ok(StoredAnswer {
        id: row.get("id")?,
        query: row.get("query_id")?,
        member: row.id("member_id")?,
        answer: Answer { text: row.get("text")? },
        seq: row.get("seq")?,
        received_at: row.parsed("answers", "received_at")?,
    })
}

/// Stores a query.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, stored: &StoredQuery) -> Result<(), StorageError> {
    let StoredQuery { league, id, round, member, query: Query { pointer, text }, seq, received_at } = stored;
    let values = values![*league, *id, *round, *member, pointer.as_deref(), text, *seq, *received_at];
    conn.run(sql!("query_insert"), values).await?;
    Ok(())
}

/// Stores an answer.
///
/// # Errors
/// A failed database.
pub async fn insert_answer(conn: &mut Conn, league: LeagueId, stored: &StoredAnswer) -> Result<(), StorageError> {
    let StoredAnswer { id, query, member, answer: Answer { text }, seq, received_at } = stored;
    conn.run(sql!("answer_insert"), values![league, *id, *query, *member, text, *seq, *received_at]).await?;
    Ok(())
}

/// Reads a query.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: Uuid) -> Result<Option<StoredQuery>, StorageError> {
    conn.row(sql!("query_get"), values![id]).await?.as_ref().map(query).transpose()
}

/// Reads the queries about a round in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_round(conn: &mut Conn, league: LeagueId, round: RoundId) -> Result<Vec<StoredQuery>, StorageError> {
    conn.rows(sql!("query_list_by_round"), values![league, round]).await?.iter().map(query).collect()
}

/// Reads a member's queries in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<Vec<StoredQuery>, StorageError> {
    conn.rows(sql!("query_list_by_member"), values![league, member]).await?.iter().map(query).collect()
}

/// Reads a league's queries in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn in_order(conn: &mut Conn, league: LeagueId) -> Result<Vec<StoredQuery>, StorageError> {
    conn.rows(sql!("query_list"), values![league]).await?.iter().map(query).collect()
}

/// Reads the answers to the queries about a round in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn answers_of_round(
    conn: &mut Conn,
    league: LeagueId,
    round: RoundId,
) -> Result<Vec<StoredAnswer>, StorageError> {
    conn.rows(sql!("answer_list_by_round"), values![league, round]).await?.iter().map(answer).collect()
}

/// Reads a member's answers in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn answers_of_member(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
) -> Result<Vec<StoredAnswer>, StorageError> {
    conn.rows(sql!("answer_list_by_member"), values![league, member]).await?.iter().map(answer).collect()
}

/// Reads a league's answers in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn answers_in_order(conn: &mut Conn, league: LeagueId) -> Result<Vec<StoredAnswer>, StorageError> {
    conn.rows(sql!("answer_list"), values![league]).await?.iter().map(answer).collect()
}
