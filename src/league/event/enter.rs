//! Who plays in an event, and the cards in play.

use crate::change;
use crate::domain::facts::{CardInPlay, Event, EventState, StartPlace};
use crate::domain::ids::{EventId, MemberId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::refusal::{final_event, void_event};
use crate::league::views::state_word;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, EVENTS};
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
    /// When and where.
    #[serde(flatten)]
    pub place: StartPlace,
    /// When it was entered.
    pub received_at: Timestamp,
}

impl From<StoredEntrant> for EntrantView {
    fn from(stored: StoredEntrant) -> Self {
        let StoredEntrant { id, event, member, place, received_at, .. } = stored;
        Self { id, event_id: event, member_id: member, place, received_at }
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

impl Leagues {
    /// Enters a member in an event.
    ///
    /// # Errors
    /// A player entering somebody else; a member who is entered; a void or final event.
    pub async fn enter(
        &self,
        key: RequestKey,
        event: EventId,
        member: Option<MemberId>,
        place: StartPlace,
    ) -> Result<Reply, Refusal> {
        let reply = change!(self, event, |conn| {
            let (document, caller) = access::document::<Event>(conn, key.caller, &EVENTS, event.0).await?;
            let member = done_for(conn, &caller, member, "a player enters for itself only").await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if document.body.is_void() {
                return Err(void_event("entries"));
            }
            if document.body.is_final() {
                return Err(final_event());
            }
            let league = document.league;
            if entrants::of_event(conn, league, event).await?.iter().any(|entrant| entrant.member == member) {
                return Err(Refusal::conflict(Rule::AlreadyEntered, "this player is already entered"));
            }
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            let stored = StoredEntrant { league, id, event, member, place, seq, received_at: key.now };
            entrants::insert(conn, &stored).await?;
            documents::show_events_anew(conn, [(league, event)]).await?;
            let content = serde_json::to_vec(&stored.place).expect("facts are plain values with text keys");
            let (by, rows) = (Some(key.caller.account), [wrote("entrants", id)]);
            let act = Act { by, act: "create", kind: "entry", id, content: &content, rows: &rows };
            journal::append(conn, league, act, key.now).await?;
            key.keep(conn, created(format!("/api/v1/entries/{id}"), 1, &EntrantView::from(stored))).await
        })?;
        self.boards.moved(event);
        Ok(reply)
    }

    /// Takes an entry back.
    ///
    /// # Errors
    /// A player taking back somebody else's; a final event.
    pub async fn leave_event(&self, caller: Caller, id: Uuid, if_match: IfMatch) -> Result<(), Refusal> {
        let now = self.now();
        let event = change!(self, id, |conn| {
            let entrant = entrants::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let StoredEntrant { league, event, .. } = entrant;
            let (document, member) = access::document::<Event>(conn, caller, &EVENTS, event.0).await?;
            if entrant.member != member.id && !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden("players can only withdraw their own entry"));
            }
            if_match.check(1)?;
            if document.body.is_final() {
                return Err(final_event());
            }
            entrants::delete(conn, league, id).await?;
            documents::show_events_anew(conn, [(league, event)]).await?;
            let act = Act { by: Some(caller.account), act: "remove", kind: "entry", id, content: &[], rows: &[] };
            journal::append(conn, league, act, now).await?;
            Ok::<_, Refusal>(event)
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
