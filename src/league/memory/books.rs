//! Books of leagues, kept between requests by the mark that changes with them.

use crate::domain::facts::{Competition, Course, Event, FinalRecord, Role, Season, Setup};
use crate::domain::ids::{AccountId, CompetitionId, EventId, FixtureId, LeagueId, MemberId, SeasonId, SetupId, TeamId};
use crate::domain::season::{Book, Night};
use crate::league::Refusal;
use crate::storage::documents::{self, COMPETITIONS, COURSES, Document, EVENTS, SEASONS, SETUPS};
use crate::storage::season_facts::{self, SeasonFact};
use crate::storage::{Conn, StorageError, carried, entrants, events_kept, handicap_acts, leagues, members};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use uuid::Uuid;

/// How many leagues are remembered.
const MOST_LEAGUES: usize = 256;

/// A league's book with what acts need beside it.
#[derive(Debug)]
pub struct LeagueBook {
    /// The league.
    pub league: LeagueId,
    /// Its time zone.
    pub zone: TimeZone,
    /// What the derivation knows beside the cards.
    pub book: Book,
    /// The set-ups with their owners.
    pub setups: HashMap<SetupId, (Option<MemberId>, Setup)>,
    /// Whom accounts stood for when the book was read. A role may have changed since: whoever acts on it asks again.
    pub accounts: HashMap<AccountId, (MemberId, Role)>,
}

impl LeagueBook {
    /// Returns the day of the league on which an instant falls.
    pub fn day(&self, at: Timestamp) -> Date {
        self.zone.to_datetime(at).date()
    }
}

/// The books that are remembered.
#[derive(Clone, Default)]
pub struct Books(Arc<Mutex<Remembered>>);

#[derive(Default)]
struct Remembered {
    /// Each league's book with the mark under which it was read.
    books: HashMap<LeagueId, (i64, Arc<LeagueBook>)>,
    /// The leagues of the events in them.
    events: HashMap<EventId, LeagueId>,
}

impl Books {
    /// Returns a league's book as it is now.
    ///
    /// # Errors
    /// [`Refusal::NotFound`] for a league that is gone; a failed database.
    pub async fn of(&self, conn: &mut Conn, league: LeagueId) -> Result<Arc<LeagueBook>, Refusal> {
        Ok(self.with_mark(conn, league).await?.1)
    }

    /// Returns a league's book as it is now, after its mark.
    ///
    /// # Errors
    /// As [`of`](Self::of).
    pub async fn with_mark(&self, conn: &mut Conn, league: LeagueId) -> Result<(i64, Arc<LeagueBook>), Refusal> {
        let stored = leagues::get(conn, league).await?.ok_or(Refusal::NotFound)?;
        if let Some(book) = self.marked(league, stored.book_mark) {
            return Ok((stored.book_mark, book));
        }
        let book = Arc::new(read(conn, &stored).await?);
        let mut remembered = self.remembered();
        if remembered.books.len() >= MOST_LEAGUES {
            *remembered = Remembered::default();
        }
        remembered.events.extend(book.book.nights.keys().map(|event| (*event, league)));
        remembered.books.insert(league, (stored.book_mark, Arc::clone(&book)));
        Ok((stored.book_mark, book))
    }

    /// Returns a league's book if it is remembered under that mark.
    pub fn marked(&self, league: LeagueId, mark: i64) -> Option<Arc<LeagueBook>> {
        self.remembered().books.get(&league).filter(|(known, _)| *known == mark).map(|(_, book)| Arc::clone(book))
    }

    /// Returns the book, and its mark, of the league that an event was of when it was last read.
    pub fn with_event(&self, event: EventId) -> Option<(i64, Arc<LeagueBook>)> {
        let remembered = self.remembered();
        remembered.books.get(remembered.events.get(&event)?).cloned()
    }

