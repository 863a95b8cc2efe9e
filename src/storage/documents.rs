//! What is kept as a body: courses, set-ups, seasons, competitions, events. Earlier bodies stand in `versions`.

use super::db::Conn;
use super::error::StorageError;
use super::row::Row;
use crate::domain::ids::{EventId, LeagueId, SeasonId};
use crate::wire::bundle::line::{EarlierVersion, Received};
use crate::{sql, values};
use jiff::Timestamp;
use serde::de::DeserializeOwned;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The statements of one kind of document.
pub struct Kind {
    /// The word for it in versions and the journal.
    pub word: &'static str,
    table: &'static str,
    has_parent: bool,
    get: &'static str,
    list: &'static str,
    insert: &'static str,
    update: &'static str,
}

macro_rules! kind {
    ($word:literal, $table:literal, $has_parent:literal) => {
        Kind {
            word: $word,
            table: $table,
            has_parent: $has_parent,
            get: sql!($word, "_get"),
            list: sql!($word, "_list"),
            insert: sql!($word, "_insert"),
            update: sql!($word, "_update"),
        }
    };
}

/// Courses.
pub const COURSES: Kind = kind!("course", "courses", false);
/// Set-ups; the parent is the owner.
pub const SETUPS: Kind = kind!("setup", "setups", true);
/// Seasons.
pub const SEASONS: Kind = kind!("season", "seasons", false);
/// Competitions; the parent is the season.
pub const COMPETITIONS: Kind = kind!("competition", "competitions", true);
/// Events; the parent is the season.
pub const EVENTS: Kind = kind!("event", "events", true);

/// A stored document.
#[derive(Clone, Debug)]
pub struct Document<T> {
    /// Its id.
    pub id: Uuid,
    /// Its league.
    pub league: LeagueId,
    /// Its season or owner.
    pub parent: Option<Uuid>,
    /// The number of its version, from 1.
    pub version: i64,
    /// The number of the raw fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
    /// The body as stored.
    pub text: String,
    /// The body.
    pub body: T,
}

fn document<T: DeserializeOwned>(kind: &Kind, row: &Row) -> Result<Document<T>, StorageError> {
    Ok(Document {
        id: row.get("id")?,
        league: row.id("league_id")?,
        parent: if kind.has_parent { row.get("parent_id")? } else { None },
        version: row.get("version")?,
        seq: row.get("seq")?,
        received_at: row.parsed(kind.table, "received_at")?,
        text: row.get("body")?,
        body: row.json(kind.table, "body")?,
    })
}

/// Reads one.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get<T: DeserializeOwned>(
    conn: &mut Conn,
    kind: &Kind,
    id: Uuid,
) -> Result<Option<Document<T>>, StorageError> {
    conn.row(kind.get, values![id]).await?.map(|row| document(kind, &row)).transpose()
}

/// Reads the league's documents of a kind after an id, in order of ids.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list<T: DeserializeOwned>(
    conn: &mut Conn,
    kind: &Kind,
    league: LeagueId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<Document<T>>, StorageError> {
    let rows = conn.rows(kind.list, values![league, after, limit]).await?;
    rows.iter().map(|row| document(kind, row)).collect()
}

/// Reads what a season has of a kind, events or competitions, after an id and in order of ids.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list_of_season<T: DeserializeOwned>(
    conn: &mut Conn,
    kind: &Kind,
    league: LeagueId,
    season: SeasonId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<Document<T>>, StorageError> {
    let statement = if kind.table == COMPETITIONS.table {
        sql!("competition_list_by_season")
    } else {
        sql!("event_list_by_season")
    };
    let rows = conn.rows(statement, values![league, after, limit, season]).await?;
    rows.iter().map(|row| document(kind, row)).collect()
}

