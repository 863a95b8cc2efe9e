//! What is read: boards, tables, league indexes, putting, documents, the journal.

use super::access;
use super::{Caller, Leagues, Refusal};
use crate::domain::competition::ball::shown;
use crate::domain::competition::table::{LeagueIndexes, StandingsRow, competition_table, part, places, season_table};
use crate::domain::exact::Value;
use crate::domain::facts::Event;
use crate::domain::ids::{CompetitionId, EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::book::NightKey;
use crate::domain::season::overview::HandicapReport;
use crate::domain::season::record::member_record;
use crate::domain::season::working::{Working, working};
use crate::domain::season::{Book, Entry, Figures, Night, RoundState};
use crate::domain::units::Tenths;
use crate::league::competition::asked_for;
use crate::league::memory::books::LeagueBook;
use crate::storage::documents::{self, Document, EVENTS, Kind, SEASONS};
use crate::storage::journal::{self, StoredEntry};
use crate::storage::{Conn, StorageError, entrants, members, results, rounds};
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
    /// The competition that ranks it.
    pub competition_id: CompetitionId,
    /// Rises whenever the board shows something else.
    pub version: i64,
    /// Until when queries may still change what it shows; `None` once the event is final.
    pub provisional_until: Option<Timestamp>,
    /// Cards handed in.
    pub cards_in: u32,
    /// Entered members whose card is not in.
    pub still_out: u32,
    /// The rows.
    pub items: Vec<BoardRow>,
    /// There is one page.
    pub next: Option<String>,
}

/// A row of a board.
#[derive(Debug, Serialize)]
pub struct BoardRow {
    /// The position in the flight.
    pub position: Option<u32>,
    /// Whether others share it.
    pub tied: bool,
    /// Whose row it is.
    pub member_id: MemberId,
    /// The member's name.
    pub display_name: String,
    /// The member's flight.
    pub flight: Option<String>,
    /// Holes started.
    pub holes_played: u32,
    /// All strokes.
    pub gross: Option<i32>,
    /// The gross less the playing strokes.
    pub net: Option<i32>,
    /// Stableford points.
    pub points: Option<i32>,
    /// What the player receives.
    pub playing_handicap: Option<i32>,
    /// The score of the card in the competition.
    pub score: Option<Value>,
    /// What each hole is worth, where holes are won or the best of each counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub holes: Option<Vec<Option<i32>>>,
    /// What the event is worth in the season so far.
    pub value: Option<Value>,
    /// Strokes over par on the holes holed out so far, for a card in play.
    pub over_par_so_far: Option<i32>,
    /// When the member plays.
    pub slot: Option<String>,
    /// Where the member plays.
    pub bay: Option<String>,
    /// Where the round stands; a member without one is in play or entered.
    pub state: &'static str,
}

/// The state of a row whose card is in play.
pub const IN_PLAY: &str = "in_play";
/// The state of a row whose member entered and has no card.
pub const ENTERED: &str = "entered";