    fn remembered(&self) -> MutexGuard<'_, Remembered> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Marks that a league's book is another one now. The mark is random: a change that was undone never shares its mark
/// with a later one.
///
/// # Errors
/// A failed database.
pub async fn mark(conn: &mut Conn, league: LeagueId) -> Result<(), StorageError> {
    leagues::mark_book(conn, league, new_mark()).await
}

/// Returns a mark that no book had before.
pub fn new_mark() -> i64 {
    Uuid::new_v4().as_u64_pair().0 as i64
}

/// Reads a league's book.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn read(conn: &mut Conn, stored: &leagues::StoredLeague) -> Result<LeagueBook, StorageError> {
    let league = stored.id;
    let unreadable = |detail: String| StorageError::Corrupt { table: "leagues", column: "time_zone", detail };
    let zone = stored.league.zone().map_err(|_| unreadable(stored.league.time_zone.clone()))?;
    let mut book = Book::default();
    let mut accounts = HashMap::new();
    for member in members::list(conn, league, Uuid::nil(), i64::MAX).await? {
        accounts.extend(member.account.map(|account| (account, (member.id, member.member.role))));
        book.members.insert(member.id, member.member);
    }
    let courses: Vec<Document<Course>> = documents::list(conn, &COURSES, league, Uuid::nil(), i64::MAX).await?;
    book.tees.extend(courses.into_iter().flat_map(|course| course.body.tees).map(|tee| (tee.id, tee)));
    let seasons: Vec<Document<Season>> = documents::list(conn, &SEASONS, league, Uuid::nil(), i64::MAX).await?;
    book.seasons.extend(seasons.into_iter().map(|season| (SeasonId(season.id), season.body)));
    let found: Vec<Document<Competition>> = documents::list(conn, &COMPETITIONS, league, Uuid::nil(), i64::MAX).await?;
    book.competitions.extend(
        found
            .into_iter()
            .map(|found| (CompetitionId(found.id), (SeasonId(found.parent.unwrap_or_default()), found.body))),
    );
    let mut kept: HashMap<EventId, FinalRecord> = HashMap::new();
    kept.extend(events_kept::in_order(conn, league).await?.into_iter().map(|kept| (kept.event, kept.record)));
    let events: Vec<Document<Event>> = documents::list(conn, &EVENTS, league, Uuid::nil(), i64::MAX).await?;
    for event in events {
        let id = EventId(event.id);
        let night = Night {
            id,
            season: SeasonId(event.parent.unwrap_or_default()),
            date: zone.to_datetime(event.body.opens_at).date(),
            event: event.body,
            kept: kept.remove(&id),
        };
        book.nights.insert(id, night);
    }
    for found in carried::differentials(conn, league).await? {
        book.carried_differentials.entry(found.of).or_default().push(found.carried);
    }
    for found in handicap_acts::list(conn, league).await? {
        book.handicap_acts.entry(found.member).or_default().push((found.id, found.act));
    }
    for found in carried::results(conn, league).await? {
        book.carried_results.entry(found.of).or_default().push(found.carried);
    }
    for found in entrants::in_competitions(conn, league).await? {
        book.enter(found.event, found.member, &found.entry);
    }
    for fact in season_facts::list(conn, league).await? {
        take(&mut book, &fact)?;
    }
    let setups: Vec<Document<Setup>> = documents::list(conn, &SETUPS, league, Uuid::nil(), i64::MAX).await?;
    let setups = setups.into_iter().map(|setup| (SetupId(setup.id), (setup.parent.map(MemberId), setup.body)));
    Ok(LeagueBook { league, zone, book, setups: setups.collect(), accounts })
}

/// Puts a team, a line-up, a fixture, a concession, an adjustment or a side contest into the book.
fn take(book: &mut Book, fact: &SeasonFact) -> Result<(), StorageError> {
    match fact.kind {
        season_facts::Kind::Team => {
            book.teams.insert(TeamId(fact.id), (fact.season, fact.body()?));
        }
        season_facts::Kind::LineUp => {
            if let Some(event) = fact.event {
                book.line_ups.insert((event, TeamId(fact.of)), fact.body()?);
            }
        }
        season_facts::Kind::Fixture => {
            book.fixtures.insert(FixtureId(fact.id), (CompetitionId(fact.of), fact.body()?));
        }
        season_facts::Kind::Concession => {
            book.concessions.insert(fact.id, fact.body()?);
        }
        season_facts::Kind::Adjustment => {
            book.adjustments.insert(fact.id, (CompetitionId(fact.of), fact.body()?));
        }
        season_facts::Kind::SideContest => {
            book.contests.insert(fact.id, (EventId(fact.of), fact.body()?));
        }
    }
    Ok(())
}
