//! Seasons.

use crate::change;
use crate::domain::facts::{Fault, Rules, Season, fit};
use crate::domain::ids::{LeagueId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::league::access::{self, IfMatch};
use crate::league::competition::lay_down as competition;
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::season::changes::Cause;
use crate::league::views::{NewSeason, NewSeasonView, SeasonView};
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, Document, SEASONS};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::{Conn, leagues, rounds};
use jiff::Timestamp;
use uuid::Uuid;

fn text(season: &Season) -> String {
    serde_json::to_string(season).expect("a season is plain values with text keys")
}

/// Passes unless terms become tighter than what handed-in cards hold: such a league could not be moved, as its bundle
/// would hold cards that its own terms forbid.
async fn keeps_to_cards(
    conn: &mut Conn,
    league: LeagueId,
    id: SeasonId,
    before: &Season,
    after: &Season,
) -> Result<(), Refusal> {
    if after.concession_ft < before.concession_ft
        && rounds::is_conceded_beyond(conn, league, id, after.concession_ft).await?
    {
        let detail = format!("a putt of more than {} ft was conceded on a card of this season", after.concession_ft);
        return Err(Refusal::conflict(Rule::TermsInUse, detail));
    }
    Ok(())
}

/// Finds the events that changed dates of a season would leave outside.
fn outside(season: &Season, nights: &[&Night], book: &LeagueBook) -> Vec<Fault> {
    let fault = |night: &&Night| {
        let fault = fit::day_faults(&night.event, season, |at| book.day(at)).into_iter().next()?;
        let pointer = if night.date < season.starts_on { "/starts_on" } else { "/ends_on" };
        Some(Fault::new(pointer, Rule::OutsideSeason, format!("{}: {}", night.event.name, fault.detail)))
    };
    nights.iter().filter_map(fault).collect()
}

/// Finds whether a season freezes handicaps from an event that is none of its.
fn unknown_freeze(season: &Season, nights: Option<&[&Night]>) -> Vec<Fault> {
    let is_known = |event| nights.is_some_and(|nights| nights.iter().any(|night| night.id == event));
    let fault = || Fault::new("/handicap/frozen_from", Rule::UnknownEvent, "this season has no such event");
    season.handicap.frozen_from.filter(|event| !is_known(*event)).map(|_| fault()).into_iter().collect()
}

/// Finds the flights that a changed season no longer has and a competition of it ranks.
fn in_use(book: &LeagueBook, id: SeasonId, season: &Season) -> Vec<Fault> {
    let competitions = book.book.competitions_of(id);
    let named =
        competitions.iter().flat_map(|(_, terms)| terms.field.flights.iter().map(|flight| (&terms.name, flight)));
    let gone = named.filter(|(_, flight)| !season.flights.iter().any(|known| known.name == **flight));
    let fault = |(name, flight)| {
        Fault::new("/flights", Rule::UnknownFlight, format!("the competition {name} ranks the flight {flight}"))
    };
    gone.map(fault).collect()
}

/// Stores a new season, which was found to fit itself; its competitions are still to come.
///
/// # Errors
/// A failed database.
pub(super) async fn add(
    conn: &mut Conn,
    (caller, now): (Caller, Timestamp),
    league: LeagueId,
    season: Season,
) -> Result<SeasonView, Refusal> {
    let (id, body) = (Uuid::now_v7(), text(&season));
    let seq = leagues::next_seq(conn, league).await?;
    documents::insert(conn, &SEASONS, league, id, None, 1, seq, now, &body).await?;
    books::mark(conn, league).await?;
    let (by, rows) = (Some(caller.account), [wrote("seasons", id)]);
    let act = Act { by, act: "create", kind: "season", id, content: body.as_bytes(), rows: &rows };
    journal::append(conn, league, act, now).await?;
    Ok(SeasonView { id: SeasonId(id), league_id: league, season })
}

impl Leagues {
    /// Adds a season with its competitions; without any it has one of its own name.
    ///
    /// # Errors
    /// Anybody but an organizer; a policy that does not fit itself.
    pub async fn create_season(&self, key: RequestKey, league: LeagueId, new: NewSeason) -> Result<Reply, Refusal> {
        change!(self, league, |conn| {
            access::organizer(conn, key.caller, league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            sound(new.broken())?;
            sound(unknown_freeze(&new.season, None))?;
            let competitions = new.competitions();
            let season = new.season;
            let view = add(conn, (key.caller, key.now), league, season).await?;
            let id = view.id;
            let mut made = Vec::with_capacity(competitions.len());
            for terms in competitions {
                made.push(competition::add(conn, (key.caller, key.now), (league, id), terms).await?);
            }
            let view = NewSeasonView { season: view, competitions: made };
            key.keep(conn, created(format!("/api/v1/seasons/{id}"), 1, &view)).await
        })
    }

    /// Changes a season's policy; events that are not final are worked out afresh.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; terms that decide results once an event is final; events whose holes
    /// do not fit.
    pub async fn change_season(
        &self,
        caller: Caller,
        id: SeasonId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<Season, Refusal> + Clone + Send + 'static,
    ) -> Result<(SeasonView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let (before, member) = access::organized_document::<Season>(conn, caller, &SEASONS, id.0).await?;
            if_match.check(before.version)?;
            let season = patched(&before.text)?;
            sound(season.faults())?;
            this.weigh_now(conn, before.league, now).await?;
            let tables = this.tables(conn, before.league).await?;
            let book = this.books.of(conn, before.league).await?;
            let nights = book.book.nights_of(id);
            let changed = season.deciding_terms_changed(&before.body);
            if !changed.is_empty() && nights.iter().any(|night| night.event.is_final()) {
                let detail = format!("an event of this season is final, which settled: {}", changed.join(", "));
                return Err(Refusal::conflict(Rule::TermsSettled, detail));
            }
            sound(outside(&season, &nights, &book))?;
            sound(in_use(&book, id, &season))?;
            sound(unknown_freeze(&season, Some(&nights)))?;
            keeps_to_cards(conn, before.league, id, &before.body, &season).await?;
            let body = text(&season);
            let seq = leagues::next_seq(conn, before.league).await?;
            documents::replace(conn, &SEASONS, &before, Some(member.id.0), seq, now, &body).await?;
            let rows = [wrote("seasons", id), wrote_version("season", id.0, before.version)];
            let (by, content) = (Some(caller.account), body.as_bytes());
            let act = Act { by, act: "replace", kind: "season", id: id.0, content, rows: &rows };
            journal::append(conn, before.league, act, now).await?;
            if season.audit.softened_putts != before.body.audit.softened_putts {
                books::mark(conn, before.league).await?;
                let book = this.books.of(conn, before.league).await?;
                crate::league::round::digests::boil_again(conn, &book, id).await?;
            }
            let cause = Cause { by: member.id, act: "replace", kind: "season", thing: id.0, reason: None };
            let book = this.terms_changed(conn, before.league, &tables, cause, now).await?;
            if season.audit != before.body.audit {
                crate::league::finding::evidence::afresh(conn, &book, id, now).await?;
            }
            let version = before.version + 1;
            Ok((SeasonView::from(Document { body: season, ..before }), version))
        })
    }
}
