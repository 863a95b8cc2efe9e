//! Rounds: hand in, correct, withdraw, attest.

use super::access::{self, IfMatch};
use super::books::LeagueBook;
use super::keys::{RequestKey, created};
use super::views::{RoundListed, RoundView, state_word};
use super::{Caller, Leagues, Refusal, derive, sound};
use crate::bundle::card_faults;
use crate::change;
use crate::domain::facts::{Event, EventState, Role, Round};
use crate::domain::ids::{EventId, LeagueId, RoundId, SeasonId};
use crate::domain::putting::PuttingSums;
use crate::domain::putting::baseline::Baseline;
use crate::domain::season::{CardDigest, Entry, Figures, Night, RoundState};
use crate::storage::documents::{self, EVENTS, Kept};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::StoredMember;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::{Conn, leagues, results};
use crate::{sql, values};
use jiff::Timestamp;
use sha2::{Digest, Sha256};
use std::sync::Arc;
use uuid::Uuid;

/// A round that is handed in.
pub struct HandIn {
    /// The event.
    pub event: EventId,
    /// The season that the event must be of, where the sender said one.
    pub season: Option<SeasonId>,
    /// The round; without a member it is the caller's own.
    pub round: Round,
    /// Whether the body named the member.
    pub names_member: bool,
}

impl Leagues {
    /// Hands in a round.
    ///
    /// The same round sent again answers the stored one, even after its key is forgotten and the event has closed.
    ///
    /// # Errors
    /// Not the caller's to hand in, not the event's time, a card that does not fit, a second round.
    pub async fn hand_in(&self, key: RequestKey, hand_in: HandIn) -> Result<Reply, Refusal> {
        let leagues = self.clone();
        let event = hand_in.event;
        let reply = change!(self, |conn| leagues.hand_in_now(conn, key, hand_in).await)?;
        if reply.status == 201 && !reply.is_replay {
            let _ = self.board_changes.send(event);
        }
        Ok(reply)
    }

    async fn hand_in_now(&self, conn: &mut Conn, key: RequestKey, hand_in: HandIn) -> Result<Reply, Refusal> {
        let HandIn { event, season, mut round, names_member } = hand_in;
        let context = rounds::context(conn, event, key.caller.account).await?.ok_or(Refusal::NotFound)?;
        if season.is_some_and(|season| season != context.season) {
            return Err(unknown_event());
        }
        if !names_member {
            round.member_id = context.sender;
        }
        let book = match self.books.marked(context.league, context.book_mark) {
            Some(book) => book,
            None => self.books.of(conn, context.league).await?,
        };
        if !book.book.members.contains_key(&round.member_id) {
            return Err(Refusal::fault("/member_id", "unknown-member", "this league has no such member"));
        }
        if round.member_id != context.sender && context.role == Role::Player {
            return Err(Refusal::Forbidden("a player hands in an own round only"));
        }
        if let Some(reply) = key.replay(conn).await? {
            return Ok(reply);
        }
        let known = rounds::known(conn, context.league, event, &round).await?;
        if known.was_sent {
            let reply = sent_again(conn, context.league, event, &in_order(round)).await?;
            return key.keep(conn, reply).await;
        }
        let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
        may_hand_in(night, context.role, key.now)?;
        sound(setup_faults(&book, &round))?;
        sound(card_faults(&book.book, night, &round))?;
        if known.is_in_event {
            return Err(Refusal::conflict("second-round", "this member has a round in this event already"));
        }
        let round = in_order(round);
        let (row, figures) = self.store(conn, &book, context, &round, &key, event).await?;
        let view = RoundView::of(&row, round, figures.as_ref());
        let reply = created(format!("/api/v1/rounds/{}", row.id), row.version, &view);
        key.keep(conn, reply).await
    }