/// Returns until when queries about an event may change its results; `None` once it is final.
pub(super) fn provisional_until(book: &Book, night: &Night) -> Option<Timestamp> {
    let hours = book.seasons.get(&night.season)?.query_hours;
    (!night.event.is_final()).then(|| night.event.closes_at + SignedDuration::from_hours(i64::from(hours)))
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
        let indexes = carried_indexes(&mut conn, &book, season, figures(), until).await?;
        let competition = asked_for(&book, season, competition)?;
        let mut items = competition_table(&book.book, competition, figures(), until, &indexes);
        if let Some(wanted) = flight {
            items.retain(|row| row.flight.as_ref() == Some(&wanted));
        }
        let nights = book.book.nights_of(season);
        let event_ids = nights.iter().filter(|night| until.is_none_or(|until| night.key() <= until));
        let event_ids = event_ids.map(|night| night.id).collect();
        let cells = items.iter().flat_map(|row| &row.results);
        let played: HashSet<EventId> = cells.filter_map(|cell| cell.event_id).collect();
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
        };
        Ok((standings, mark))
    }

    /// Makes an event's board.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn board(
        &self,
        caller: Caller,
        event: EventId,
        competition: Option<CompetitionId>,
    ) -> Result<Board, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let version = documents::event_shown(&mut conn, document.league, event).await?;
        let book = self.books.of(&mut conn, document.league).await?;
        let competition = asked_for(&book, SeasonId(document.parent.unwrap_or_default()), competition)?;
        let items = board_of(&mut conn, &book, event, competition).await?;
        let count = |state: &str| items.iter().filter(|row| row.state == state).count() as u32;
        let (in_play, entered) = (count(IN_PLAY), count(ENTERED));
        Ok(Board {
            event_id: event,
            competition_id: competition,
            version,
            provisional_until: book.book.nights.get(&event).and_then(|night| provisional_until(&book.book, night)),
            cards_in: items.len() as u32 - in_play - entered,
            still_out: in_play + entered,
            items,
            next: None,
        })
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
        let season = book.book.nights.get(&row.event).map(|night| night.season).ok_or(Refusal::NotFound)?;
        let competition = asked_for(&book, season, competition)?;
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
    for member in carried.iter().map(|carried| carried.member_id) {
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

/// Makes the rows of an event's board: cards that count in order of their places, then cards that do not count, then
/// cards in play, then members who entered.
///
/// # Errors
/// A failed database or an unreadable row.
pub(super) async fn board_of(
    conn: &mut Conn,
    book: &LeagueBook,
    event: EventId,
    competition: CompetitionId,
) -> Result<Vec<BoardRow>, StorageError> {
    let rounds = results::of_event(conn, book.league, event).await?;
    let Some(night) = book.book.nights.get(&event) else { return Ok(Vec::new()) };
    let Some(terms) = book.book.terms(night, competition) else { return Ok(Vec::new()) };
    let entered = entrants::of_event(conn, book.league, event).await?;
    let place_of = |member| entered.iter().find(|entrant| entrant.member == member);
    let bare = |member: MemberId, state: &'static str| BoardRow {
        position: None,
        tied: false,
        member_id: member,
        display_name: book.book.members.get(&member).map(|member| member.display_name.clone()).unwrap_or_default(),
        flight: None,
        holes_played: 0,
        gross: None,
        net: None,
        points: None,
        playing_handicap: None,
        score: None,
        holes: None,
        value: None,
        over_par_so_far: None,
        slot: place_of(member).and_then(|entrant| entrant.place.slot.clone()),
        bay: place_of(member).and_then(|entrant| entrant.place.bay.clone()),
        state,
    };
    let state_of = |figures: &Figures| {
        let round = rounds.iter().find(|round| round.round == figures.round);
        round.map_or(RoundState::Submitted, |round| round.state).word()
    };
    let placed = places(&book.book, night, competition, rounds.iter().filter_map(|round| round.figures.as_ref()));
    let by_hole = terms.goes_by_hole();
    let mut rows: Vec<BoardRow> = placed
        .iter()
        .map(|row| {
            let shown = shown(&book.book, night, terms, row.figures);
            let flight = part(terms, row.figures.flight.as_deref()).flatten();
            BoardRow {
                position: row.place,
                tied: row.is_tied,
                flight: flight.map(str::to_owned),
                holes_played: row.figures.card.holes_played(),
                gross: row.figures.gross,
                net: shown.and_then(|shown| shown.net),
                points: shown.and_then(|shown| shown.points),
                playing_handicap: shown.map(|shown| shown.playing_handicap),
                score: row.score().filter(|_| !by_hole).map(Value),
                holes: row.ball.as_ref().filter(|_| by_hole).map(|ball| ball.holes.clone()),
                value: row.value.map(Value),
                ..bare(row.figures.member, state_of(row.figures))
            }
        })
        .collect();
    let waiting = rounds.iter().filter(|round| round.figures.is_none() && round.state != RoundState::Withdrawn);
    rows.extend(waiting.map(|round| bare(round.member, round.state.word())));
    if !night.event.is_final() {
        for card in entrants::cards_of(conn, book.league, event).await? {
            let flight = book.book.members.get(&card.member).and_then(|member| member.flight.as_deref());
            let layout = book.book.layout(night, night.event.tee_of(card.member, flight));
            rows.push(BoardRow {
                holes_played: card.card.holes_played(),
                over_par_so_far: layout.map(|layout| card.card.over_par(&layout)),
                ..bare(card.member, IN_PLAY)
            });
        }
    }
    for entrant in &entered {
        if !rows.iter().any(|row| row.member_id == entrant.member) {
            rows.push(bare(entrant.member, ENTERED));
        }
    }
    Ok(rows)
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
