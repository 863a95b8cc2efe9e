//! Who plays in an event, and the cards in play.

use crate::domain::facts::{CardInPlay, Event, EventState, StartPlace};
use crate::domain::ids::{EventId, LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::refusal::final_event;
use crate::league::views::state_word;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, EVENTS};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::row::Row;
use crate::storage::row_hashes::wrote;
use crate::storage::{Conn, StorageError, leagues, rounds};
use crate::{change, sql, values};
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

/// An entrant as stored.
pub struct StoredEntrant {
    /// Its league.
    pub league: LeagueId,
    /// The number of its fact.
    pub seq: i64,
    /// What is shown of it.
    pub view: EntrantView,
}

/// Reads an entrant's row.
///
/// # Errors
/// An unreadable row.
pub fn entrant(row: &Row) -> Result<StoredEntrant, StorageError> {
    let view = EntrantView {
        id: row.get("id")?,
        event_id: row.id("event_id")?,
        member_id: row.id("member_id")?,
        place: StartPlace { slot: row.get("slot")?, bay: row.get("bay")? },
        received_at: row.parsed("entrants", "received_at")?,
    };
    Ok(StoredEntrant { league: row.id("league_id")?, seq: row.get("seq")?, view })
}

/// Reads who plays in an event, in the order in which they entered.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_event(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<Vec<EntrantView>, StorageError> {
    let rows = conn.rows(sql!("entrant_list_by_event"), values![league, event]).await?;
    rows.iter().map(|row| Ok(entrant(row)?.view)).collect()
}

/// A card in play.
pub struct StoredCard {
    /// Whose it is.
    pub member: MemberId,
    /// The number of its version.
    pub version: i64,
    /// When it last changed.
    pub updated_at: Timestamp,
    /// Its holes so far.
    pub card: CardInPlay,
}

fn card_in_play(row: &Row) -> Result<StoredCard, StorageError> {
    Ok(StoredCard {
        member: row.id("member_id")?,
        version: row.get("version")?,
        updated_at: row.parsed("cards_in_play", "updated_at")?,
        card: row.json("cards_in_play", "body")?,
    })
}

/// Reads the cards in play of an event.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn cards_in_play(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<Vec<StoredCard>, StorageError> {
    conn.rows(sql!("card_in_play_list"), values![league, event]).await?.iter().map(card_in_play).collect()
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
    /// A player entering somebody else; a member who is entered; a final event.
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
            if document.body.is_final() {
                return Err(final_event());
            }
            let league = document.league;
            if of_event(conn, league, event).await?.iter().any(|entrant| entrant.member_id == member) {
                return Err(Refusal::conflict(Rule::AlreadyEntered, "this member is entered"));
            }
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            let StartPlace { slot, bay } = &place;
            let values = values![league, id, event, member, slot.as_deref(), bay.as_deref(), seq, key.now];
            conn.run(sql!("entrant_insert"), values).await?;
            documents::show_events_anew(conn, [(league, event)]).await?;
            let content = serde_json::to_vec(&place).expect("facts are plain values with text keys");
            let (by, rows) = (Some(key.caller.account), [wrote("entrants", id)]);
            let act = Act { by, act: "create", kind: "entry", id, content: &content, rows: &rows };
            journal::append(conn, league, act, key.now).await?;
            let view = EntrantView { id, event_id: event, member_id: member, place, received_at: key.now };
            key.keep(conn, created(format!("/api/v1/entries/{id}"), 1, &view)).await
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
            let row = conn.row(sql!("entrant_get"), values![id]).await?.ok_or(Refusal::NotFound)?;
            let StoredEntrant { league, view, .. } = entrant(&row)?;
            let (document, member) = access::document::<Event>(conn, caller, &EVENTS, view.event_id.0).await?;
            if view.member_id != member.id && !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden("a player takes an own entry back only"));
            }
            if_match.check(1)?;
            if document.body.is_final() {
                return Err(final_event());
            }
            conn.run(sql!("entrant_delete"), values![league, id]).await?;
            documents::show_events_anew(conn, [(league, view.event_id)]).await?;
            let act = Act { by: Some(caller.account), act: "remove", kind: "entry", id, content: &[], rows: &[] };
            journal::append(conn, league, act, now).await?;
            Ok::<_, Refusal>(view.event_id)
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
        Ok(of_event(&mut conn, document.league, event).await?)
    }

    /// Puts the holes so far of a card in play. It is no fact: the round takes its place.
    ///
    /// # Errors
    /// A player putting somebody else's; an event that is not open; a member whose round is in; holes that do not fit.
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
            match document.body.state_at(now) {
                EventState::Open => {}
                EventState::Final => return Err(final_event()),
                state => {
                    return Err(Refusal::conflict(Rule::EventNotOpen, format!("the event {}", state_word(state))));
                }
            }
            let row = conn.row(sql!("card_in_play_get"), values![league, event, member]).await?;
            let version = row.map(|row| Ok::<_, StorageError>(card_in_play(&row)?.version)).transpose()?.unwrap_or(0);
            if_match.check(version)?;
            let book = this.books.of(conn, league).await?;
            let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
            let layout = book.book.layout(night, night.event.tee_id).ok_or(Refusal::NotFound)?;
            sound(card.faults(&layout))?;
            if rounds::is_in_event(conn, league, event, member).await? {
                return Err(Refusal::conflict(Rule::SecondRound, "this member's round is in already"));
            }
            let body = serde_json::to_string(&card).expect("a card is plain values with text keys");
            conn.run(sql!("card_in_play_put"), values![league, event, member, version + 1, now, body]).await?;
            documents::show_events_anew(conn, [(league, event)]).await?;
            Ok((CardInPlayView { event_id: event, member_id: member, updated_at: now, card }, version + 1))
        })?;
        self.boards.moved(event);
        Ok(put)
    }
}