    /// Stores a round that was found good, with everything that follows from it.
    async fn store(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        context: rounds::Context,
        round: &Round,
        key: &RequestKey,
        event: EventId,
    ) -> Result<(RoundRow, Option<Figures>), Refusal> {
        let (seq, content) = (context.seq + 1, content_hash_input(round));
        let declared = round.setup_id.and_then(|setup| book.setups.get(&setup));
        let row = RoundRow {
            id: RoundId(Uuid::now_v7()),
            league: book.league,
            event,
            member: round.member_id,
            setup: round.setup_id,
            client_round_id: round.client_round_id,
            first_body_hash: Sha256::digest(&content).to_vec(),
            played_on: round.played_on,
            outcome: round.outcome,
            state: RoundState::Submitted,
            declared_radius_ft: declared.and_then(|(_, setup)| setup.softening_radius_ft).map(|feet| feet.get()),
            version: 1,
            seq,
            received_at: key.now,
            version_seq: seq,
            version_at: key.now,
        };
        rounds::insert(conn, &row, round).await?;
        let before = match self.cards.of_member(book.league, &context.head, round.member_id) {
            Some(before) => before,
            None => results::of_member(conn, book.league, round.member_id).await?,
        };
        let stored = derive::with_new_round(conn, book, context.season, before, entry(&row, round)).await?;
        let figures = stored.last().and_then(|new| new.figures.clone());
        let act = Act { by: Some(key.caller.account), act: "hand_in", kind: "round", id: row.id.0, content: &content };
        let mut head = context.head.clone();
        head.follow(conn, book.league, act, key.now).await?;
        leagues::advance(conn, book.league, seq, &head).await?;
        self.cards.remember(book.league, &context.head, head, round.member_id, stored);
        Ok((row, figures))
    }

    /// Corrects a round.
    ///
    /// # Errors
    /// As [`hand_in`](Self::hand_in); a stale version; no reason from somebody else than the player.
    pub async fn correct_round(
        &self,
        caller: Caller,
        id: RoundId,
        if_match: IfMatch,
        mut round: Round,
        names_member: bool,
        reason: Option<String>,
    ) -> Result<(RoundView, i64), Refusal> {
        let leagues = self.clone();
        let now = self.now();
        let corrected = change!(self, |conn| {
            let (row, member, book) = leagues.round_for_change(conn, caller, id, now, reason.as_deref()).await?;
            if_match.check(row.version)?;
            if !names_member {
                round.member_id = row.member;
            }
            let fixed = "this is settled when the round is handed in";
            if round.member_id != row.member {
                return Err(Refusal::fault("/member_id", "settled", fixed));
            }
            if round.client_round_id != row.client_round_id {
                return Err(Refusal::fault("/client_round_id", "settled", fixed));
            }
            let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
            sound(setup_faults(&book, &round))?;
            sound(card_faults(&book.book, night, &round))?;
            let round = in_order(round);
            keep_before(conn, &row, &member, reason.as_deref()).await?;
            let seq = leagues::next_seq(conn, book.league).await?;
            let state = if row.state == RoundState::Attested { RoundState::Submitted } else { row.state };
            rounds::correct(conn, &row, &round, state, seq, now).await?;
            // The journal tells of it; a bundle carries only attestations of the card as it is now.
            conn.run(sql!("attestation_clear"), values![book.league, id]).await?;
            let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            results::set_card(conn, book.league, &entry(&row, &round)).await?;
            derive::member_and_marks(conn, &book, row.member).await?;
            documents::show_anew(conn, book.league, night.season, row.event).await?;
            journal_round(conn, &row, caller, "correct", Some(&round), now).await?;
            let figures = results::of_round(conn, id).await?;
            Ok((RoundView::of(&row, round, figures.as_ref()), row.version))
        })?;
        let _ = self.board_changes.send(corrected.0.event_id);
        Ok(corrected)
    }

    /// Withdraws a round: it stays, counts for nothing, and frees the event.
    ///
    /// # Errors
    /// As [`correct_round`](Self::correct_round).
    pub async fn withdraw_round(
        &self,
        caller: Caller,
        id: RoundId,
        if_match: IfMatch,
        reason: Option<String>,
    ) -> Result<(), Refusal> {
        let leagues = self.clone();
        let now = self.now();
        let event = change!(self, |conn| {
            let (row, member, book) = leagues.round_for_change(conn, caller, id, now, reason.as_deref()).await?;
            if_match.check(row.version)?;
            let seq = leagues::next_seq(conn, book.league).await?;
            let values = values![book.league, Uuid::now_v7(), row.id, member.id, reason.as_deref(), seq, now];
            conn.run(sql!("withdrawal_insert"), values).await?;
            rounds::set_state(conn, book.league, id, RoundState::Withdrawn).await?;
            derive::member_and_marks(conn, &book, row.member).await?;
            journal_round(conn, &row, caller, "withdraw", None, now).await?;
            Ok::<_, Refusal>(row.event)
        })?;
        let _ = self.board_changes.send(event);
        Ok(())
    }

