//! Fixtures as they stand.

use crate::domain::competition::balls::Ball;
use crate::domain::competition::match_shown::FixtureShown;
use crate::domain::competition::matches::{self, MatchCards};
use crate::domain::competition::meetings::FixtureSeen;
use crate::domain::facts::Competition;
use crate::domain::facts::event::FinalFixture;
use crate::domain::ids::{CompetitionId, EventId, FixtureId, MemberId, SeasonId};
use crate::domain::season::record::figures_without_card;
use crate::domain::season::{Entry, Figures};
use crate::league::memory::books::LeagueBook;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::COMPETITIONS;
use crate::storage::season_facts::Kind;
use crate::storage::{Conn, StorageError, entrants, results, season_facts};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use uuid::Uuid;

/// Reads what the matches of a season need beside its figures. Whoever is expected without a card brings an index along;
/// it is looked up for the event that is `asked` about and for those that are final or have cards, as it decides nothing
/// elsewhere.
///
/// # Errors
/// A failed database or an unreadable row.
pub(in crate::league) async fn match_cards<'a>(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    figures: Vec<&'a Figures>,
    asked: Option<EventId>,
) -> Result<MatchCards<'a>, StorageError> {
    let have: HashSet<(EventId, MemberId)> = figures.iter().map(|round| (round.event, round.member)).collect();
    let with_cards: HashSet<EventId> = figures.iter().map(|round| round.event).collect();
    let left_out = season_facts::left_out(conn, book.league, season).await?;
    let mut cards = MatchCards { figures, left_out, ..MatchCards::default() };
    let mut needed: BTreeMap<MemberId, Vec<EventId>> = BTreeMap::new();
    for night in book.book.nights_of(season) {
        if book.book.fixtures_in(night.id).next().is_none() {
            continue;
        }
        let mut has_cards = night.event.is_final() || with_cards.contains(&night.id);
        if !night.event.is_final() {
            for stored in entrants::cards_of(conn, book.league, night.id).await? {
                has_cards = true;
                cards.in_play.insert((night.id, stored.member), stored.card);
            }
        }
        if has_cards || asked == Some(night.id) {
            for member in matches::expected(&book.book, night) {
                if !have.contains(&(night.id, member)) {
                    needed.entry(member).or_default().push(night.id);
                }
            }
        }
    }
    for (member, events) in needed {
        let stored = results::of_member(conn, book.league, member).await?;
        let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
        for event in events {
            let Some(night) = book.book.nights.get(&event) else { continue };
            let figures = figures_without_card(&book.book, member, &entries, night);
            cards.without_card.extend(figures.map(|figures| ((event, member), figures)));
        }
    }
    Ok(cards)
}

/// A match that a member plays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OwnMatch {
    pub fixture_id: FixtureId,
    /// The players of the other side, by name.
    pub opponents: Vec<String>,
    /// The strokes that the member receives in it, hole by hole: those beyond the fewest of all its players.
    pub received: Vec<i32>,
}

impl Leagues {
    async fn seen(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        competition: CompetitionId,
        asked: Option<EventId>,
    ) -> Result<Vec<FixtureSeen>, StorageError> {
        let Some((season, _)) = book.book.competitions.get(&competition) else { return Ok(Vec::new()) };
        let figures = self.season_figures.of_season(conn, book.league, *season).await?;
        let figures: Vec<&Figures> = figures.iter().map(|round| &**round).collect();
        let cards = match_cards(conn, book, *season, figures, asked).await?;
        Ok(matches::fixtures(&book.book, competition, &cards, None))
    }

