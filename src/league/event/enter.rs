//! Who plays in an event, and the cards in play.

use crate::change;
use crate::domain::facts::{CardInPlay, Event, EventEntry, EventState, Fault};
use crate::domain::ids::{AccountId, EventId, MemberId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::refusal::{final_event, void_event};
use crate::league::views::state_word;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, Document, EVENTS};
use crate::storage::entrants::{self, StoredCard, StoredEntrant};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::row_hashes::wrote;
use crate::storage::{Conn, leagues, rounds};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// A member who plays in an event.
#[derive(Clone, Debug, Serialize)]
pub struct EntrantView {
    /// Its id.
    pub id: Uuid,
    /// The event.
    pub event_id: EventId,
    /// The member.
    pub member_id: MemberId,
    /// When and where, and in what.
    #[serde(flatten)]
    pub entry: EventEntry,
    /// When it was entered.
    pub received_at: Timestamp,
}

impl From<StoredEntrant> for EntrantView {
    fn from(stored: StoredEntrant) -> Self {
        let StoredEntrant { id, event, member, entry, received_at, .. } = stored;
        Self { id, event_id: event, member_id: member, entry, received_at }
    }
}

/// A card in play as it is answered.
#[derive(Debug, Serialize)]
pub struct CardInPlayView {
    /// The event.
    pub event_id: EventId,
    /// Whose it is.
    pub member_id: MemberId,
    /// When it last changed.
    pub updated_at: Timestamp,
    /// Its holes so far.
    #[serde(flatten)]
    pub card: CardInPlay,
}

/// Returns the member that something is done for: the caller, or with a scorer's or an organizer's right another one.
async fn done_for(
    conn: &mut Conn,
    caller: &StoredMember,
    member: Option<MemberId>,
    refusal: &'static str,
) -> Result<MemberId, Refusal> {
    let member = member.unwrap_or(caller.id);
    if member == caller.id {
        return Ok(member);
    }
    let record = members::get(conn, member).await?.filter(|record| record.league == caller.league);
    if record.is_none_or(|record| record.is_erased) {
        return Err(Refusal::fault("/member_id", Rule::UnknownMember, "this league has no such member"));
    }
    if !caller.member.role.keeps_scores() {
        return Err(Refusal::Forbidden(refusal));
    }
    Ok(member)
}

/// An event whose entries change, and who changes them.
struct Entering<'a> {
    book: &'a LeagueBook,
    event: &'a Document<Event>,
    caller: &'a StoredMember,
    account: AccountId,
    now: Timestamp,
}

impl Entering<'_> {
    fn id(&self) -> EventId {
        EventId(self.event.id)
    }

    /// Passes where entries still change.
    fn is_open(&self) -> Result<(), Refusal> {
        match &self.event.body {
            event if event.is_void() => Err(void_event("entries")),
            event if event.is_final() => Err(final_event()),
            _ => Ok(()),
        }
    }

    /// Finds competitions that nobody enters, or that an entry names twice.
    fn faults(&self, entry: &EventEntry) -> Vec<Fault> {
        let mut faults = Vec::new();
        let Some(night) = self.book.book.nights.get(&self.id()) else { return faults };
        for (n, id) in entry.competitions.iter().enumerate() {
            let terms = self.book.book.terms(night, *id);
            let fault = match terms.filter(|terms| terms.field.by_entry && terms.counts_event(night.id)) {
                None => (Rule::UnknownCompetition, "this event has no such competition that players enter"),
                Some(_) if entry.competitions[..n].contains(id) => (Rule::RepeatedId, "each competition is named once"),
                Some(_) => continue,
            };
            faults.push(Fault::new(format!("/competitions/{n}"), fault.0, fault.1));
        }
        faults
    }

    /// Passes unless a player would enter or leave a competition after the own card, or after the event.
    async fn in_time(&self, conn: &mut Conn, entry: &EventEntry, member: MemberId) -> Result<(), Refusal> {
        if entry.competitions.is_empty() || self.caller.member.role.keeps_scores() {
            return Ok(());
        }
        match self.event.body.state_at(self.now) {
            EventState::Scheduled | EventState::Open => {}
            state => {
                return Err(Refusal::conflict(Rule::EventNotOpen, format!("the event {}", state_word(state))));
            }
        }
        if rounds::is_in_event(conn, self.book.league, self.id(), member).await? {
            return Err(Refusal::Forbidden("your card is in: a scorer or an organizer changes what you entered"));
        }
        Ok(())
    }

    async fn add(&self, conn: &mut Conn, member: MemberId, entry: EventEntry) -> Result<StoredEntrant, Refusal> {
        let league = self.book.league;
        let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
        let stored = StoredEntrant { league, id, event: self.id(), member, entry, seq, received_at: self.now };
        entrants::insert(conn, &stored).await?;
        self.shows_anew(conn, &stored.entry).await?;
        let content = serde_json::to_vec(&stored.entry).expect("facts are plain values with text keys");
        let (by, rows) = (Some(self.account), [wrote("entrants", id)]);
        let act = Act { by, act: "create", kind: "entry", id, content: &content, rows: &rows };
        journal::append(conn, league, act, self.now).await?;
        Ok(stored)
    }

    async fn remove(&self, conn: &mut Conn, stored: &StoredEntrant) -> Result<(), Refusal> {
        let (league, id) = (stored.league, stored.id);
        entrants::delete(conn, league, id).await?;
        self.shows_anew(conn, &stored.entry).await?;
        let act = Act { by: Some(self.account), act: "remove", kind: "entry", id, content: &[], rows: &[] };
        Ok(journal::append(conn, league, act, self.now).await?)
    }

    async fn shows_anew(&self, conn: &mut Conn, entry: &EventEntry) -> Result<(), Refusal> {
        let league = self.book.league;
        documents::show_events_anew(conn, [(league, self.id())]).await?;
        if !entry.competitions.is_empty() {
            books::mark(conn, league).await?;
            let season = SeasonId(self.event.parent.unwrap_or_default());
            documents::show_seasons_anew(conn, [(league, season)]).await?;
        }
        Ok(())
    }
}