    /// Attests another member's round.
    ///
    /// # Errors
    /// An own round; a round that is withdrawn, excluded or final.
    pub async fn attest_round(&self, caller: Caller, id: RoundId) -> Result<(RoundView, i64), Refusal> {
        let now = self.now();
        let attested = change!(self, |conn| {
            let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let member = access::member(conn, caller, row.league).await?;
            if row.member == member.id {
                return Err(Refusal::Forbidden("nobody attests an own round"));
            }
            let (event, _) = access::document::<Event>(conn, caller, &EVENTS, row.event.0).await?;
            if event.body.is_final() {
                return Err(final_event());
            }
            match row.state {
                RoundState::Attested => {}
                RoundState::Submitted => {
                    let seq = leagues::next_seq(conn, row.league).await?;
                    let values = values![row.league, Uuid::now_v7(), row.id, member.id, seq, now];
                    conn.run(sql!("attestation_insert"), values).await?;
                    rounds::set_state(conn, row.league, id, RoundState::Attested).await?;
                    let season = SeasonId(event.parent.unwrap_or_default());
                    documents::show_anew(conn, row.league, season, row.event).await?;
                    journal_round(conn, &row, caller, "attest", None, now).await?;
                }
                other => return Err(invalid_transition(other)),
            }
            let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let round = rounds::whole(conn, &row).await?;
            let figures = results::of_round(conn, id).await?;
            Ok((RoundView::of(&row, round, figures.as_ref()), row.version))
        })?;
        let _ = self.board_changes.send(attested.0.event_id);
        Ok(attested)
    }

    /// Reads a round for a change of it: the round, the caller, the league's book.
    async fn round_for_change(
        &self,
        conn: &mut Conn,
        caller: Caller,
        id: RoundId,
        now: Timestamp,
        reason: Option<&str>,
    ) -> Result<(RoundRow, StoredMember, std::sync::Arc<LeagueBook>), Refusal> {
        let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        let member = access::member(conn, caller, row.league).await?;
        let is_own = row.member == member.id;
        if !is_own && member.member.role == Role::Player {
            return Err(Refusal::Forbidden("a player changes an own round only"));
        }
        let book = self.books.of(conn, row.league).await?;
        let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
        may_change(night, &member, now)?;
        if row.state == RoundState::Withdrawn {
            return Err(invalid_transition(row.state));
        }
        if !is_own && reason.is_none_or(|reason| reason.trim().is_empty()) {
            let detail = "somebody else than the player gives a reason: ?reason=";
            return Err(Refusal::fault("/reason", "reason-missing", detail));
        }
        Ok((row, member, book))
    }

    /// Reads a round.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn round(&self, caller: Caller, id: RoundId) -> Result<(RoundView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let row = rounds::get(&mut conn, id).await?.ok_or(Refusal::NotFound)?;
        access::member(&mut conn, caller, row.league).await?;
        let round = rounds::whole(&mut conn, &row).await?;
        let figures = results::of_round(&mut conn, id).await?;
        Ok((RoundView::of(&row, round, figures.as_ref()), row.version))
    }

    /// Reads an event's rounds after an id, cards apart.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn rounds_of_event(
        &self,
        caller: Caller,
        event: EventId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<RoundListed>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let rows = rounds::of_event(&mut conn, document.league, event, after, limit).await?;
        let mut listed = Vec::with_capacity(rows.len());
        for row in rows {
            let figures = results::of_round(&mut conn, row.id).await?;
            listed.push(RoundListed::of(&row, figures.as_ref()));
        }
        Ok(listed)
    }
}

/// What is answered to an event of another season than the one that was named.
pub(super) fn unknown_event() -> Refusal {
    Refusal::fault("/event_id", "unknown-event", "this season has no such event")
}

