//! Fixtures of a competition: laid down, decided, removed.

use super::knock_out::KnockOut;
use super::round_robin::RoundRobin;
use super::stored::{By, New, create, remove, replace};
use crate::change;
use crate::domain::competition::match_shown::FixtureShown;
use crate::domain::competition::matches::players;
use crate::domain::competition::waiting::waits_for_itself;
use crate::domain::facts::{Competition, Competitor, Contender, Fault, Fixture, FixtureSaid, Rules};
use crate::domain::ids::{CompetitionId, EventId, FixtureId, MemberId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::domain::season::book::NightKey;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::final_event;
use crate::league::views::Page;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::COMPETITIONS;
use crate::storage::idempotency::Reply;
use crate::storage::season_facts::{self, Kind};
use crate::wire::body::matches::{MOST_AT_ONCE, MOST_FIXTURES};
use std::collections::HashMap;
use uuid::Uuid;

/// Fixtures as they are asked for.
#[derive(Clone, Debug, serde::Deserialize)]
#[serde(untagged)]
pub enum NewFixtures {
    Listed(Vec<Fixture>),
    RoundRobin { round_robin: RoundRobin },
    KnockOut { knock_out: KnockOut },
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
            side.and_then(Contender::named)
                .and_then(|side| side_fault(book, season, terms, side))
                .map(|(rule, field, detail)| Fault::new(format!("{name}{field}"), rule, detail)),
        );
    }
    faults
}

/// The fixtures that one waits for, or that wait for it: those of its competition and those that are made with it.
struct Others<'a> {
    book: &'a LeagueBook,
    competition: CompetitionId,
    new: HashMap<FixtureId, &'a Fixture>,
}

impl<'a> Others<'a> {
    fn get(&self, id: FixtureId) -> Option<&'a Fixture> {
        let known = || self.book.book.fixtures.get(&id).filter(|(of, _)| *of == self.competition);
        self.new.get(&id).copied().or_else(|| known().map(|(_, fixture)| fixture))
    }

    fn night(&self, fixture: &Fixture) -> Option<NightKey> {
        self.book.book.nights.get(&fixture.event_id).map(Night::key)
    }

    /// Finds whether a fixture waits for one that is not there, that is played later, or for itself.
    fn faults(&self, id: FixtureId, fixture: &Fixture) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (name, side) in [("/a", fixture.a), ("/b", fixture.b)] {
            let Some(decides) = side.and_then(Contender::waits_for) else { continue };
            let detail = match self.get(decides) {
                None => "this competition has no such fixture",
                Some(earlier) if self.night(earlier) > self.night(fixture) => {
                    "the fixture that decides this side is played in a later event"
                }
                Some(_) => continue,
            };
            let field = if matches!(side, Some(Contender::LoserOf { .. })) { "loser_of" } else { "winner_of" };
            faults.push(Fault::new(format!("{name}/{field}"), Rule::Fixture, detail));
        }
        if faults.is_empty() && waits_for_itself(id, fixture, |id| self.get(id)) {
            faults.push(Fault::new("/a", Rule::Fixture, "this fixture would decide its own sides"));
        }
        let mut waiting = self.book.book.fixtures_of(self.competition).map(|(_, waiting)| waiting);
        if waiting.any(|other| other.waits_for().any(|other| other == id) && self.night(other) < self.night(fixture)) {
            faults.push(Fault::new("/event_id", Rule::Fixture, "a fixture of an earlier event waits for this one"));
        }
        faults
    }
}

/// Finds whether a side does not compete in a competition.
pub(in crate::league) fn side_fault(
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
            NewFixtures::Listed(fixtures) => {
                fixtures.into_iter().map(|fixture| (FixtureId(Uuid::now_v7()), fixture)).collect()
            }
            NewFixtures::RoundRobin { round_robin } => self.drawn(key.caller, id, round_robin).await?,
            NewFixtures::KnockOut { knock_out } => knock_out.fixtures()?,
        };
        let this = self.clone();
        let events: Vec<EventId> = asked.iter().map(|(_, fixture)| fixture.event_id).collect();
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
            let others =
                Others { book: &book, competition: id, new: asked.iter().map(|(id, one)| (*id, one)).collect() };
            for (n, (new, fixture)) in asked.iter().enumerate() {
                let mut found = faults(&book, season, &found.body, None, fixture);
                found.extend(others.faults(*new, fixture));
                broken.extend(
                    found.into_iter().map(|fault| Fault { pointer: format!("/{n}{}", fault.pointer), ..fault }),
                );
            }
            sound(broken)?;
            let by = By { caller: key.caller, member: member.id, now: key.now };
            let mut made = Vec::with_capacity(asked.len());
            for (new, fixture) in &asked {
                let new = New { id: new.0, season, kind: Kind::Fixture, of: id.0, event: None, body: fixture };
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
            let (before, member) = access::season_fact(conn, caller, Kind::Fixture, id.0).await?;
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
            let mut broken = faults(&book, *season, terms, Some(&old), &fixture);
            let of = CompetitionId(before.of);
            let others = Others { book: &book, competition: of, new: HashMap::from([(id, &fixture)]) };
            broken.extend(others.faults(id, &fixture));
            sound(broken)?;
            let by = By { caller, member: member.id, now };
            let night = book.book.nights.get(&fixture.event_id).ok_or(Refusal::NotFound)?;
            let sides = old.sides().into_iter().chain(fixture.sides()).flatten().filter_map(Contender::named);
            let to: Vec<MemberId> = sides.flat_map(|side| players(&book.book, night, side)).collect();
            notices::tell(conn, About::event(book.league, night.id), Tells::Fixture, &to, by.member, now).await?;
            replace(conn, by, &book, &before, &fixture).await?;
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
    /// Anybody but an organizer; a stale version; a final event; a fixture that another waits for.
    pub async fn remove_fixture(&self, caller: Caller, id: FixtureId, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        let event = change!(self, id, |conn| {
            let (before, member) = access::organized_season_fact(conn, caller, Kind::Fixture, id.0).await?;
            if_match.check(before.version)?;
            let book = this.books.of(conn, before.league).await?;
            let event = before.body::<Fixture>()?.event_id;
            if is_final(&book, event) {
                return Err(final_event());
            }
            if book.book.fixtures.values().any(|(_, other)| other.waits_for().any(|decides| decides == id)) {
                let detail = "another fixture waits for this one: remove or change that first";
                return Err(Refusal::conflict(Rule::HasFixtures, detail));
            }
            let by = By { caller, member: member.id, now };
            let conceded = book.book.concessions.iter().filter(|(_, conceded)| conceded.fixture_id == id);
            let conceded: Vec<_> = conceded.map(|(id, _)| *id).collect();
            for concession in conceded {
                if let Some(concession) = season_facts::get(conn, concession).await? {
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