/// Stores a new one.
///
/// # Errors
/// A failed database.
#[expect(clippy::too_many_arguments, reason = "a row has as many columns")]
pub async fn insert(
    conn: &mut Conn,
    kind: &Kind,
    league: LeagueId,
    id: Uuid,
    parent: Option<Uuid>,
    version: i64,
    seq: i64,
    at: Timestamp,
    body: &str,
) -> Result<(), StorageError> {
    let mut values = values![league, id, version, seq, at, body];
    if kind.has_parent {
        values.push(parent.into());
    }
    conn.run(kind.insert, values).await?;
    Ok(())
}

/// Replaces a body, keeping the one before it.
///
/// # Errors
/// A failed database.
pub async fn replace<T>(
    conn: &mut Conn,
    kind: &Kind,
    before: &Document<T>,
    by: Option<Uuid>,
    seq: i64,
    at: Timestamp,
    body: &str,
) -> Result<(), StorageError> {
    keep_version(
        conn,
        kind.word,
        before.league,
        before.id,
        Kept {
            version: before.version,
            seq: before.seq,
            received_at: before.received_at,
            by,
            reason: None,
            body: &before.text,
        },
    )
    .await?;
    conn.run(kind.update, values![before.league, before.id, before.version + 1, seq, at, body]).await?;
    Ok(())
}

/// Removes an event with its earlier versions, its entries and its cards in play. It must have no rounds.
///
/// # Errors
/// A failed database.
pub async fn remove_event(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("entrant_delete_by_event"), values![league, id]).await?;
    conn.run(sql!("card_in_play_delete_by_event"), values![league, id]).await?;
    conn.run(sql!("version_delete"), values![league, EVENTS.word, id]).await?;
    conn.run(sql!("event_delete"), values![league, id]).await?;
    Ok(())
}

/// Removes a competition with its earlier versions.
///
/// # Errors
/// A failed database.
pub async fn remove_competition(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("version_delete"), values![league, COMPETITIONS.word, id]).await?;
    conn.run(sql!("competition_delete"), values![league, id]).await?;
    Ok(())
}

/// Removes a course with its earlier versions. No event may be played from its tees.
///
/// # Errors
/// A failed database.
pub async fn remove_course(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("version_delete"), values![league, COURSES.word, id]).await?;
    conn.run(sql!("course_delete"), values![league, id]).await?;
    Ok(())
}

/// Returns whether cards, findings or practice were played on a set-up.
///
/// # Errors
/// A failed database.
pub async fn is_setup_used(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<bool, StorageError> {
    let row = conn.row(sql!("setup_is_used"), values![league, id]).await?;
    row.map_or(Ok(false), |row| row.get("is_used"))
}

/// Removes a set-up with its earlier versions and what is known of its files. It must not be in use.
///
/// # Errors
/// A failed database.
pub async fn remove_setup(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("file_columns_delete_by_setup"), values![league, id]).await?;
    conn.run(sql!("version_delete"), values![league, SETUPS.word, id]).await?;
    conn.run(sql!("setup_delete"), values![league, id]).await?;
    Ok(())
}

/// Removes a season with its earlier versions and what moved its tables. Its events, competitions and carried results
/// must have been removed.
///
/// # Errors
/// A failed database.
pub async fn remove_season(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("standings_change_delete"), values![league, id]).await?;
    conn.run(sql!("version_delete"), values![league, SEASONS.word, id]).await?;
    conn.run(sql!("season_delete"), values![league, id]).await?;
    Ok(())
}

/// A version that is about to be replaced.
pub struct Kept<'a> {
    /// Its number.
    pub version: i64,
    /// Its number among the league's facts.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
    /// Who replaced it.
    pub by: Option<Uuid>,
    /// Why it was replaced.
    pub reason: Option<&'a str>,
    /// Its body.
    pub body: &'a str,
}

/// Keeps a version that is about to be replaced.
///
/// # Errors
/// A failed database.
pub async fn keep_version(
    conn: &mut Conn,
    kind: &str,
    league: LeagueId,
    id: Uuid,
    kept: Kept<'_>,
) -> Result<(), StorageError> {
    let values = values![league, kind, id, kept.version, kept.seq, kept.received_at, kept.by, kept.reason, kept.body];
    conn.run(sql!("version_insert"), values).await?;
    Ok(())
}

