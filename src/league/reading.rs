//! What is read: boards, tables, league indexes, putting, documents, the journal.

use super::access;
use super::books::LeagueBook;
use super::{Caller, Leagues, Refusal};
use crate::domain::facts::Event;
use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId};
use crate::domain::season::overview::HandicapReport;
use crate::domain::season::record::member_record;
use crate::domain::season::{Entry, Figures, RoundState};
use crate::domain::standings::table::{LeagueIndexes, StandingsRow, Value, places, season_table};
use crate::storage::documents::{self, Document, EVENTS, Kind, SEASONS};
use crate::storage::journal::{self, StoredEntry};
use crate::storage::{Conn, members, results};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;
use uuid::Uuid;

/// A season's table.
#[derive(Debug, Serialize)]
pub struct Standings {
    /// The season.
    pub season_id: SeasonId,
    /// The event that it looks back to.
    pub as_of_event_id: Option<EventId>,
    /// The rows.
    pub items: Vec<StandingsRow>,
    /// There is one page.
    pub next: Option<String>,
    /// The events that have taken place or will, in order: the columns of the table.
    pub event_ids: Vec<EventId>,
}

/// An event's board.
#[derive(Debug, Serialize)]
pub struct Board {
    /// The event.
    pub event_id: EventId,
    /// Rises whenever the board shows something else.
    pub version: i64,
    /// The rows.
    pub items: Vec<BoardRow>,
    /// There is one page.
    pub next: Option<String>,
}

/// A row of a board.
#[derive(Debug, Serialize)]
pub struct BoardRow {
    /// The position in the division.
    pub position: Option<u32>,
    /// Whether others share it.
    pub tied: bool,
    /// Whose row it is.
    pub member_id: MemberId,
    /// The member's name.
    pub display_name: String,
    /// The member's division.
    pub division: Option<String>,
    /// Holes started.
    pub holes_played: u32,
    /// All strokes.
    pub gross: Option<i32>,
    /// The gross less the playing strokes.
    pub net: Option<i32>,
    /// Stableford points.
    pub points: Option<i32>,
    /// What the event is worth in the season so far.
    pub value: Option<Value>,
    /// Where the round stands.
    pub state: RoundState,
}

impl Leagues {
    /// Returns the mark of a season's table, and whether the caller may read it.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn season_mark(&self, caller: Caller, season: SeasonId) -> Result<i64, Refusal> {
        let mut conn = self.database.reader().await?;
        let league = season_league(&mut conn, caller, season).await?;
        Ok(documents::season_shown(&mut conn, league, season).await?)
    }

    /// Makes a season's table.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see; an event of another season.
    pub async fn standings(
        &self,
        caller: Caller,
        season: SeasonId,
        after_event: Option<EventId>,
        division: Option<String>,
    ) -> Result<(Standings, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let league = season_league(&mut conn, caller, season).await?;
        let mark = documents::season_shown(&mut conn, league, season).await?;
        let book = self.books.of(&mut conn, league).await?;
        let until = match after_event {
            None => None,
            Some(event) => match book.book.nights.get(&event).filter(|night| night.season == season) {
                Some(night) => Some(night.key()),
                None => return Err(Refusal::fault("/after_event", "unknown-event", "this season has no such event")),
            },
        };
        let figures = results::of_season(&mut conn, league, season).await?;
        let mut indexes = LeagueIndexes::new();
        for carried in book.book.carried_results.get(&season).into_iter().flatten() {
            let member = carried.member_id;
            if figures.iter().any(|round| round.member == member) && until.is_none() {
                continue;
            }
            let stored = results::of_member(&mut conn, league, member).await?;
            let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
            indexes.insert(member, member_record(&book.book, member, &entries, until).league_index);
        }
        let mut items = season_table(&book.book, season, &figures, until, &indexes);
        if let Some(wanted) = division {
            items.retain(|row| row.division.as_ref() == Some(&wanted));
        }
        let nights = book.book.nights_of(season);
        let event_ids = nights.iter().filter(|night| until.is_none_or(|until| night.key() <= until));
        let event_ids = event_ids.map(|night| night.id).collect();
        Ok((Standings { season_id: season, as_of_event_id: after_event, items, next: None, event_ids }, mark))
    }

    /// Returns the mark of an event's board.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn event_mark(&self, caller: Caller, event: EventId) -> Result<i64, Refusal> {
        let mut conn = self.database.reader().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        Ok(documents::event_shown(&mut conn, document.league, event).await?)
    }

    /// Makes an event's board.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn board(&self, caller: Caller, event: EventId) -> Result<Board, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let version = documents::event_shown(&mut conn, document.league, event).await?;
        let book = self.books.of(&mut conn, document.league).await?;
        let rounds = results::of_event(&mut conn, document.league, event).await?;
        Ok(Board { event_id: event, version, items: board_rows(&book, event, &rounds), next: None })
    }

    /// Reads a member's league index with the differentials behind it.
    ///
    /// # Errors
    /// A member of a league that the caller is not in.
    pub async fn handicap(&self, caller: Caller, id: MemberId) -> Result<HandicapReport, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (book, entries) = self.member_entries(&mut conn, caller, id).await?;
        Ok(HandicapReport::of(id, &member_record(&book.book, id, &entries, None)))
    }

    /// Reads a member's rounds as the derivation sees them, with the league's book.
    ///
    /// # Errors
    /// A member of a league that the caller is not in.
    pub(super) async fn member_entries(
        &self,
        conn: &mut Conn,
        caller: Caller,
        id: MemberId,
    ) -> Result<(Arc<LeagueBook>, Vec<Entry>), Refusal> {
        let stored = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        access::member(conn, caller, stored.league).await?;
        let book = self.books.of(conn, stored.league).await?;
        let entries = results::of_member(conn, stored.league, id).await?;
        Ok((book, entries.into_iter().map(|stored| stored.entry).collect()))
    }

    /// Reads one document.
    ///
    /// # Errors
    /// A document that is not there or not the caller's to see.
    pub async fn document<T: DeserializeOwned>(
        &self,
        caller: Caller,
        kind: &Kind,
        id: Uuid,
    ) -> Result<Document<T>, Refusal> {
        let mut conn = self.database.reader().await?;
        Ok(access::document(&mut conn, caller, kind, id).await?.0)
    }

    /// Reads a league's documents of a kind after an id.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn documents<T: DeserializeOwned>(
        &self,
        caller: Caller,
        kind: &Kind,
        league: LeagueId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<Document<T>>, Refusal> {
        let mut conn = self.database.reader().await?;
        access::member(&mut conn, caller, league).await?;
        Ok(documents::list(&mut conn, kind, league, after, limit).await?)
    }

    /// Reads a season's events after an id.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn events_of(
        &self,
        caller: Caller,
        season: SeasonId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<Document<Event>>, Refusal> {
        let mut conn = self.database.reader().await?;
        let league = season_league(&mut conn, caller, season).await?;
        Ok(documents::list_events(&mut conn, league, season, after, limit).await?)
    }

    /// Reads a league's journal after a number.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn journal(
        &self,
        caller: Caller,
        league: LeagueId,
        after: i64,
        limit: i64,
    ) -> Result<Vec<StoredEntry>, Refusal> {
        let mut conn = self.database.reader().await?;
        access::organizer(&mut conn, caller, league).await?;
        Ok(journal::list(&mut conn, league, after, limit).await?)
    }
}

