//! What is read: boards, tables, league indexes, putting, documents, the journal.

use super::access;
use super::{Caller, Leagues, Refusal};
use crate::domain::competition::match_shown::{MatchTableRow, TableRows};
use crate::domain::competition::matches;
use crate::domain::competition::table::{LeagueIndexes, StandingsRow, competition_table, season_table};
use crate::domain::facts::CarriedResult;
use crate::domain::facts::Event;
use crate::domain::ids::{CompetitionId, EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::book::NightKey;
use crate::domain::season::overview::HandicapReport;
use crate::domain::season::record::member_record;
use crate::domain::season::working::{Working, working};
use crate::domain::season::{Book, Entry, Figures, Night};
use crate::domain::units::Tenths;
use crate::league::competition::seen::match_cards;
use crate::league::competition::{asked_for, asked_for_event};
use crate::league::memory::books::LeagueBook;
use crate::storage::documents::{self, Document, EVENTS, Kind, SEASONS};
use crate::storage::journal::{self, StoredEntry};
use crate::storage::{Conn, StorageError, members, results, rounds};
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::HashSet;
use std::sync::Arc;
use uuid::Uuid;

/// A season's table.
#[derive(Debug, Serialize)]
pub struct Standings {
    /// The season.
    pub season_id: SeasonId,
    /// Its competition.
    pub competition_id: CompetitionId,
    /// The event that it looks back to.
    pub as_of_event_id: Option<EventId>,
    /// Until when queries about played events may still change it; `None` once all of them are final.
    pub provisional_until: Option<Timestamp>,
    /// The rows.
    pub items: TableRows,
    /// There is one page.
    pub next: Option<String>,
    /// The events that have taken place or will, in order: the columns of the table.
    pub event_ids: Vec<EventId>,
    /// Those of them that no competition counts.
    pub void_event_ids: Vec<EventId>,
}

/// Returns until when queries about an event may change its results; `None` once it is final, and where it is void.
pub(super) fn provisional_until(book: &Book, night: &Night) -> Option<Timestamp> {
    let hours = book.seasons.get(&night.season)?.query_hours;
    (!night.event.is_final() && !night.event.is_void())
        .then(|| night.event.closes_at + SignedDuration::from_hours(i64::from(hours)))
}

impl Leagues {
    /// Makes the table of one of a season's competitions, the main one where none is named.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see; an event or a competition of another season.
    pub async fn standings(
        &self,
        caller: Caller,
        season: SeasonId,
        competition: Option<CompetitionId>,
        after_event: Option<EventId>,
        flight: Option<String>,
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
                None => {
                    return Err(Refusal::fault("/after_event", Rule::UnknownEvent, "this season has no such event"));
                }
            },
        };
        let figures = self.season_figures.of_season(&mut conn, league, season).await?;
        let figures = || figures.iter().map(|round| &**round);
        let competition = asked_for(&book, season, competition)?;
        let is_of_matches = book.book.competitions.get(&competition).is_some_and(|(_, terms)| !terms.ranks_cards());
        let items = if is_of_matches {
            let cards = match_cards(&mut conn, &book, season, figures().collect(), None).await?;
            let seen = matches::fixtures(&book.book, competition, &cards, until);
            let rows = matches::table(&book.book, competition, &seen, until);
            TableRows::Matches(rows.into_iter().map(|row| MatchTableRow::of(&book.book, row)).collect())
        } else {
            let indexes = carried_indexes(&mut conn, &book, season, figures(), until).await?;
            let mut rows = competition_table(&book.book, competition, figures(), until, &indexes);
            if let Some(wanted) = flight {
                rows.retain(|row| row.flight.as_ref() == Some(&wanted));
            }
            TableRows::Cards(rows)
        };
        let nights = book.book.nights_of(season);
        let terms = book.book.competitions.get(&competition).map(|(_, terms)| terms);
        let is_counted = |event| terms.is_none_or(|terms| terms.counts_event(event));
        let is_shown = |night: &Night| is_counted(night.id) && until.is_none_or(|until| night.key() <= until);
        let shown = || nights.iter().filter(|night| is_shown(night));
        let event_ids = shown().map(|night| night.id).collect();
        let void_event_ids = shown().filter(|night| night.event.is_void()).map(|night| night.id).collect();
        let played: HashSet<EventId> = items.cells().filter_map(|cell| cell.event_id).collect();
        let played = nights.iter().filter(|night| played.contains(&night.id));
        let provisional_until = played.filter_map(|night| provisional_until(&book.book, night)).max();
        let standings = Standings {
            season_id: season,
            competition_id: competition,
            as_of_event_id: after_event,
            provisional_until,
            items,
            next: None,
            event_ids,
            void_event_ids,
        };
        Ok((standings, mark))
    }

    /// Reads a member's league index with the differentials behind it.
    ///
    /// # Errors
    /// A member of a league that the caller is not in.
    pub async fn handicap(&self, caller: Caller, id: MemberId) -> Result<HandicapReport, Refusal> {
        Ok(self.handicap_history(caller, id).await?.0)
    }

    /// Reads the same with the league index that each differential made, newest first.
    ///
    /// # Errors
    /// As [`handicap`](Self::handicap).
    pub async fn handicap_history(
        &self,
        caller: Caller,
        id: MemberId,
    ) -> Result<(HandicapReport, Vec<Option<Tenths>>), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (book, entries) = self.member_entries(&mut conn, caller, id).await?;
        let record = member_record(&book.book, id, &entries, None);
        Ok((HandicapReport::of(id, &record), record.indexes.iter().rev().copied().collect()))
    }

    /// Reads the league index of every member that has one.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn league_indexes(&self, caller: Caller, league: LeagueId) -> Result<LeagueIndexes, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        access::member(&mut conn, caller, league).await?;
        let book = self.books.of(&mut conn, league).await?;
        let mut indexes = LeagueIndexes::new();
        for member in results::members(&mut conn, league).await? {
            let stored = results::of_member(&mut conn, league, member).await?;
            let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
            indexes.insert(member, member_record(&book.book, member, &entries, None).league_index);
        }
        Ok(indexes)
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

    /// Explains the result of a round, step by step.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn working(
        &self,
        caller: Caller,
        id: RoundId,
        competition: Option<CompetitionId>,
    ) -> Result<Working, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let row = rounds::get(&mut conn, id).await?.ok_or(Refusal::NotFound)?;
        access::member(&mut conn, caller, row.league).await?;
        let book = self.books.of(&mut conn, row.league).await?;
        let stored = results::of_member(&mut conn, row.league, row.member).await?;
        let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
        let field = results::of_event(&mut conn, row.league, row.event).await?;
        let field: Vec<Figures> = field.into_iter().filter_map(|round| round.figures).collect();
        let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
        let competition = asked_for_event(&book, night, competition)?;
        working(&book.book, &entries, &field, id, competition).ok_or(Refusal::NotFound)
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
        conn.begin_read().await?;
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
        conn.begin_read().await?;
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
        conn.begin_read().await?;
        let league = season_league(&mut conn, caller, season).await?;
        Ok(documents::list_of_season(&mut conn, &EVENTS, league, season, after, limit).await?)
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
        drop(conn);
        self.weighed(league).await?;
        let mut conn = self.database.reader().await?;
        Ok(journal::list(&mut conn, league, after, limit).await?)
    }
}

