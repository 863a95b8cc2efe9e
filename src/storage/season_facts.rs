//! Teams, line-ups, fixtures, concessions, adjustments and side contests. Earlier bodies stand in `versions`.

use super::db::Conn;
use super::documents::{Kept, keep_version};
use super::error::StorageError;
use super::row::Row;
use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId, TeamId};
use crate::{sql, values};
use jiff::Timestamp;
use serde::de::DeserializeOwned;
use std::collections::HashSet;
use uuid::Uuid;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Of a season.
    Team,
    /// Of a team, in an event.
    LineUp,
    /// Of a competition.
    Fixture,
    /// Of a fixture.
    Concession,
    /// Of a competition.
    Adjustment,
    /// Of an event.
    SideContest,
}

impl Kind {
    const WORDS: [(Self, &'static str); 6] = [
        (Self::Team, "team"),
        (Self::LineUp, "line_up"),
        (Self::Fixture, "fixture"),
        (Self::Concession, "concession"),
        (Self::Adjustment, "adjustment"),
        (Self::SideContest, "side_contest"),
    ];

    /// Returns the word for it, in versions and the journal too.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize].1
    }
}

/// One of them, as stored.
#[derive(Clone, Debug)]
pub struct SeasonFact {
    pub league: LeagueId,
    pub id: Uuid,
    pub season: SeasonId,
    pub kind: Kind,
    /// What it belongs to.
    pub of: Uuid,
    /// The event of a line-up.
    pub event: Option<EventId>,
    /// The number of its version, from 1.
    pub version: i64,
    /// The number of the raw fact.
    pub seq: i64,
    pub received_at: Timestamp,
    /// The body as stored.
    pub text: String,
}

fn unreadable(column: &'static str, detail: String) -> StorageError {
    StorageError::Corrupt { table: "season_facts", column, detail }
}

impl SeasonFact {
    fn of(row: &Row) -> Result<Self, StorageError> {
        let (word, id): (String, Uuid) = (row.get("kind")?, row.get("id")?);
        let kind = Kind::WORDS.iter().find(|(_, known)| *known == word);
        let (kind, _) = *kind.ok_or_else(|| unreadable("kind", format!("{id}: there is no kind {word}")))?;
        Ok(Self {
            league: row.id("league_id")?,
            id,
            season: row.id("season_id")?,
            kind,
            of: row.get("of_id")?,
            event: row.optional_id("event_id")?,
            version: row.get("version")?,
            seq: row.get("seq")?,
            received_at: row.parsed("season_facts", "received_at")?,
            text: row.get("body")?,
        })
    }

    /// Reads its body.
    ///
    /// # Errors
    /// A body that is not of its kind.
    pub fn body<T: DeserializeOwned>(&self) -> Result<T, StorageError> {
        serde_json::from_str(&self.text).map_err(|error| unreadable("body", format!("{}: {error}", self.id)))
    }
}

/// Reads one.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: Uuid) -> Result<Option<SeasonFact>, StorageError> {
    conn.row(sql!("season_fact_get"), values![id]).await?.map(|row| SeasonFact::of(&row)).transpose()
}

/// Reads all of a league, in the order of their numbers.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(conn: &mut Conn, league: LeagueId) -> Result<Vec<SeasonFact>, StorageError> {
    conn.rows(sql!("season_fact_list"), values![league]).await?.iter().map(SeasonFact::of).collect()
}

/// Reads the line-up of a team in an event.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn line_up(
    conn: &mut Conn,
    league: LeagueId,
    team: TeamId,
    event: EventId,
) -> Result<Option<SeasonFact>, StorageError> {
    conn.row(sql!("season_fact_line_up"), values![league, team, event])
        .await?
        .map(|row| SeasonFact::of(&row))
        .transpose()
}

/// Stores a new one.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, fact: &SeasonFact) -> Result<(), StorageError> {
    let SeasonFact { league, id, season, kind, of, event, version, seq, received_at, text } = fact;
    let values = values![*league, *id, *season, kind.word(), *of, *event, *version, *seq, *received_at, text.as_str()];
    conn.run(sql!("season_fact_insert"), values).await?;
    Ok(())
}

/// Replaces a body, keeping the one before it.
///
/// # Errors
/// A failed database.
pub async fn replace(
    conn: &mut Conn,
    before: &SeasonFact,
    by: MemberId,
    seq: i64,
    at: Timestamp,
    body: &str,
) -> Result<(), StorageError> {
    let kept = Kept {
        version: before.version,
        seq: before.seq,
        received_at: before.received_at,
        by: Some(by.0),
        reason: None,
        body: &before.text,
    };
    keep_version(conn, before.kind.word(), before.league, before.id, kept).await?;
    conn.run(sql!("season_fact_update"), values![before.league, before.id, before.version + 1, seq, at, body]).await?;
    Ok(())
}

/// Removes one with its earlier versions.
///
/// # Errors
/// A failed database.
pub async fn remove(conn: &mut Conn, fact: &SeasonFact) -> Result<(), StorageError> {
    conn.run(sql!("version_delete"), values![fact.league, fact.kind.word(), fact.id]).await?;
    conn.run(sql!("season_fact_delete"), values![fact.league, fact.id]).await?;
    Ok(())
}

/// Returns whose cards of a season a ruling leaves out, by event.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn left_out(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
) -> Result<HashSet<(EventId, MemberId)>, StorageError> {
    let rows = conn.rows(sql!("round_list_excluded"), values![league, season]).await?;
    rows.iter().map(|row| Ok((row.id("event_id")?, row.id("member_id")?))).collect()
}