/// Answers a round, in order, that was sent before: the stored one, if it is the same.
async fn sent_again(conn: &mut Conn, league: LeagueId, event: EventId, round: &Round) -> Result<Reply, Refusal> {
    let known = rounds::by_client_round_id(conn, league, round.member_id, round.client_round_id).await?;
    let known = &known.ok_or(Refusal::NotFound)?;
    if known.event != event || known.first_body_hash != body_hash(round) {
        let detail = "this member sent another round under this client_round_id";
        return Err(Refusal::conflict("round-exists", detail));
    }
    let round = rounds::whole(conn, known).await?;
    let figures = results::of_round(conn, known.id).await?;
    let view = RoundView::of(known, round, figures.as_ref());
    Ok(Reply { status: 200, ..created(format!("/api/v1/rounds/{}", known.id), known.version, &view) })
}

fn final_event() -> Refusal {
    Refusal::conflict("event-final", "this event is final: its results stand")
}

fn invalid_transition(state: RoundState) -> Refusal {
    Refusal::conflict("invalid-transition", format!("the round is {}", state.word()))
}

fn may_hand_in(night: &Night, role: Role, now: Timestamp) -> Result<(), Refusal> {
    let state = night.event.state_at(now);
    match (state, role) {
        (EventState::Final, _) => Err(final_event()),
        (EventState::Open, _) | (EventState::Closed, Role::Organizer | Role::Scorer) => Ok(()),
        (state, _) => Err(Refusal::conflict("event-not-open", format!("the event {}", state_word(state)))),
    }
}

fn may_change(night: &Night, caller: &StoredMember, now: Timestamp) -> Result<(), Refusal> {
    let state = night.event.state_at(now);
    match (state, caller.member.role) {
        (EventState::Final, _) => Err(final_event()),
        (_, Role::Organizer | Role::Scorer) | (EventState::Open, Role::Player) => Ok(()),
        (state, Role::Player) => Err(Refusal::conflict("event-not-open", format!("the event {}", state_word(state)))),
    }
}

fn setup_faults(book: &LeagueBook, round: &Round) -> Vec<crate::domain::facts::Fault> {
    super::setups::use_faults(book, round.member_id, round.setup_id)
}

/// Boils a stored round down for the derivation.
pub fn entry(row: &RoundRow, round: &Round) -> Entry {
    Entry {
        id: row.id,
        event: row.event,
        member: row.member,
        setup: round.setup_id,
        state: row.state,
        played_on: round.played_on,
        card: CardDigest::of(round),
        putting: Arc::new(PuttingSums::of(&round.holes, Baseline::tour())),
    }
}

async fn keep_before(conn: &mut Conn, row: &RoundRow, by: &StoredMember, reason: Option<&str>) -> Result<(), Refusal> {
    let before = rounds::whole(conn, row).await?;
    let body = serde_json::to_string(&before).expect("a round is plain values with text keys");
    let kept = Kept {
        version: row.version,
        seq: row.version_seq,
        received_at: row.version_at,
        by: Some(by.id.0),
        reason,
        body: &body,
    };
    documents::keep_version(conn, "round", row.league, row.id.0, kept).await?;
    Ok(())
}

async fn journal_round(
    conn: &mut Conn,
    row: &RoundRow,
    caller: Caller,
    act: &'static str,
    round: Option<&Round>,
    at: Timestamp,
) -> Result<(), Refusal> {
    let content = round.map(content_hash_input).unwrap_or_default();
    let act = Act { by: Some(caller.account), act, kind: "round", id: row.id.0, content: &content };
    journal::append(conn, row.league, act, at).await?;
    Ok(())
}

/// Puts a card's holes in order: faults point into the card as it was sent, everything else wants it in order.
pub(super) fn in_order(mut round: Round) -> Round {
    round.holes.sort_by_key(|hole| hole.number);
    round
}

/// Returns the bytes whose hash stands for a round in the journal.
pub fn content_hash_input(round: &Round) -> Vec<u8> {
    serde_json::to_vec(round).expect("a round is plain values with text keys")
}

/// Returns the hash that tells whether a round sent again is the same, however its JSON is laid out: of a card in order.
pub fn body_hash(round: &Round) -> [u8; 32] {
    Sha256::digest(content_hash_input(round)).into()
}
