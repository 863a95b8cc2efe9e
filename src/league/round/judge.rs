//! What becomes of a card that comes in. Every way in asks this one judge: it knows no database and no clock.

use crate::domain::facts::{EventState, Role, Round};
use crate::domain::ids::{EventId, LeagueId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::{Life, Night, RoundState};
use crate::domain::units::Feet;
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::{final_event, void_event};
use crate::league::round::card_faults::{Dates, faults_of};
use crate::league::round::content::{body_hash, in_order};
use crate::league::round::request::HandIn;
use crate::league::views::state_word;
use crate::league::{Refusal, sound};
use crate::storage::rounds::RoundRow;
use crate::storage::together::{Known, Sender};
use crate::wire::bundle::line::CameIn;
use jiff::Timestamp;

/// What becomes of a card.
#[derive(Debug)]
pub enum Verdict {
    /// It is stored.
    Admit(Box<Admission>),
    /// The request was answered before: its answer is given again.
    Replay,
    /// The member sent a round under this `client_round_id` before: that one is the answer, if it is the same.
    SentBefore,
    /// It is stored once this proposed round of the member, which it replaces, is taken back.
    Replace(RoundId),
}

/// A card that is let in.
#[derive(Clone, Debug)]
pub struct Admission {
    pub league: LeagueId,
    pub season: SeasonId,
    pub event: EventId,
    /// The card, holes in order.
    pub round: Round,
    pub came_in: CameIn,
    /// The hash of the card as it first came in.
    pub first_hash: [u8; 32],
    pub received_at: Timestamp,
}

impl Admission {
    /// The one place where a round's row is made.
    pub fn row(&self, id: RoundId, version: i64, seq: i64) -> RoundRow {
        let Admission { league, event, ref round, came_in, first_hash, received_at, .. } = *self;
        RoundRow {
            id,
            league,
            event,
            member: round.member_id,
            setup: round.setup_id,
            client_round_id: round.client_round_id,
            first_body_hash: first_hash.to_vec(),
            played_on: round.played_on,
            outcome: round.outcome,
            state: Life::new(came_in.proposed, came_in.late).state(),
            declared_radius_ft: came_in.declared_radius_ft.map(Feet::get),
            version,
            seq,
            received_at,
            version_seq: seq,
            version_at: received_at,
            sent_by: came_in.sent_by,
            is_proposed: came_in.proposed,
            is_late: came_in.late,
            are_putts_excluded: false,
        }
    }
}

/// Judges a card that comes in now. What was answered before is answered the same, whatever has happened since: only after
/// that does it matter what state the event is in and whether the card fits.
///
/// # Errors
/// Why nothing of it is stored.
pub fn judge(
    book: &LeagueBook,
    night: &Night,
    sender: Sender,
    known: &Known,
    sent: &HandIn,
    now: Timestamp,
) -> Result<Verdict, Refusal> {
    let round = &sent.round;
    if sent.season.is_some_and(|season| season != night.season) {
        return Err(unknown_event());
    }
    if !book.book.members.contains_key(&round.member_id) {
        return Err(Refusal::fault("/member_id", Rule::UnknownMember, "this league has no such member"));
    }
    if known.is_answered {
        return Ok(Verdict::Replay);
    }
    if known.was_sent {
        return Ok(Verdict::SentBefore);
    }
    let is_own = round.member_id == sender.member;
    let late = is_late(night, sender.role, is_own, now)?;
    sound(faults_of(book, night, round, &Dates { now, is_confirmed: sent.confirms_dates, known: None }))?;
    match known.in_event {
        // A player's own card replaces the one that somebody else proposed.
        Some((proposed, RoundState::Proposed)) if is_own => return Ok(Verdict::Replace(proposed)),
        Some(_) => {
            return Err(Refusal::conflict(
                Rule::SecondRound,
                "this player has already handed in a card for this event",
            ));
        }
        None => {}
    }
    let declared = round.setup_id.and_then(|setup| book.setups.get(&setup));
    let round = in_order(round.clone());
    Ok(Verdict::Admit(Box::new(Admission {
        league: book.league,
        season: night.season,
        event: night.id,
        first_hash: body_hash(&round),
        came_in: CameIn {
            declared_radius_ft: declared.and_then(|(_, setup)| setup.softening_radius_ft),
            sent_by: Some(sender.member),
            proposed: !is_own && sender.role == Role::Player,
            late,
        },
        received_at: now,
        round,
    })))
}

/// What is answered to an event of another season than the one that was named.
pub(in crate::league) fn unknown_event() -> Refusal {
    Refusal::fault("/event_id", Rule::UnknownEvent, "this season has no such event")
}

/// Says whether a card that comes in now waits because the event has closed: a player's, and everybody's own, so that
/// nobody lets an own card in.
fn is_late(night: &Night, role: Role, is_own: bool, now: Timestamp) -> Result<bool, Refusal> {
    if night.event.is_void() {
        return Err(void_event("cards"));
    }
    match night.event.state_at(now) {
        EventState::Final => Err(final_event()),
        EventState::Open => Ok(false),
        EventState::Closed => Ok(is_own || role == Role::Player),
        state @ EventState::Scheduled => {
            Err(Refusal::conflict(Rule::EventNotOpen, format!("the event {}", state_word(state))))
        }
    }
}