impl Leagues {
    /// Enters a member in an event.
    ///
    /// # Errors
    /// A player entering somebody else, or a competition after the own card; a member who is entered; a void or final event;
    /// a competition that nobody enters.
    pub async fn enter(
        &self,
        key: RequestKey,
        event: EventId,
        member: Option<MemberId>,
        entry: EventEntry,
    ) -> Result<Reply, Refusal> {
        let this = self.clone();
        let reply = change!(self, event, |conn| {
            let (document, caller) = access::document::<Event>(conn, key.caller, &EVENTS, event.0).await?;
            let member = done_for(conn, &caller, member, "a player enters for itself only").await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let book = this.books.of(conn, document.league).await?;
            let (account, now) = (key.caller.account, key.now);
            let entering = Entering { book: &book, event: &document, caller: &caller, account, now };
            entering.is_open()?;
            if entrants::of_event(conn, document.league, event).await?.iter().any(|entrant| entrant.member == member) {
                return Err(Refusal::conflict(Rule::AlreadyEntered, "this player is already entered"));
            }
            sound(entering.faults(&entry))?;
            entering.in_time(conn, &entry, member).await?;
            let stored = entering.add(conn, member, entry).await?;
            let at = format!("/api/v1/entries/{}", stored.id);
            key.keep(conn, created(at, 1, &EntrantView::from(stored))).await
        })?;
        self.boards.moved(event);
        Ok(reply)
    }

