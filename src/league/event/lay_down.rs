//! Events: lay down, change, make final.

use super::void;
use crate::change;
use crate::domain::competition::matches;
use crate::domain::facts::event::{FinalFixture, FinalMember, KeptCompetition};
use crate::domain::facts::{Event, EventState, Fault, FinalRecord, Season, fit};
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::record::{figures_without_card, member_record};
use crate::domain::season::{Entry, Figures, RoundState};
use crate::league::access::{self, IfMatch};
use crate::league::competition::stored::{self, By};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::refusal::final_event;
use crate::league::season::changes::{self, Cause};
use crate::league::views::EventView;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, Document, EVENTS, SEASONS};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::results::{self, StoredResult};
use crate::storage::rounds::{self, Counted};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::{Conn, entrants, events_kept, leagues, season_facts};
use jiff::Timestamp;
use uuid::Uuid;

fn text(event: &Event) -> String {
    serde_json::to_string(event).expect("an event is plain values with text keys")
}

/// Finds whether an event fits itself, its tees, its season and the events beside it.
pub(in crate::league) fn faults(
    book: &LeagueBook,
    season: SeasonId,
    policy: &Season,
    event: &Event,
    own: Option<EventId>,
) -> Vec<Fault> {
    let mut faults = event.faults();
    faults.extend(fit::day_faults(event, policy, |at| book.day(at)));
    faults.extend(fit::tee_faults(event, |tee| book.book.tees.get(&tee)));
    for (t, assignment) in event.tees.iter().enumerate() {
        if assignment.member_id.is_some_and(|member| !book.book.members.contains_key(&member)) {
            let pointer = format!("/tees/{t}/member_id");
            faults.push(Fault::new(pointer, Rule::UnknownMember, "this league has no such member"));
        }
        let known = |name: &String| policy.flights.iter().any(|flight| flight.name == *name);
        if assignment.flight.as_ref().is_some_and(|name| !known(name)) {
            let pointer = format!("/tees/{t}/flight");
            faults.push(Fault::new(pointer, Rule::UnknownFlight, "this season has no such flight"));
        }
    }
    let others = book.book.nights_of(season).into_iter().filter(|night| Some(night.id) != own);
    let mut events: Vec<(EventId, &Event)> = others.map(|night| (night.id, &night.event)).collect();
    // No competition names a new event yet.
    events.push((own.unwrap_or(EventId(Uuid::nil())), event));
    let competitions = book.book.competitions_of(season).into_iter();
    faults.extend(competitions.filter_map(|(_, terms)| fit::uneven(terms, &events)).take(1));
    faults
}

/// Stores a new event, which was found to fit.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn add(
    conn: &mut Conn,
    (caller, now): (Caller, Timestamp),
    (league, season): (LeagueId, SeasonId),
    event: Event,
) -> Result<EventView, Refusal> {
    let (id, text) = (Uuid::now_v7(), text(&event));
    let seq = leagues::next_seq(conn, league).await?;
    documents::insert(conn, &EVENTS, league, id, Some(season.0), 1, seq, now, &text).await?;
    books::mark(conn, league).await?;
    documents::show_anew(conn, [(league, season, EventId(id))]).await?;
    let (by, rows) = (Some(caller.account), [wrote("events", id)]);
    let act = Act { by, act: "create", kind: "event", id, content: text.as_bytes(), rows: &rows };
    journal::append(conn, league, act, now).await?;
    let parent = Some(season.0);
    let stored = Document { id, league, parent, version: 1, seq, received_at: now, text, body: event };
    Ok(EventView::of(stored, now))
}