/// Returns the league of a season that the caller may see.
///
/// # Errors
/// A season that is not there or not the caller's to see.
pub(super) async fn season_league(conn: &mut Conn, caller: Caller, season: SeasonId) -> Result<LeagueId, Refusal> {
    let (document, _) = access::document::<crate::domain::facts::Season>(conn, caller, &SEASONS, season.0).await?;
    Ok(document.league)
}

fn board_rows(book: &LeagueBook, event: EventId, rounds: &[results::OnBoard]) -> Vec<BoardRow> {
    let Some(night) = book.book.nights.get(&event) else { return Vec::new() };
    let Some(terms) = book.book.terms(night) else { return Vec::new() };
    let state_of = |figures: &Figures| {
        rounds.iter().find(|round| round.round == figures.round).map_or(RoundState::Submitted, |round| round.state)
    };
    let name =
        |member: MemberId| book.book.members.get(&member).map(|member| member.display_name.clone()).unwrap_or_default();
    let placed = places(rounds.iter().filter_map(|round| round.figures.as_ref()), &terms);
    let mut rows: Vec<BoardRow> = placed
        .iter()
        .map(|row| BoardRow {
            position: row.place,
            tied: row.is_tied,
            member_id: row.figures.member,
            display_name: name(row.figures.member),
            division: row.figures.division.clone(),
            holes_played: row.figures.holes_played,
            gross: row.figures.gross,
            net: row.figures.net,
            points: row.figures.points,
            value: row.value.map(Value),
            state: state_of(row.figures),
        })
        .collect();
    let standing = rounds.iter().filter(|round| round.figures.is_none() && round.state != RoundState::Withdrawn);
    rows.extend(standing.map(|round| BoardRow {
        position: None,
        tied: false,
        member_id: round.member,
        display_name: name(round.member),
        division: None,
        holes_played: 0,
        gross: None,
        net: None,
        points: None,
        value: None,
        state: round.state,
    }));
    rows
}

/// A page of the journal as it is answered.
#[derive(Debug, Serialize)]
pub struct JournalEntry {
    /// What it says.
    #[serde(flatten)]
    pub entry: journal::Entry,
    /// SHA-256 over the hash before it and the text of the entry, in hexadecimal.
    pub hash: String,
}

impl JournalEntry {
    /// Shows a stored entry; `None` for a text that is no entry.
    pub fn of(stored: &StoredEntry) -> Option<Self> {
        Some(Self { entry: serde_json::from_str(&stored.text).ok()?, hash: journal::hex(&stored.hash) })
    }
}
