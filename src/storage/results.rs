//! Derived rows: one a round, made afresh whenever something behind it changes.

use super::db::Conn;
use super::error::StorageError;
use super::packed::{self, Whose};
use super::row::{Row, Value};
use crate::domain::facts::Outcome;
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::putting::PuttingTotals;
use crate::domain::season::{CardDigest, Entry, Figures, RoundState};
use crate::{sql, values};
use std::collections::HashMap;
use std::sync::Arc;
use uuid::Uuid;

fn corrupt(column: &'static str) -> StorageError {
    StorageError::Corrupt { table: "results", column, detail: "its bytes are not what was packed".into() }
}

fn state(row: &Row) -> Result<RoundState, StorageError> {
    let word: String = row.get("state")?;
    RoundState::from_word(&word).ok_or(StorageError::Corrupt { table: "rounds", column: "state", detail: word })
}

fn putting(row: &Row) -> Result<PuttingTotals, StorageError> {
    packed::putting_of(&row.get::<Vec<u8>>("putting")?).ok_or_else(|| corrupt("putting"))
}

fn card(row: &Row) -> Result<CardDigest, StorageError> {
    packed::card_of(&row.get::<Vec<u8>>("card")?).ok_or_else(|| corrupt("card"))
}

fn figures(row: &Row) -> Result<Option<Figures>, StorageError> {
    let Some(bytes) = row.get::<Option<Vec<u8>>>("figures")? else { return Ok(None) };
    let whose = Whose {
        round: row.id("round_id")?,
        event: row.id("event_id")?,
        season: row.id("season_id")?,
        member: row.id("member_id")?,
    };
    packed::figures_of(&bytes, whose, card(row)?, putting(row)?).map(Some).ok_or_else(|| corrupt("figures"))
}

/// Says whether bytes are what is packed into a column.
pub fn is_packed(column: &str, bytes: &[u8]) -> bool {
    match column {
        "card" => packed::card_of(bytes).is_some(),
        "putting" => packed::putting_of(bytes).is_some(),
        _ => {
            let any = Uuid::max();
            let whose = Whose { round: any.into(), event: any.into(), season: any.into(), member: any.into() };
            let card = CardDigest { outcome: Outcome::Complete, holes: Vec::new(), putts: None };
            packed::figures_of(bytes, whose, card, PuttingTotals::default()).is_some()
        }
    }
}

fn new_stamp() -> i64 {
    Uuid::new_v4().as_u64_pair().0 as i64
}

/// A round with the figures that are stored of it.
#[derive(Clone, Debug)]
pub struct StoredResult {
    /// The round as the derivation sees it.
    pub entry: Entry,
    /// Its figures as stored; `None` where it does not count.
    pub figures: Option<Figures>,
    /// Another one whenever the figures or what they follow from change; `None` where it does not count.
    pub stamp: Option<i64>,
}

impl StoredResult {
    /// A round with its figures, with a stamp of its own.
    pub fn new(entry: Entry, figures: Option<Figures>) -> Self {
        let stamp = figures.as_ref().map(|_| new_stamp());
        Self { entry, figures, stamp }
    }

    /// Gives it other figures; returns those that it had.
    pub fn put_figures(&mut self, figures: Option<Figures>) -> Option<Figures> {
        self.stamp = figures.as_ref().map(|_| new_stamp());
        std::mem::replace(&mut self.figures, figures)
    }
}

/// Returns the mark of a member's rounds, another one whenever what the derivation knows of them changes.
pub fn mark(rounds: &[Arc<StoredResult>]) -> i64 {
    // As `hand_in_asked.sql` has it: parts of stamps, so that the sum of thousands fits.
    let stamps: i64 = rounds.iter().filter_map(|known| known.stamp).map(|stamp| stamp / 65_536).sum();
    rounds.len() as i64 + stamps
}

/// Reads a member's rounds with the figures that are stored of them.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<Vec<StoredResult>, StorageError> {
    Ok(of_members(conn, [(league, member)]).await?.remove(&member).unwrap_or_default())
}

/// Reads members' rounds with the figures that are stored of them; members without a round are left out.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_members(
    conn: &mut Conn,
    members: impl IntoIterator<Item = (LeagueId, MemberId)>,
) -> Result<HashMap<MemberId, Vec<StoredResult>>, StorageError> {
    let asked = members.into_iter().flat_map(|(league, member)| values![league, member]).collect();
    let mut of_members: HashMap<MemberId, Vec<StoredResult>> = HashMap::new();
    for row in &conn.rows_for(sql!("result_list_by_member"), 2, asked).await? {
        let entry = Entry {
            id: row.id("round_id")?,
            event: row.id("event_id")?,
            member: row.id("member_id")?,
            setup: row.optional_id("setup_id")?,
            state: state(row)?,
            played_on: row.parsed("rounds", "played_on")?,
            card: card(row)?,
            putting: putting(row)?,
        };
        let result = StoredResult { figures: figures(row)?, stamp: row.get("stamp")?, entry };
        of_members.entry(result.entry.member).or_default().push(result);
    }
    Ok(of_members)
}