impl Leagues {
    /// Lays down an event.
    ///
    /// # Errors
    /// Anybody but an organizer; an event that does not fit itself, its tees or its season.
    pub async fn create_event(&self, key: RequestKey, season: SeasonId, event: Event) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, season, |conn| {
            let (policy, _) = access::organized_document::<Season>(conn, key.caller, &SEASONS, season.0).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let book = this.books.of(conn, policy.league).await?;
            sound(faults(&book, season, &policy.body, &event, None))?;
            if event.is_final() {
                return Err(Refusal::fault("/state", Rule::EventFinal, "a new event is not final yet"));
            }
            let view = add(conn, (key.caller, key.now), (policy.league, season), event).await?;
            key.keep(conn, created(format!("/api/v1/events/{}", view.id), 1, &view)).await
        })
    }

    /// Changes an event. Making it final settles its results for good; only whether it is void can change then, until the
    /// season's next event is final.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; an event that is final; holes changed under handed-in rounds; final
    /// before the event closes, while cards wait, or without a card that counts.
    pub async fn change_event(
        &self,
        caller: Caller,
        id: EventId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<Event, Refusal> + Clone + Send + 'static,
    ) -> Result<(EventView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        let changed = change!(self, id, |conn| {
            let (before, member) = access::organized_document::<Event>(conn, caller, &EVENTS, id.0).await?;
            if_match.check(before.version)?;
            let event = patched(&before.text)?;
            let (league, season) = (before.league, SeasonId(before.parent.unwrap_or_default()));
            let book = this.books.of(conn, league).await?;
            if before.body.is_final() {
                void::may_change_final(conn, &book, id, (&before.body, &event)).await?;
            } else {
                let policy = documents::get::<Season>(conn, &SEASONS, season.0).await?.ok_or(Refusal::NotFound)?;
                sound(faults(&book, season, &policy.body, &event, Some(id)))?;
                may_change_so(&before.body, &event, rounds::count_in_event(conn, league, id).await?, now)?;
            }
            let (void_differs, becomes_final) =
                (event.void != before.body.void, !before.body.is_final() && event.is_final());
            this.weigh_now(conn, league, now).await?;
            let tables = this.tables(conn, league).await?;
            let body = text(&event);
            let seq = leagues::next_seq(conn, league).await?;
            documents::replace(conn, &EVENTS, &before, Some(member.id.0), seq, now, &body).await?;
            let rows = [wrote("events", id), wrote_version("event", id.0, before.version)];
            let (by, content) = (Some(caller.account), body.as_bytes());
            let act = Act { by, act: "replace", kind: "event", id: id.0, content, rows: &rows };
            journal::append(conn, league, act, now).await?;
            let (act, reason) = match (&event.void, void_differs) {
                (Some(void), true) => ("void", Some(void.reason.as_str())),
                (None, true) => ("count_again", None),
                (_, false) => ("replace", None),
            };
            let cause = Cause { by: member.id, act, kind: "event", thing: id.0, reason };
            let book = this.terms_changed(conn, league, &tables, cause, now).await?;
            if event.tee_id != before.body.tee_id || event.stimp_ft != before.body.stimp_ft {
                crate::league::finding::evidence::afresh(conn, &book, season, now).await?;
            }
            if event.is_void() != before.body.is_void() {
                void::tell(conn, &book, (id, &event), member.id, now).await?;
            }
            if becomes_final {
                let tables = changes::tables(conn, &book).await?;
                let fixtures = this.decided_sides(conn, &book, id).await?;
                keep_final(conn, &book, (id, fixtures), now).await?;
                let rows = [wrote("events_kept", id)];
                let act = Act { by, act: "settle", kind: "event", id: id.0, content: &[], rows: &rows };
                journal::append(conn, league, act, now).await?;
                this.terms_changed(conn, league, &tables, cause, now).await?;
                this.sign_final(conn, league, id).await?;
            }
            let version = before.version + 1;
            Ok::<_, Refusal>((EventView::of(Document { body: event, version, ..before }, now), version))
        })?;
        self.boards.moved(id);
        Ok(changed)
    }
}