    /// Shows fixtures that were just made, inside the change that makes them.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(super) async fn planned(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        competition: CompetitionId,
        made: &[Uuid],
    ) -> Result<Vec<FixtureShown>, StorageError> {
        let seen = self.seen_in_change(conn, book, competition).await?;
        let seen = made.iter().filter_map(|id| seen.iter().find(|seen| seen.id.0 == *id));
        Ok(seen.filter_map(|seen| shown(book, seen, false)).collect())
    }

    /// Returns who stands on the sides of an event's fixtures that other fixtures decide, inside the change that makes it
    /// final.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn decided_sides(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        event: EventId,
    ) -> Result<Vec<FinalFixture>, StorageError> {
        let waiting: BTreeMap<FixtureId, CompetitionId> = book
            .book
            .fixtures_in(event)
            .filter(|(.., fixture)| fixture.waits_for().next().is_some())
            .map(|(id, competition, _)| (id, competition))
            .collect();
        let mut found = Vec::new();
        for competition in waiting.values().copied().collect::<BTreeSet<_>>() {
            let seen = self.seen_in_change(conn, book, competition).await?;
            let here = seen.iter().filter(|seen| waiting.contains_key(&seen.id));
            found.extend(here.map(|seen| FinalFixture { fixture_id: seen.id, a: seen.a, b: seen.b }));
        }
        Ok(found)
    }

    /// Works out every fixture inside a change.
    async fn seen_in_change(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        competition: CompetitionId,
    ) -> Result<Vec<FixtureSeen>, StorageError> {
        let Some((season, _)) = book.book.competitions.get(&competition) else { return Ok(Vec::new()) };
        let figures = self.season_figures.in_change(conn, book.league, *season).await?;
        let figures: Vec<&Figures> = figures.iter().map(|round| &**round).collect();
        let cards = match_cards(conn, book, *season, figures, None).await?;
        Ok(matches::fixtures(&book.book, competition, &cards, None))
    }

    /// Makes the rows of an event's board by a competition of matches, in the order of slots and bays.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn fixtures_of_event(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        event: EventId,
        competition: CompetitionId,
    ) -> Result<Vec<FixtureShown>, Refusal> {
        let seen = self.seen(conn, book, competition, Some(event)).await?;
        let seen = seen.iter().filter(|seen| seen.event == event);
        let mut shown: Vec<FixtureShown> = seen.filter_map(|seen| shown(book, seen, false)).collect();
        shown.sort_by(|a, b| (&a.slot, &a.bay, a.fixture_id).cmp(&(&b.slot, &b.bay, b.fixture_id)));
        Ok(shown)
    }

    /// Finds the matches of a competition that a member plays in an event, as they stand.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn matches_of(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        competition: CompetitionId,
        (event, member): (EventId, MemberId),
    ) -> Result<Vec<OwnMatch>, StorageError> {
        if !book.book.fixtures_in(event).any(|(_, of, _)| of == competition) {
            return Ok(Vec::new());
        }
        let is_own = |ball: &&Ball| ball.seat.member == Some(member);
        let name = |ball: &Ball| Some(book.book.members.get(&ball.seat.member?)?.display_name.clone());
        let mut found = Vec::new();
        for seen in self.seen(conn, book, competition, Some(event)).await?.iter().filter(|seen| seen.event == event) {
            for (seen_match, _) in &seen.matches {
                let sides = [(&seen_match.a, &seen_match.b), (&seen_match.b, &seen_match.a)];
                found.extend(sides.into_iter().filter_map(|(own, other)| {
                    let received = own.iter().find(is_own)?.received.clone();
                    Some(OwnMatch { fixture_id: seen.id, opponents: other.iter().filter_map(name).collect(), received })
                }));
            }
        }
        Ok(found)
    }

    /// Reads a fixture hole by hole, with the number of its version.
    ///
    /// # Errors
    /// A fixture that is not there or not the caller's to see.
    pub async fn fixture(&self, caller: Caller, id: FixtureId) -> Result<(FixtureShown, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (fact, _) = access::season_fact(&mut conn, caller, Kind::Fixture, id.0).await?;
        let book = self.books.of(&mut conn, fact.league).await?;
        let event = book.book.fixtures.get(&id).map(|(_, fixture)| fixture.event_id);
        let seen = self.seen(&mut conn, &book, CompetitionId(fact.of), event).await?;
        let seen = seen.iter().find(|seen| seen.id == id).ok_or(Refusal::NotFound)?;
        Ok((shown(&book, seen, true).ok_or(Refusal::NotFound)?, fact.version))
    }

    /// Reads the fixtures of a competition after an id, in the order in which they were made.
    ///
    /// # Errors
    /// A competition that is not there or not the caller's to see.
    pub async fn fixtures(
        &self,
        caller: Caller,
        id: CompetitionId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<FixtureShown>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::document::<Competition>(&mut conn, caller, &COMPETITIONS, id.0).await?;
        let book = self.books.of(&mut conn, found.league).await?;
        let seen = self.seen(&mut conn, &book, id, None).await?;
        let seen = seen.iter().filter(|seen| seen.id.0 > after).take(usize::try_from(limit).unwrap_or(usize::MAX));
        Ok(seen.filter_map(|seen| shown(&book, seen, false)).collect())
    }
}

/// Shows a fixture, `with_holes` or without.
pub(super) fn shown(book: &LeagueBook, seen: &FixtureSeen, with_holes: bool) -> Option<FixtureShown> {
    let (competition, fixture) = book.book.fixtures.get(&seen.id)?;
    Some(FixtureShown::of(&book.book, *competition, fixture, seen, with_holes))
}