/// Returns the members with a round.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn members(conn: &mut Conn, league: LeagueId) -> Result<Vec<MemberId>, StorageError> {
    conn.rows(sql!("result_list_members"), values![league]).await?.iter().map(|row| row.id("member_id")).collect()
}

/// Reads the figures of a season's counting rounds.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_season(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<Vec<Figures>, StorageError> {
    let rows = conn.rows(sql!("result_list_by_season"), values![league, season]).await?;
    rows.iter().filter_map(|row| figures(row).transpose()).collect()
}

/// The figures of a counting round with their stamp, which is another one whenever they change.
#[derive(Clone, Debug)]
pub struct Stamped {
    /// The stamp.
    pub stamp: i64,
    /// The figures.
    pub figures: Arc<Figures>,
}

fn stamped(row: &Row) -> Result<Option<Stamped>, StorageError> {
    let Some(figures) = figures(row)? else { return Ok(None) };
    Ok(Some(Stamped { stamp: row.get("stamp")?, figures: Arc::new(figures) }))
}

/// Reads the stamped figures of a season's counting rounds.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn stamped_of_season(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
) -> Result<Vec<Stamped>, StorageError> {
    let rows = conn.rows(sql!("result_list_by_season"), values![league, season]).await?;
    rows.iter().filter_map(|row| stamped(row).transpose()).collect()
}

/// Reads the stamped figures of a round; `None` where it does not count.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn stamped_of_round(
    conn: &mut Conn,
    league: LeagueId,
    (member, round): (MemberId, RoundId),
) -> Result<Option<Stamped>, StorageError> {
    let row = conn.row(sql!("result_get"), values![league, member, round]).await?;
    row.map_or(Ok(None), |row| stamped(&row))
}

/// Reads the stamps of an event's counting rounds, and nothing else.
///
/// # Errors
/// A failed database.
pub async fn stamps_of_event(
    conn: &mut Conn,
    league: LeagueId,
    event: EventId,
) -> Result<Vec<((MemberId, RoundId), i64)>, StorageError> {
    let rows = conn.rows(sql!("result_list_stamps"), values![league, event]).await?;
    rows.iter().map(|row| Ok(((row.id("member_id")?, row.id("round_id")?), row.get("stamp")?))).collect()
}

/// A round on an event's board.
#[derive(Clone, Debug)]
pub struct OnBoard {
    /// The round.
    pub round: RoundId,
    /// Whose it is.
    pub member: MemberId,
    /// Where it stands.
    pub state: RoundState,
    /// Its figures; `None` where it does not count.
    pub figures: Option<Figures>,
}

/// Reads an event's rounds, whatever their state.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_event(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<Vec<OnBoard>, StorageError> {
    let rows = conn.rows(sql!("result_list_by_event"), values![league, event]).await?;
    rows.iter()
        .map(|row| {
            Ok(OnBoard {
                round: row.id("round_id")?,
                member: row.id("member_id")?,
                state: state(row)?,
                figures: figures(row)?,
            })
        })
        .collect()
}

/// Reads the figures of one round of a member; `None` where it does not count.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_round(
    conn: &mut Conn,
    league: LeagueId,
    (member, round): (MemberId, RoundId),
) -> Result<Option<Figures>, StorageError> {
    let row = conn.row(sql!("result_get"), values![league, member, round]).await?;
    row.map_or(Ok(None), |row| figures(&row))
}

/// Stores a round as the derivation sees it, with its figures.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, league: LeagueId, result: &StoredResult) -> Result<(), StorageError> {
    insert_rows(conn, row_values(league, result)).await
}

/// Stores results by their rows' values.
///
/// # Errors
/// A failed database.
pub async fn insert_rows(conn: &mut Conn, rows: Vec<Value>) -> Result<(), StorageError> {
    conn.insert_rows(sql!("result_insert_head"), 8, rows).await
}

/// Writes a round as the derivation sees it, with its figures, as its row's values.
pub fn row_values(league: LeagueId, result: &StoredResult) -> Vec<Value> {
    let StoredResult { entry, figures, stamp } = result;
    let (card, putting) = (packed::card(&entry.card), packed::putting(entry.putting));
    let figures = figures.as_ref().map(packed::figures);
    values![league, entry.member, entry.id, entry.event, card, putting, figures, *stamp]
}

/// Stores a corrected round as the derivation sees it.
///
/// # Errors
/// A failed database.
pub async fn set_card(conn: &mut Conn, league: LeagueId, entry: &Entry) -> Result<(), StorageError> {
    let (card, putting) = (packed::card(&entry.card), packed::putting(entry.putting));
    let values = values![league, entry.member, entry.id, card, putting, new_stamp()];
    conn.run(sql!("result_set_card"), values).await?;
    Ok(())
}

/// Stores a round's figures.
///
/// # Errors
/// A failed database.
pub async fn set_figures(conn: &mut Conn, league: LeagueId, result: &StoredResult) -> Result<(), StorageError> {
    let StoredResult { entry, figures, stamp } = result;
    let values = values![league, entry.member, entry.id, figures.as_ref().map(packed::figures), *stamp];
    conn.run(sql!("result_set_figures"), values).await?;
    Ok(())
}
