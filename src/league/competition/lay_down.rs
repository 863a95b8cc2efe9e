//! Competitions: lay down, change, remove.

use crate::change;
use crate::domain::competition::term::Term;
use crate::domain::competition::terms::{handicaps, terms};
use crate::domain::facts::beside::{beside_others, none_ranks};
use crate::domain::facts::competition::Meeting;
use crate::domain::facts::{Competition, Event, Fault, Season, fit};
use crate::domain::ids::{CompetitionId, EventId, LeagueId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::season::changes::Cause;
use crate::league::views::CompetitionView;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, COMPETITIONS, Document, SEASONS};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::{Conn, leagues};
use crate::wire::body::competition::MOST;
use jiff::Timestamp;
use std::collections::BTreeMap;
use uuid::Uuid;

fn text(terms: &Competition) -> String {
    serde_json::to_string(terms).expect("terms are plain values with text keys")
}

/// Finds whether a competition fits itself, the others of its season and the events.
fn faults(book: &LeagueBook, season: SeasonId, policy: &Season, id: CompetitionId, terms: &Competition) -> Vec<Fault> {
    let all = book.book.competitions_of(season);
    let others: BTreeMap<CompetitionId, &Competition> = all.into_iter().collect();
    let mut faults = terms.faults();
    let is_team = |team| book.book.teams.get(&team).is_some_and(|(of, _)| *of == season);
    let is_event = |event: EventId| book.book.nights.get(&event).is_some_and(|night| night.season == season);
    faults.extend(beside_others(id, terms, &policy.flights, (is_team, is_event), &others));
    let nights = book.book.nights_of(season);
    let events: Vec<(EventId, &Event)> = nights.iter().map(|night| (night.id, &night.event)).collect();
    let at = if terms.events.is_some() { "/events" } else { "/meeting" };
    faults.extend(fit::uneven(terms, &events).map(|fault| Fault { pointer: at.into(), ..fault }));
    faults
}

/// Stores a new competition.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn add(
    conn: &mut Conn,
    (caller, now): (Caller, Timestamp),
    (league, season): (LeagueId, SeasonId),
    terms: Competition,
) -> Result<CompetitionView, Refusal> {
    let (id, body) = (Uuid::now_v7(), text(&terms));
    let seq = leagues::next_seq(conn, league).await?;
    documents::insert(conn, &COMPETITIONS, league, id, Some(season.0), 1, seq, now, &body).await?;
    books::mark(conn, league).await?;
    let (by, rows) = (Some(caller.account), [wrote("competitions", id)]);
    let act = Act { by, act: "create", kind: "competition", id, content: body.as_bytes(), rows: &rows };
    journal::append(conn, league, act, now).await?;
    Ok(CompetitionView::of(CompetitionId(id), season, terms))
}

/// Says whether an event was made final after the competition was made, which settled its terms.
fn is_settled(book: &LeagueBook, season: SeasonId, id: CompetitionId) -> bool {
    let nights = book.book.nights_of(season);
    let mut kept = nights.iter().filter_map(|night| night.kept.as_ref()).flat_map(|kept| &kept.competitions);
    kept.any(|kept| kept.competition_id == id)
}

/// Names the terms that a change would move although a final event settled them: of the events only those that are not
/// final change.
fn settled_terms(
    book: &LeagueBook,
    (season, id): (SeasonId, CompetitionId),
    (before, after): (&Competition, &Competition),
) -> Vec<&'static str> {
    if !is_settled(book, season, id) {
        return Vec::new();
    }
    let nights = book.book.nights_of(season);
    let mut settled = nights.iter().filter(|night| night.event.is_final());
    let counts_otherwise = settled.any(|night| before.counted(night.id) != after.counted(night.id));
    let changed = after.deciding_terms_changed(before).into_iter();
    changed.filter(|term| *term != "events" || counts_otherwise).collect()
}

