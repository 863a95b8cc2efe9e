//! Fixtures of a competition: laid down, decided, removed.

use super::round_robin::RoundRobin;
use super::stored::{By, New, create, remove, replace};
use crate::change;
use crate::domain::competition::match_shown::FixtureShown;
use crate::domain::facts::{Competition, Competitor, Fault, Fixture, FixtureSaid, Rules};
use crate::domain::ids::{CompetitionId, EventId, FixtureId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::final_event;
use crate::league::views::Page;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::COMPETITIONS;
use crate::storage::idempotency::Reply;
use crate::storage::match_facts::{self, Kind};
use crate::wire::body::matches::{MOST_AT_ONCE, MOST_FIXTURES};

/// Fixtures as they are asked for.
#[derive(Clone, Debug, serde::Deserialize)]
#[serde(untagged)]
pub enum NewFixtures {
    Listed(Vec<Fixture>),
    Drawn { round_robin: RoundRobin },
}

/// Finds whether a fixture fits itself, its competition and its season.
fn faults(
    book: &LeagueBook,
    season: SeasonId,
    terms: &Competition,
    before: Option<&Fixture>,
    fixture: &Fixture,
) -> Vec<Fault> {
    let mut faults = fixture.broken();
    let night = book.book.nights.get(&fixture.event_id).filter(|night| night.season == season);
    match night {
        None => faults.push(Fault::new("/event_id", Rule::UnknownEvent, "this season has no such event")),
        Some(night) if !terms.counts_event(night.id) => {
            let detail = "this competition does not count this event: name one of its events";
            faults.push(Fault::new("/event_id", Rule::Fixture, detail));
        }
        Some(night) if night.event.is_void() && before.is_none_or(|before| before.event_id != night.id) => {
            faults.push(Fault::new("/event_id", Rule::EventVoid, "this event is void: name one that counts"));
        }
        Some(night) if night.event.is_final() && before.is_none_or(|before| before.event_id != night.id) => {
            faults.push(Fault::new(
                "/event_id",
                Rule::EventFinal,
                "this event is final: name one that is still played",
            ));
        }
        Some(_) => {}
    }
    for (name, side) in [("/a", fixture.a), ("/b", fixture.b)] {
        faults.extend(
            side.and_then(|side| side_fault(book, season, terms, side))
                .map(|(rule, field, detail)| Fault::new(format!("{name}{field}"), rule, detail)),
        );
    }
    faults
}

/// Finds whether a side does not compete in a competition.
pub(super) fn side_fault(
    book: &LeagueBook,
    season: SeasonId,
    terms: &Competition,
    side: Competitor,
) -> Option<(Rule, &'static str, &'static str)> {
    match (side, terms.is_of_teams()) {
        (Competitor::Member { .. }, true) => Some((
            Rule::Fixture,
            "/member_id",
            "teams compete here, as a fixture has several balls a side: name a team",
        )),
        (Competitor::Team { .. }, false) => {
            Some((Rule::Fixture, "/team_id", "players compete here, as a fixture has one ball a side: name a member"))
        }
        (Competitor::Member { member_id }, false) => (!book.book.members.contains_key(&member_id)).then_some((
            Rule::UnknownMember,
            "/member_id",
            "this league has no such member",
        )),
        (Competitor::Team { team_id }, true) => {
            let is_known = book.book.teams.get(&team_id).is_some_and(|(of, _)| *of == season);
            let competes = terms.teams.as_ref().is_none_or(|teams| teams.contains(&team_id));
            match (is_known, competes) {
                (false, _) => Some((Rule::UnknownTeam, "/team_id", "this season has no such team")),
                (true, false) => Some((Rule::UnknownTeam, "/team_id", "this team does not compete here")),
                (true, true) => None,
            }
        }
    }
}

fn is_final(book: &LeagueBook, event: EventId) -> bool {
    book.book.nights.get(&event).is_some_and(|night| night.event.is_final())
}

impl Leagues {
    /// Adds fixtures to a competition, all or none.
    ///
    /// # Errors
    /// Anybody but an organizer; a competition without matches; fixtures that do not fit; more than there may be.
    pub async fn create_fixtures(
        &self,
        key: RequestKey,
        id: CompetitionId,
        asked: NewFixtures,
    ) -> Result<Reply, Refusal> {
        let asked = match asked {
            NewFixtures::Listed(fixtures) => fixtures,
            NewFixtures::Drawn { round_robin } => self.drawn(key.caller, id, round_robin).await?,
        };
        let this = self.clone();
        let events: Vec<EventId> = asked.iter().map(|fixture| fixture.event_id).collect();
        let reply = change!(self, id, |conn| {
            let found = access::organized_document::<Competition>(conn, key.caller, &COMPETITIONS, id.0).await?;
            let (found, member) = found;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let season = SeasonId(found.parent.unwrap_or_default());
            let book = this.books.of(conn, found.league).await?;
            if found.body.ranks_cards() {
                let detail = "this competition ranks cards: fixtures are those of a competition whose meeting is match";
                return Err(Refusal::fault("", Rule::Fixture, detail));
            }
            let there = book.book.fixtures_of(id).count();
            if asked.len() > MOST_AT_ONCE || there + asked.len() > MOST_FIXTURES {
                let detail = format!("a competition has at most {MOST_FIXTURES} fixtures, {MOST_AT_ONCE} made at once");
                return Err(Refusal::conflict(Rule::TooMany, detail));
            }
            let mut broken = Vec::new();
            for (n, fixture) in asked.iter().enumerate() {
                let found = faults(&book, season, &found.body, None, fixture);
                broken.extend(
                    found.into_iter().map(|fault| Fault { pointer: format!("/{n}{}", fault.pointer), ..fault }),
                );
            }
            sound(broken)?;
            let by = By { caller: key.caller, member: member.id, now: key.now };
            let mut made = Vec::with_capacity(asked.len());
            for fixture in &asked {
                let new = New { season, kind: Kind::Fixture, of: id.0, event: None, body: fixture };
                made.push(create(conn, by, &book, new).await?);
            }
            let book = this.books.of(conn, found.league).await?;
            let items: Vec<FixtureShown> = this.planned(conn, &book, id, &made).await?;
            let page = Page { items, next: None };
            key.keep(conn, created(format!("/api/v1/competitions/{id}/fixtures"), 1, &page)).await
        })?;
        for event in events {
            self.boards.moved(event);
        }
        Ok(reply)
    }

    /// Changes or decides a fixture. Scorers may add extra holes.
    ///
    /// # Errors
    /// Anybody else; a stale version; a final event, unless the fixture was postponed; what does not fit.
    pub async fn change_fixture(
        &self,
        caller: Caller,
        id: FixtureId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<Fixture, Refusal> + Clone + Send + 'static,
    ) -> Result<(FixtureShown, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        let events = change!(self, id, |conn| {
            let (before, member) = access::match_fact(conn, caller, Kind::Fixture, id.0).await?;
            let role = member.member.role;
            if !role.keeps_scores() {
                return Err(Refusal::Forbidden("only organizers change fixtures, and scorers add extra holes"));
            }
            if_match.check(before.version)?;
            let fixture = patched(&before.text)?;
            let old: Fixture = before.body()?;
            let same_but_extra = Fixture { extra: old.extra.clone(), ..fixture.clone() };
            if same_but_extra != old {
                access::organizer(conn, caller, before.league).await?;
            }
            let book = this.books.of(conn, before.league).await?;
            if is_final(&book, old.event_id) && old.state != Some(FixtureSaid::Postponed) {
                return Err(final_event());
            }
            let (season, terms) = book.book.competitions.get(&CompetitionId(before.of)).ok_or(Refusal::NotFound)?;
            sound(faults(&book, *season, terms, Some(&old), &fixture))?;
            replace(conn, By { caller, member: member.id, now }, &book, &before, &fixture).await?;
            Ok::<_, Refusal>([old.event_id, fixture.event_id])
        })?;
        for event in events {
            self.boards.moved(event);
        }
        self.fixture(caller, id).await
    }

    /// Removes a fixture with what was conceded in it.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a final event.
    pub async fn remove_fixture(&self, caller: Caller, id: FixtureId, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        let event = change!(self, id, |conn| {
            let (before, member) = access::organized_match_fact(conn, caller, Kind::Fixture, id.0).await?;
            if_match.check(before.version)?;
            let book = this.books.of(conn, before.league).await?;
            let event = before.body::<Fixture>()?.event_id;
            if is_final(&book, event) {
                return Err(final_event());
            }
            let by = By { caller, member: member.id, now };
            let conceded = book.book.concessions.iter().filter(|(_, conceded)| conceded.fixture_id == id);
            let conceded: Vec<_> = conceded.map(|(id, _)| *id).collect();
            for concession in conceded {
                if let Some(concession) = match_facts::get(conn, concession).await? {
                    remove(conn, by, &book, &concession).await?;
                }
            }
            remove(conn, by, &book, &before).await?;
            Ok::<_, Refusal>(event)
        })?;
        self.boards.moved(event);
        Ok(())
    }
}