impl Leagues {
    /// Removes an event that has no cards; entries, side contests and cards in play go with it.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; an event with a card, withdrawn ones included, or one that is being
    /// played.
    pub async fn remove_event(&self, caller: Caller, id: EventId, if_match: IfMatch) -> Result<SeasonId, Refusal> {
        let this = self.clone();
        let now = self.now();
        let season = change!(self, id, |conn| {
            let (event, member) = access::organized_document::<Event>(conn, caller, &EVENTS, id.0).await?;
            if_match.check(event.version)?;
            let (league, season) = (event.league, SeasonId(event.parent.unwrap_or_default()));
            let cards = rounds::count_in_event(conn, league, id).await?;
            let in_play = entrants::cards_of(conn, league, id).await?.len();
            may_be_removed(&event.body, cards, in_play, now)?;
            let book = this.books.of(conn, league).await?;
            let mut competitions = book.book.competitions_of(season).into_iter();
            if let Some((_, by)) = competitions.find(|(_, terms)| terms.events.is_some() && terms.counts_event(id)) {
                let detail = format!("the competition {} names this event: take it out of its events first", by.name);
                return Err(Refusal::conflict(Rule::CompetitionInUse, detail));
            }
            let has_line_up = book.book.line_ups.keys().any(|(of, _)| *of == id);
            if has_line_up || book.book.fixtures_in(id).next().is_some() {
                let detail =
                    "fixtures or line-ups of this event are there: remove them or move them to another event first";
                return Err(Refusal::conflict(Rule::HasFixtures, detail));
            }
            let by = By { caller, member: member.id, now };
            for (contest, _) in book.book.contests.iter().filter(|(_, (of, _))| *of == id) {
                if let Some(fact) = season_facts::get(conn, *contest).await? {
                    stored::remove(conn, by, &book, &fact).await?;
                }
            }
            documents::remove_event(conn, league, id.0).await?;
            books::mark(conn, league).await?;
            // Its column goes from the table; no row moves, as no card was in it.
            documents::show_seasons_anew(conn, [(league, season)]).await?;
            let act = Act { by: Some(caller.account), act: "remove", kind: "event", id: id.0, content: &[], rows: &[] };
            journal::append(conn, league, act, now).await?;
            Ok::<_, Refusal>(season)
        })?;
        self.boards.moved(id);
        Ok(season)
    }
}

/// What an organizer sees of an event before it becomes final or is removed.
pub struct EventOverview {
    /// The event as it stands.
    pub event: EventView,
    /// Its league.
    pub league: LeagueId,
    /// Rises whenever its board shows something else.
    pub mark: i64,
    /// Its cards, withdrawn ones too.
    pub cards: Vec<(MemberId, RoundId, RoundState)>,
    /// Who entered.
    pub entered: Vec<MemberId>,
    /// How many cards are being filled in.
    pub in_play: usize,
    /// Whether no event of its season is final yet, so that the season's terms can still be changed.
    pub is_first: bool,
    /// Why it cannot be made void now, or be taken back.
    pub is_counted_as_it_is_for: Option<Refusal>,
    /// Why it cannot be made final now.
    pub is_not_final_for: Option<Refusal>,
    /// Why it cannot be removed now.
    pub is_kept_for: Option<Refusal>,
}

impl Leagues {
    /// Reads what an organizer sees of an event before it becomes final or is removed.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn event_overview(&self, caller: Caller, id: EventId) -> Result<EventOverview, Refusal> {
        let now = self.now();
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let (event, _) = access::organized_document::<Event>(conn, caller, &EVENTS, id.0).await?;
        let (league, season) = (event.league, SeasonId(event.parent.unwrap_or_default()));
        let rows = rounds::of_event(conn, league, id, Uuid::nil(), i64::MAX).await?;
        let counted = rounds::count_in_event(conn, league, id).await?;
        let in_play = entrants::cards_of(conn, league, id).await?.len();
        let entered = entrants::of_event(conn, league, id).await?;
        let book = self.books.of(conn, league).await?;
        let is_not_final_for = match event.body.is_final() {
            true => Some(final_event()),
            false => may_be_final(&event.body, counted, now).err(),
        };
        Ok(EventOverview {
            league,
            is_counted_as_it_is_for: void::may_become_void(conn, &book, id).await.err(),
            mark: documents::event_shown(conn, league, id).await?,
            cards: rows.iter().map(|row| (row.member, row.id, row.state)).collect(),
            entered: entered.iter().map(|entrant| entrant.member).collect(),
            in_play,
            is_first: !book.book.nights_of(season).iter().any(|night| night.event.is_final()),
            is_not_final_for,
            is_kept_for: may_be_removed(&event.body, counted, in_play, now).err(),
            event: EventView::of(event, now),
        })
    }
}