impl Leagues {
    /// Adds a competition to a season.
    ///
    /// # Errors
    /// Anybody but an organizer; terms that do not fit themselves, the season or its events; more than a season may have.
    pub async fn create_competition(
        &self,
        key: RequestKey,
        season: SeasonId,
        terms: Competition,
    ) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, season, |conn| {
            let (policy, member) = access::organized_document::<Season>(conn, key.caller, &SEASONS, season.0).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let league = policy.league;
            let book = this.books.of(conn, league).await?;
            if book.book.competitions_of(season).len() >= MOST {
                let detail = format!("a season has at most {MOST} competitions");
                return Err(Refusal::conflict(Rule::TooManyCompetitions, detail));
            }
            sound(faults(&book, season, &policy.body, CompetitionId(Uuid::nil()), &terms))?;
            let tables = this.tables(conn, league).await?;
            let view = add(conn, (key.caller, key.now), (league, season), terms).await?;
            let thing = view.id.0;
            let cause = Cause { by: member.id, act: "create", kind: "competition", thing, reason: None };
            this.terms_changed(conn, league, &tables, cause, key.now).await?;
            key.keep(conn, created(format!("/api/v1/competitions/{thing}"), 1, &view)).await
        })
    }

    /// Changes a competition. Every event is worked out afresh by the new terms.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; terms that decide results once an event is final; terms that do not fit.
    pub async fn change_competition(
        &self,
        caller: Caller,
        id: CompetitionId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<Competition, Refusal> + Clone + Send + 'static,
    ) -> Result<(CompetitionView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let found = access::organized_document::<Competition>(conn, caller, &COMPETITIONS, id.0).await?;
            let (before, member) = found;
            if_match.check(before.version)?;
            let terms = patched(&before.text)?;
            let (league, season) = (before.league, SeasonId(before.parent.unwrap_or_default()));
            let policy = documents::get::<Season>(conn, &SEASONS, season.0).await?.ok_or(Refusal::NotFound)?;
            let book = this.books.of(conn, league).await?;
            let changed = settled_terms(&book, (season, id), (&before.body, &terms));
            if !changed.is_empty() {
                let detail = format!("an event of this competition is final, which settled: {}", changed.join(", "));
                return Err(Refusal::conflict(Rule::TermsSettled, detail));
            }
            sound(faults(&book, season, &policy.body, id, &terms))?;
            sound(still_added_up(&book, season, id, &terms))?;
            let others = book.book.competitions_of(season).into_iter().filter(|(other, _)| *other != id);
            if none_ranks(others.map(|(_, other)| other).chain([&terms])) {
                let detail = "a season has at least one competition that ranks cards: add another first";
                return Err(Refusal::conflict(Rule::LastCompetition, detail));
            }
            if book.book.fixtures_of(id).any(|(_, fixture)| !terms.counts_event(fixture.event_id)) {
                let detail = "an event that is taken out has fixtures of this competition: remove or move them first";
                return Err(Refusal::conflict(Rule::HasFixtures, detail));
            }
            let compete = |terms: &Competition| (terms.ranks_cards(), terms.is_of_teams());
            if compete(&terms) != compete(&before.body) && book.book.fixtures_of(id).next().is_some() {
                let detail = "this competition has fixtures: remove them before other sides meet in it";
                return Err(Refusal::conflict(Rule::HasFixtures, detail));
            }
            let tables = this.tables(conn, league).await?;
            let body = text(&terms);
            let seq = leagues::next_seq(conn, league).await?;
            documents::replace(conn, &COMPETITIONS, &before, Some(member.id.0), seq, now, &body).await?;
            let rows = [wrote("competitions", id), wrote_version("competition", id.0, before.version)];
            let (by, content) = (Some(caller.account), body.as_bytes());
            let act = Act { by, act: "replace", kind: "competition", id: id.0, content, rows: &rows };
            journal::append(conn, league, act, now).await?;
            let cause = Cause { by: member.id, act: "replace", kind: "competition", thing: id.0, reason: None };
            this.terms_changed(conn, league, &tables, cause, now).await?;
            let version = before.version + 1;
            Ok((CompetitionView::from(Document { body: terms, ..before }), version))
        })
    }

    /// Removes a competition. No card goes with it.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; the season's last one; one that settled by a final event, or that another
    /// adds up.
    pub async fn remove_competition(
        &self,
        caller: Caller,
        id: CompetitionId,
        if_match: IfMatch,
    ) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let found = access::organized_document::<Competition>(conn, caller, &COMPETITIONS, id.0).await?;
            let (before, member) = found;
            if_match.check(before.version)?;
            let (league, season) = (before.league, SeasonId(before.parent.unwrap_or_default()));
            let book = this.books.of(conn, league).await?;
            if is_settled(&book, season, id) {
                let detail = "an event of this competition is final: its table stands";
                return Err(Refusal::conflict(Rule::TermsSettled, detail));
            }
            let all = book.book.competitions_of(season);
            if none_ranks(all.iter().filter(|(other, _)| *other != id).map(|(_, terms)| *terms)) {
                let detail = "a season has at least one competition that ranks cards: add another first";
                return Err(Refusal::conflict(Rule::LastCompetition, detail));
            }
            if let Some((_, by)) = all.iter().find(|(_, other)| other.rests_on().contains(&id)) {
                let detail = format!("{} rests on this competition", by.name);
                return Err(Refusal::conflict(Rule::CompetitionInUse, detail));
            }
            let adjusted = book.book.adjustments.values().any(|(of, _)| *of == id);
            if adjusted || book.book.fixtures_of(id).next().is_some() {
                let detail = "this competition has fixtures or adjustments: remove them first";
                return Err(Refusal::conflict(Rule::HasFixtures, detail));
            }
            if book.book.entered.iter().any(|(_, competition, _)| *competition == id) {
                let detail = "players entered this competition: withdraw those entries first";
                return Err(Refusal::conflict(Rule::CompetitionInUse, detail));
            }
            let mut carried = book.book.carried_results.values().flatten();
            if carried.any(|carried| carried.competition_id == Some(id)) {
                let detail = "values were carried into this competition: remove those first";
                return Err(Refusal::conflict(Rule::CompetitionInUse, detail));
            }
            let tables = this.tables(conn, league).await?;
            documents::remove_competition(conn, league, id.0).await?;
            books::mark(conn, league).await?;
            let (by, kind) = (Some(caller.account), "competition");
            let act = Act { by, act: "remove", kind, id: id.0, content: &[], rows: &[] };
            journal::append(conn, league, act, now).await?;
            let cause = Cause { by: member.id, act: "remove", kind, thing: id.0, reason: None };
            this.terms_changed(conn, league, &tables, cause, now).await?;
            Ok(())
        })
    }

    /// Writes the terms of a competition in sentences.
    ///
    /// # Errors
    /// A competition that is not there or not the caller's to see.
    pub async fn terms_of(&self, caller: Caller, id: CompetitionId) -> Result<Vec<Term>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::document::<Competition>(&mut conn, caller, &COMPETITIONS, id.0).await?;
        let book = self.books.of(&mut conn, found.league).await?;
        let parts = found.body.rests_on();
        let named = parts.iter().filter_map(|part| book.book.competitions.get(part));
        let names: Vec<&str> = named.map(|(_, terms)| terms.name.as_str()).collect();
        let event = |id| book.book.nights.get(&id).map_or_else(String::new, |night| night.event.name.clone());
        let season = found.parent.and_then(|season| book.book.seasons.get(&SeasonId(season)));
        let policy = season.map(|season| season.handicap).unwrap_or_default();
        let frozen = policy.frozen_from.map(event);
        let mut written = terms(&found.body, &names, &event);
        written.extend(handicaps(&policy, frozen.as_deref()));
        Ok(written)
    }

    /// Returns the season of a competition.
    ///
    /// # Errors
    /// A competition that is not there or not the caller's to see.
    pub async fn season_of_competition(&self, caller: Caller, id: CompetitionId) -> Result<SeasonId, Refusal> {
        let found = self.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
        found.parent.map(SeasonId).ok_or(Refusal::NotFound)
    }

    /// Reads a season's competitions after an id.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn competitions_of(
        &self,
        caller: Caller,
        season: SeasonId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<CompetitionView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Season>(&mut conn, caller, &SEASONS, season.0).await?;
        let league = document.league;
        let found = documents::list_of_season(&mut conn, &COMPETITIONS, league, season, after, limit).await?;
        Ok(found.into_iter().map(CompetitionView::from).collect())
    }
}