/// Reads the earlier versions of something, oldest first, with who replaced each.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn versions(
    conn: &mut Conn,
    kind: &str,
    league: LeagueId,
    id: Uuid,
) -> Result<Vec<(EarlierVersion, Option<Uuid>)>, StorageError> {
    let rows = conn.rows(sql!("version_list"), values![league, kind, id]).await?;
    rows.iter()
        .map(|row| {
            let version = EarlierVersion {
                version: row.get("version")?,
                received: Received {
                    seq: Some(row.get("seq")?),
                    received_at: Some(row.parsed("versions", "received_at")?),
                },
                reason: row.get("reason")?,
                body: row.json("versions", "body")?,
            };
            Ok((version, row.get("replaced_by")?))
        })
        .collect()
}

/// Returns the mark that changes whenever what a season's table shows may have changed.
///
/// # Errors
/// A failed database.
pub async fn season_shown(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<i64, StorageError> {
    let row = conn.row(sql!("season_shown"), values![league, season]).await?;
    row.map_or(Ok(0), |row| row.get("shown"))
}

/// Returns the mark that changes whenever what an event's board shows may have changed.
///
/// # Errors
/// A failed database.
pub async fn event_shown(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<i64, StorageError> {
    let row = conn.row(sql!("event_shown"), values![league, event]).await?;
    row.map_or(Ok(0), |row| row.get("shown"))
}

/// Returns the marks of a season's events.
///
/// # Errors
/// A failed database.
pub async fn event_marks(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
) -> Result<BTreeMap<EventId, i64>, StorageError> {
    let rows = conn.rows(sql!("event_list_marks"), values![league, season]).await?;
    rows.iter().map(|row| Ok((row.id("id")?, row.get("shown")?))).collect()
}

/// Moves the marks of seasons and events, each once.
///
/// # Errors
/// A failed database.
pub async fn show_anew(
    conn: &mut Conn,
    shown: impl IntoIterator<Item = (LeagueId, SeasonId, EventId)>,
) -> Result<(), StorageError> {
    let (mut seasons, mut events) = (BTreeSet::new(), BTreeSet::new());
    for (league, season, event) in shown {
        seasons.insert((league, season));
        events.insert((league, event));
    }
    show_seasons_anew(conn, seasons).await?;
    show_events_anew(conn, events).await
}

/// Moves the marks of seasons.
///
/// # Errors
/// A failed database.
pub async fn show_seasons_anew(
    conn: &mut Conn,
    seasons: impl IntoIterator<Item = (LeagueId, SeasonId)>,
) -> Result<(), StorageError> {
    let rows = seasons.into_iter().flat_map(|(league, season)| values![league, season]).collect();
    conn.rows_for(sql!("season_show_anew"), 2, rows).await?;
    Ok(())
}

/// Moves the marks of events.
///
/// # Errors
/// A failed database.
pub async fn show_events_anew(
    conn: &mut Conn,
    events: impl IntoIterator<Item = (LeagueId, EventId)>,
) -> Result<(), StorageError> {
    let rows = events.into_iter().flat_map(|(league, event)| values![league, event]).collect();
    conn.rows_for(sql!("event_show_anew"), 2, rows).await?;
    Ok(())
}

/// Reads the first body of what has been replaced since, as it was stored.
///
/// # Errors
/// A failed database.
pub async fn first_body(
    conn: &mut Conn,
    kind: &str,
    league: LeagueId,
    id: Uuid,
) -> Result<Option<String>, StorageError> {
    conn.row(sql!("version_list"), values![league, kind, id]).await?.map(|row| row.get("body")).transpose()
}

/// Moves the marks of all seasons and events of a league.
///
/// # Errors
/// A failed database.
pub async fn show_all_anew(conn: &mut Conn, league: LeagueId) -> Result<(), StorageError> {
    conn.run(sql!("season_show_all_anew"), values![league]).await?;
    conn.run(sql!("event_show_all_anew"), values![league]).await?;
    Ok(())
}