    /// Lays down who plays in an event: whoever is not named any more leaves, whoever is new or plays otherwise enters.
    /// `known` are the entries that the caller saw.
    ///
    /// # Errors
    /// Anybody but scorers and organizers; entries that changed in the meantime; a void or final event; a member who is named
    /// twice or is not in the league; a competition that nobody enters.
    pub async fn arrange_entries(
        &self,
        caller: Caller,
        event: EventId,
        known: &[Uuid],
        wanted: Vec<(MemberId, EventEntry)>,
    ) -> Result<(), Refusal> {
        let this = self.clone();
        let (known, now) = (known.to_vec(), self.now());
        change!(self, event, |conn| {
            let (document, member) = access::document::<Event>(conn, caller, &EVENTS, event.0).await?;
            if !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden("only scorers and organizers say who plays"));
            }
            let there = entrants::of_event(conn, document.league, event).await?;
            if !there.iter().map(|entrant| entrant.id).eq(known.iter().copied()) {
                return Err(Refusal::Stale(1));
            }
            let book = this.books.of(conn, document.league).await?;
            let account = caller.account;
            let entering = Entering { book: &book, event: &document, caller: &member, account, now };
            entering.is_open()?;
            let mut faults = Vec::new();
            for (n, (member, entry)) in wanted.iter().enumerate() {
                let at = format!("/{n}/member_id");
                if !book.book.members.contains_key(member) {
                    faults.push(Fault::new(at, Rule::UnknownMember, "this league has no such member"));
                } else if wanted[..n].iter().any(|(other, _)| other == member) {
                    faults.push(Fault::new(at, Rule::AlreadyEntered, "this player is already entered"));
                }
                let found = entering.faults(entry).into_iter();
                faults.extend(found.map(|fault| Fault { pointer: format!("/{n}{}", fault.pointer), ..fault }));
            }
            sound(faults)?;
            let stays = |stored: &StoredEntrant| {
                wanted.iter().any(|(member, entry)| *member == stored.member && *entry == stored.entry)
            };
            for stored in there.iter().filter(|stored| !stays(stored)) {
                entering.remove(conn, stored).await?;
            }
            for (member, entry) in &wanted {
                if !there.iter().any(|stored| stored.member == *member && stored.entry == *entry) {
                    entering.add(conn, *member, entry.clone()).await?;
                }
            }
            Ok::<_, Refusal>(())
        })?;
        self.boards.moved(event);
        Ok(())
    }

    /// Takes an entry back.
    ///
    /// # Errors
    /// A player taking back somebody else's, or one to a competition after the own card; a final event.
    pub async fn leave_event(&self, caller: Caller, id: Uuid, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        let event = change!(self, id, |conn| {
            let entrant = entrants::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let (document, member) = access::document::<Event>(conn, caller, &EVENTS, entrant.event.0).await?;
            if entrant.member != member.id && !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden("players can only withdraw their own entry"));
            }
            if_match.check(1)?;
            if document.body.is_final() {
                return Err(final_event());
            }
            let book = this.books.of(conn, document.league).await?;
            let account = caller.account;
            let entering = Entering { book: &book, event: &document, caller: &member, account, now };
            entering.in_time(conn, &entrant.entry, entrant.member).await?;
            entering.remove(conn, &entrant).await?;
            Ok::<_, Refusal>(entrant.event)
        })?;
        self.boards.moved(event);
        Ok(())
    }

    /// Reads who plays in an event, in the order in which they entered.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn entrants(&self, caller: Caller, event: EventId) -> Result<Vec<EntrantView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let found = entrants::of_event(&mut conn, document.league, event).await?;
        Ok(found.into_iter().map(EntrantView::from).collect())
    }

    /// Puts the holes so far of a card in play. It is no fact: the round takes its place.
    ///
    /// # Errors
    /// A player putting somebody else's; an event that is void or not open; a member whose round is in; holes that do not fit.
    pub async fn put_card_in_play(
        &self,
        caller: Caller,
        event: EventId,
        member: Option<MemberId>,
        if_match: IfMatch,
        card: CardInPlay,
    ) -> Result<(CardInPlayView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        let put = change!(self, event, |conn| {
            let (document, by) = access::document::<Event>(conn, caller, &EVENTS, event.0).await?;
            let member = done_for(conn, &by, member, "a player keeps an own card only").await?;
            let league = document.league;
            if document.body.is_void() {
                return Err(void_event("cards"));
            }
            match document.body.state_at(now) {
                EventState::Open => {}
                EventState::Final => return Err(final_event()),
                state => {
                    return Err(Refusal::conflict(Rule::EventNotOpen, format!("the event {}", state_word(state))));
                }
            }
            let before = entrants::card_of(conn, league, event, member).await?;
            let version = before.map_or(0, |before| before.version);
            if_match.check(version)?;
            let book = this.books.of(conn, league).await?;
            let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
            let layout = book.book.layout(night, night.event.tee_id).ok_or(Refusal::NotFound)?;
            sound(card.faults(&layout))?;
            if rounds::is_in_event(conn, league, event, member).await? {
                return Err(Refusal::conflict(Rule::SecondRound, "this player has already handed in a card"));
            }
            let stored = StoredCard { member, version: version + 1, updated_at: now, card };
            entrants::put_card(conn, league, event, &stored).await?;
            documents::show_events_anew(conn, [(league, event)]).await?;
            let StoredCard { card, version, .. } = stored;
            Ok((CardInPlayView { event_id: event, member_id: member, updated_at: now, card }, version))
        })?;
        self.boards.moved(event);
        Ok(put)
    }
}