impl Leagues {
    /// Reads a season's competitions, the main one first, then by position.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn competitions_by_position(
        &self,
        caller: Caller,
        season: SeasonId,
    ) -> Result<Vec<CompetitionView>, Refusal> {
        let mut found = self.competitions_of(caller, season, Uuid::nil(), MOST as i64).await?;
        found.sort_by_key(|listed| (listed.terms.position, listed.id));
        if let Some(main) = found.iter().position(|listed| listed.terms.ranks_cards()) {
            found[..=main].rotate_right(1);
        }
        Ok(found)
    }
}

/// Finds whether a changed competition no longer fits one that adds it up.
fn still_added_up(book: &LeagueBook, season: SeasonId, id: CompetitionId, terms: &Competition) -> Vec<Fault> {
    let all = book.book.competitions_of(season);
    let rests = |other: &Competition| other.rests_on().contains(&id);
    let starts = all.iter().find(|(_, other)| other.start.is_some() && rests(other));
    if let Some((_, by)) = starts.filter(|_| !terms.ranks_cards()) {
        let detail = format!("{} starts by the table of this competition: it must rank cards", by.name);
        return vec![Fault::new("/meeting", Rule::CompetitionMisfit, detail)];
    }
    let mut by = all.iter().filter(|(_, other)| matches!(other.meeting, Meeting::Sum { .. }) && rests(other));
    let changes = |old: &Competition| old.better() != terms.better() || !terms.values_events();
    let old = all.iter().find(|(other, _)| *other == id).map(|(_, old)| *old);
    match (by.next(), old) {
        (Some((_, by)), Some(old)) if changes(old) => {
            let detail = format!("{} adds this competition up: its values must mean the same", by.name);
            vec![Fault::new("/meeting", Rule::CompetitionMisfit, detail)]
        }
        _ => Vec::new(),
    }
}