/// Makes a season's table from what is stored now, inside a change too.
///
/// # Errors
/// A failed database or an unreadable row.
pub(super) async fn table(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
) -> Result<Vec<StandingsRow>, StorageError> {
    let figures = results::of_season(conn, book.league, season).await?;
    let indexes = carried_indexes(conn, book, season, &figures, None).await?;
    Ok(season_table(&book.book, season, &figures, None, &indexes))
}

/// Works out the league indexes of those who brought a value along into a season and have no figures in it.
///
/// # Errors
/// A failed database or an unreadable row.
pub(super) async fn carried_indexes(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    figures: impl IntoIterator<Item = &Figures>,
    until: Option<NightKey>,
) -> Result<LeagueIndexes, StorageError> {
    let mut indexes = LeagueIndexes::new();
    let carried = book.book.carried_results.get(&season).map_or(&[][..], Vec::as_slice);
    if carried.is_empty() {
        return Ok(indexes);
    }
    let played: HashSet<MemberId> = figures.into_iter().map(|round| round.member).collect();
    for member in carried.iter().filter_map(CarriedResult::member) {
        if played.contains(&member) && until.is_none() {
            continue;
        }
        let stored = results::of_member(conn, book.league, member).await?;
        let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
        indexes.insert(member, member_record(&book.book, member, &entries, until).league_index);
    }
    Ok(indexes)
}

/// Returns the league of a season that the caller may see.
///
/// # Errors
/// A season that is not there or not the caller's to see.
pub(super) async fn season_league(conn: &mut Conn, caller: Caller, season: SeasonId) -> Result<LeagueId, Refusal> {
    let (document, _) = access::document::<crate::domain::facts::Season>(conn, caller, &SEASONS, season.0).await?;
    Ok(document.league)
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
