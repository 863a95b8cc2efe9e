//! Handing in a round.

use super::accounts::AccountRefusal;
use super::boiled::entry;
use super::books::LeagueBook;
use super::card_faults::{Dates, faults_of};
use super::kept_answers::boiled;
use super::keys::{RequestKey, created};
use super::notices::{self, About, Tells};
use super::rounds::{body_hash, content_hash_input, final_event, in_order, take_back};
use super::views::{RoundView, state_word};
use super::{Leagues, Refusal, derive, sound};
use crate::change;
use crate::domain::facts::{EventState, Role, Round};
use crate::domain::ids::{EventId, LeagueId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::{Figures, Life, Night, RoundState};
use crate::storage::idempotency::Reply;
use crate::storage::journal::Act;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row_hashes::wrote;
use crate::storage::{Conn, evidence, leagues, results};
use jiff::Timestamp;
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// A round that is handed in.
#[derive(Clone)]
pub struct HandIn {
    /// The event.
    pub event: EventId,
    /// The season that the event must be of, where the sender said one.
    pub season: Option<SeasonId>,
    /// The round; without a member it is the caller's own.
    pub round: Round,
    /// Whether the body named the member.
    pub names_member: bool,
    /// Whether the sender said that the day is right although it lies outside the event.
    pub confirms_dates: bool,
    /// The sender's session, where it is still to be seen whether it goes on.
    pub session: Option<Uuid>,
}

impl Leagues {
    /// Hands in a round.
    ///
    /// The same round sent again answers the stored one, even after its key is forgotten and the event has closed.
    ///
    /// # Errors
    /// Not the caller's to hand in, not the event's time, a card that does not fit, a second round.
    pub async fn hand_in(&self, key: RequestKey, hand_in: HandIn) -> Result<Reply, Refusal> {
        match self.hand_in_together(key, hand_in).await {
            Ok(reply) => reply,
            Err(back) => {
                let (key, hand_in) = *back;
                self.hand_in_alone(key, hand_in).await
            }
        }
    }

    /// Hands in a round by itself, whatever stands in its way.
    pub(super) async fn hand_in_alone(&self, key: RequestKey, hand_in: HandIn) -> Result<Reply, Refusal> {
        if hand_in.session.is_some() {
            self.check_session(key.caller).await.map_err(|refusal| match refusal {
                AccountRefusal::Refused(refusal) => refusal,
                _ => Refusal::SignedOut,
            })?;
        }
        let leagues = self.clone();
        let event = hand_in.event;
        let (reply, league) = change!(self, event, |conn| leagues.hand_in_now(conn, key, hand_in).await)?;
        if reply.status == 201 && !reply.is_replay {
            self.boards.moved(event);
            self.weighing.came_in(league);
        }
        Ok(reply)
    }

    async fn hand_in_now(
        &self,
        conn: &mut Conn,
        key: RequestKey,
        hand_in: HandIn,
    ) -> Result<(Reply, LeagueId), Refusal> {
        let HandIn { event, season, mut round, names_member, confirms_dates, .. } = hand_in;
        let dates = Dates { now: key.now, is_confirmed: confirms_dates, known: None };
        let mut context = rounds::context(conn, event, key.caller.account).await?.ok_or(Refusal::NotFound)?;
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
            return Err(Refusal::fault("/member_id", Rule::UnknownMember, "this league has no such member"));
        }
        if let Some(reply) = key.replay(conn).await? {
            return Ok((reply, context.league));
        }
        let known = rounds::known(conn, context.league, event, &round).await?;
        if known.was_sent {
            let reply = sent_again(conn, context.league, event, &in_order(round)).await?;
            return Ok((key.keep(conn, reply).await?, context.league));
        }
        let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
        let life = Life::new(
            round.member_id != context.sender && context.role == Role::Player,
            is_late(night, context.role, round.member_id == context.sender, key.now)?,
        );
        sound(faults_of(&book, night, &round, &dates))?;
        match known.in_event {
            // A player's own card replaces the one that somebody else proposed.
            Some((proposed, RoundState::Proposed)) if round.member_id == context.sender => {
                let row = rounds::get(conn, proposed).await?.ok_or(Refusal::NotFound)?;
                let reason = Some("the player handed in an own card");
                take_back(conn, &row, key.caller, context.sender, reason, key.now).await?;
                context = rounds::context(conn, event, key.caller.account).await?.ok_or(Refusal::NotFound)?;
            }
            Some(_) => {
                return Err(Refusal::conflict(Rule::SecondRound, "this member has a round in this event already"));
            }
            None => {}
        }
        if known.is_in_play {
            rounds::end_play(conn, book.league, event, round.member_id).await?;
        }
        let round = in_order(round);
        let (row, figures) = self.store(conn, &book, context, &round, &key, life).await?;
        let view = RoundView::of(&row, round, figures.as_ref());
        let reply = created(format!("/api/v1/rounds/{}", row.id), row.version, &view);
        key.keep(conn, boiled(&reply, &view)).await?;
        Ok((reply, book.league))
    }

    /// Stores a round that was found good, with everything that follows from it.
    async fn store(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        context: rounds::Context,
        round: &Round,
        key: &RequestKey,
        life: Life,
    ) -> Result<(RoundRow, Option<Figures>), Refusal> {
        let (seq, content) = (context.seq + 1, content_hash_input(round));
        let declared = round.setup_id.and_then(|setup| book.setups.get(&setup));
        let row = RoundRow {
            id: RoundId(Uuid::now_v7()),
            league: book.league,
            event: context.event,
            member: round.member_id,
            setup: round.setup_id,
            client_round_id: round.client_round_id,
            first_body_hash: Sha256::digest(&content).to_vec(),
            played_on: round.played_on,
            outcome: round.outcome,
            state: life.state(),
            declared_radius_ft: declared.and_then(|(_, setup)| setup.softening_radius_ft).map(|feet| feet.get()),
            version: 1,
            seq,
            received_at: key.now,
            version_seq: seq,
            version_at: key.now,
            sent_by: Some(context.sender),
            is_proposed: life.is_proposed,
            is_late: life.is_late,
            are_putts_excluded: false,
        };
        rounds::insert(conn, &row, round).await?;
        let figures = derive::with_new_round(conn, book, context.season, entry(book, &row, round)).await?;
        let (by, rows) = (Some(key.caller.account), [wrote("rounds", row.id)]);
        let act = Act { by, act: "hand_in", kind: "round", id: row.id.0, content: &content, rows: &rows };
        let mut head = context.head;
        head.follow(conn, book.league, act, key.now).await?;
        leagues::advance(conn, [(book.league, seq, head)]).await?;
        evidence::take_part(conn, evidence::field_values(book.league, context.season, row.member, row.setup)).await?;
        let about = About::round(book.league, row.id);
        match row.state {
            RoundState::Late => {
                let mut to = notices::organizers(conn, book.league).await?;
                to.push(row.member);
                notices::tell(conn, about, Tells::RoundLate, &to, context.sender, key.now).await?;
            }
            RoundState::Proposed => {
                notices::tell(conn, about, Tells::RoundProposed, &[row.member], context.sender, key.now).await?;
            }
            _ => {}
        }
        Ok((row, figures))
    }
}