/// Passes an event that can be removed now.
fn may_be_removed(event: &Event, cards: Counted, in_play: usize, now: Timestamp) -> Result<(), Refusal> {
    if cards.all > 0 {
        let detail = "cards have been handed in for this event, so it cannot be deleted; withdrawn cards are kept too";
        return Err(Refusal::conflict(Rule::EventHasCards, detail));
    }
    if in_play > 0 && event.state_at(now) == EventState::Open {
        return Err(Refusal::conflict(Rule::EventHasCards, "a card of this event is being filled in at the moment"));
    }
    Ok(())
}

/// Passes a change of an event that is not final yet.
fn may_change_so(before: &Event, event: &Event, cards: Counted, now: Timestamp) -> Result<(), Refusal> {
    let holes_differ = event.holes != before.holes || event.first_hole != before.first_hole;
    if holes_differ && cards.all > 0 {
        let detail = "cards have been handed in, so the holes can no longer change";
        return Err(Refusal::conflict(Rule::HolesSettled, detail));
    }
    if event.is_final() { may_be_final(event, cards, now) } else { Ok(()) }
}

/// Passes an event whose results may be settled now.
fn may_be_final(event: &Event, cards: Counted, now: Timestamp) -> Result<(), Refusal> {
    if now < event.closes_at {
        let detail = format!("this event can be made final after it closes, at {}", event.closes_at);
        return Err(Refusal::conflict(Rule::EventNotOver, detail));
    }
    if cards.waiting > 0 {
        let detail = "some cards of this event are waiting to be accepted: accept or withdraw them first";
        return Err(Refusal::conflict(Rule::CardsWaiting, detail));
    }
    if cards.counting == 0 {
        return Err(Refusal::conflict(Rule::NoCountingCard, "no card of this event counts, so there are no results"));
    }
    Ok(())
}

/// Returns the figures that a round would have if it counted.
async fn figures_if_counted(
    conn: &mut Conn,
    book: &LeagueBook,
    member: MemberId,
    round: RoundId,
) -> Result<Option<Figures>, Refusal> {
    let mut stored = results::of_member(conn, book.league, member).await?;
    for StoredResult { entry, .. } in stored.iter_mut().filter(|stored| stored.entry.id == round) {
        entry.state = RoundState::Submitted;
    }
    let record = member_record(&book.book, member, stored.iter().map(|stored| &stored.entry), None);
    Ok(record.figures.into_iter().find(|figures| figures.round == round))
}

fn final_member(figures: Figures) -> FinalMember {
    FinalMember {
        member_id: figures.member,
        flight: figures.flight,
        league_index: figures.handicap.league_index,
        played_off: figures.handicap.played_off,
    }
}

/// Stores what a final event keeps: its tees, its terms, and where each of its players stood.
async fn keep_final(
    conn: &mut Conn,
    book: &LeagueBook,
    (id, fixtures): (EventId, Vec<FinalFixture>),
    now: Timestamp,
) -> Result<(), Refusal> {
    let night = book.book.nights.get(&id).ok_or(Refusal::NotFound)?;
    let mut members = Vec::new();
    for round in results::of_event(conn, book.league, id).await? {
        let figures = match round.state {
            // A reinstated round finds its player's standing kept like everybody's.
            RoundState::Excluded => figures_if_counted(conn, book, round.member, round.round).await?,
            _ => round.figures,
        };
        members.extend(figures.map(final_member));
    }
    let mut absent = Vec::new();
    let expected = matches::expected(&book.book, night).into_iter();
    for member in expected.filter(|member| !members.iter().any(|kept: &FinalMember| kept.member_id == *member)) {
        let stored = results::of_member(conn, book.league, member).await?;
        let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
        absent.extend(figures_without_card(&book.book, member, &entries, night).map(final_member));
    }
    let competitions = book.book.competitions_of(night.season).into_iter();
    let competitions =
        competitions.map(|(competition_id, terms)| KeptCompetition { competition_id, terms: terms.clone() });
    let record = FinalRecord {
        tees: night.event.tee_ids().iter().filter_map(|tee| book.book.tees.get(tee)).cloned().collect(),
        playing_conditions: night.playing_conditions(),
        competitions: competitions.collect(),
        members,
        absent,
        fixtures,
    };
    let seq = leagues::next_seq(conn, book.league).await?;
    let kept = events_kept::Kept { id: Uuid::now_v7(), event: id, record, seq, received_at: now };
    Ok(events_kept::insert(conn, book.league, &kept).await?)
}