/// What is answered to an event of another season than the one that was named.
pub(super) fn unknown_event() -> Refusal {
    Refusal::fault("/event_id", Rule::UnknownEvent, "this season has no such event")
}

/// Answers a round, in order, that was sent before: the stored one, if it is the same.
async fn sent_again(conn: &mut Conn, league: LeagueId, event: EventId, round: &Round) -> Result<Reply, Refusal> {
    let known = rounds::by_client_round_id(conn, league, round.member_id, round.client_round_id).await?;
    let known = &known.ok_or(Refusal::NotFound)?;
    if known.event != event || known.first_body_hash != body_hash(round) {
        let detail = "this member sent another round under this client_round_id";
        return Err(Refusal::conflict(Rule::RoundExists, detail));
    }
    let round = rounds::whole(conn, known).await?;
    let figures = results::of_round(conn, known.id).await?;
    let view = RoundView::of(known, round, figures.as_ref());
    Ok(Reply { status: 200, ..created(format!("/api/v1/rounds/{}", known.id), known.version, &view) })
}

/// Says whether a card that comes in now waits because the event has closed: a player's, and everybody's own, so that
/// nobody lets an own card in.
fn is_late(night: &Night, role: Role, is_own: bool, now: Timestamp) -> Result<bool, Refusal> {
    let state = night.event.state_at(now);
    match (state, role) {
        (EventState::Final, _) => Err(final_event()),
        (EventState::Open, _) => Ok(false),
        (EventState::Closed, role) => Ok(is_own || role == Role::Player),
        (EventState::Scheduled, _) => {
            Err(Refusal::conflict(Rule::EventNotOpen, format!("the event {}", state_word(state))))
        }
    }
}
