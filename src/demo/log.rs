//! What happened once the season ran: rounds handed in, attested, withdrawn, in the order received.

use super::calendar::{self, days_after};
use super::people::{ORGANIZER, VISITOR};
use super::{Groundwork, Stream, card, draws, id, later, sent};
use crate::domain::facts::{Outcome, Round};
use crate::domain::ids::RoundId;
use crate::domain::units::{HoleCount, Strokes};
use crate::wire::bundle::ids::{OfEvent, OfRound};
use crate::wire::bundle::line::{CameIn, DeclaredRound, Line, Nothing, Received, Withdrawal};
use jiff::Timestamp;
use jiff::civil::Time;

/// The share of the rounds that somebody attests.
const ATTESTED: f64 = 0.4;

/// A card of the log: whose, from which night, which attempt.
#[derive(Clone, Copy, Debug)]
struct Card {
    night: usize,
    person: usize,
    attempt: u64,
}

/// Something that happened, before it has its number.
enum Happened {
    HandIn(Card, Round),
    Attested { card: Card, by: usize },
    Withdrawn(Card),
}

/// Tells what happened, numbered from `first_seq` by time: the rounds, then the attestations, then the withdrawals.
pub fn of(ground: &Groundwork, first_seq: i64) -> Vec<Line> {
    let mut happened: Vec<(Timestamp, Happened)> = Vec::new();
    let fields: Vec<Vec<usize>> = (0..ground.nights.len()).map(|night| field(ground, night)).collect();
    let incidents = Incidents::among(ground, &fields);
    for (night, field) in fields.iter().enumerate() {
        for person in field.iter().copied() {
            hand_in(ground, Card { night, person, attempt: 0 }, field, &incidents, &mut happened);
        }
    }
    happened.sort_by_key(|(at, _)| *at);
    let mut lines: Vec<Line> = happened
        .into_iter()
        .zip(first_seq..)
        .map(|((at, happened), seq)| line(ground, happened, Received { seq: Some(seq), received_at: Some(at) }))
        .collect();
    lines.sort_by_key(|line| match line {
        Line::Round(_) => 0,
        Line::Attestation(_) => 1,
        _ => 2,
    });
    lines
}

/// Says who hands in on a night: on the open one about half, the visitor's player not among them.
fn field(ground: &Groundwork, night: usize) -> Vec<usize> {
    let count = ground.people.len();
    if night + 1 < ground.nights.len() {
        let plays = |person: &usize| {
            let attendance = ground.people[*person].attendance;
            draws(ground.seed, Stream::Attendance, &[night as u64, *person as u64]).happens(attendance)
        };
        return (0..count).filter(plays).collect();
    }
    let mut others: Vec<usize> = (0..count).filter(|person| ![ORGANIZER, VISITOR].contains(person)).collect();
    draws(ground.seed, Stream::OpenNight, &[]).shuffle(&mut others);
    others.truncate((count / 2).saturating_sub(1));
    others.push(ORGANIZER);
    others.sort_unstable();
    others
}

/// The odd things of a season, where it is long enough to have them.
struct Incidents {
    /// Night and person of a card that was not returned whole.
    no_return: Option<(usize, usize)>,
    /// Night and person of a card that was withdrawn and handed in again.
    again: Option<(usize, usize)>,
}

impl Incidents {
    fn among(ground: &Groundwork, fields: &[Vec<usize>]) -> Self {
        let past = fields.len() - 1;
        let some_one = |night: usize, share: usize| {
            let players = fields[night].iter().copied().filter(|person| ![ORGANIZER, VISITOR].contains(person));
            let players: Vec<usize> = players.collect();
            players.get(players.len() / share).map(|person| (night, *person))
        };
        let is_long = |night: &usize| ground.nights[*night].event.holes == HoleCount::Eighteen;
        let mut long = (0..past).filter(is_long);
        Self {
            no_return: if past > 1 { long.nth(1).and_then(|night| some_one(night, 2)) } else { None },
            again: past.checked_sub(1).and_then(|night| some_one(night, 3)),
        }
    }
}

fn hand_in(
    ground: &Groundwork,
    card: Card,
    field: &[usize],
    incidents: &Incidents,
    happened: &mut Vec<(Timestamp, Happened)>,
) {
    let place = Some((card.night, card.person));
    let (mut round, day) = ground.round(card.night, card.person, card.attempt);
    let at = handed_in_at(ground, card, day);
    if incidents.no_return == place {
        card::walk_off(&mut round.holes);
        round.outcome = Outcome::NoReturn;
    }
    if incidents.again == place {
        let again = Card { attempt: 1, ..card };
        let (right, _) = ground.round(card.night, card.person, 1);
        if let Some(hole) = round.holes.get_mut(6) {
            let one_more = hole.strokes.map(|strokes| i64::from(strokes.get()) + 1);
            hole.strokes = one_more.and_then(|strokes| Strokes::new(strokes).ok());
        }
        happened.push((at, Happened::HandIn(card, round)));
        happened.push((later(at, 900), Happened::Withdrawn(card)));
        happened.push((later(at, 1200), Happened::HandIn(again, right)));
        return;
    }
    happened.push((at, Happened::HandIn(card, round)));
    let mut chance = draws(ground.seed, Stream::Attesting, &[card.night as u64, card.person as u64]);
    let others: Vec<usize> = field.iter().copied().filter(|person| *person != card.person).collect();
    if chance.happens(ATTESTED) && !others.is_empty() {
        let by = others[chance.below(others.len())];
        // never after the last evening before the present
        let wait = 300 + chance.below(7200) as i64;
        happened.push((later(at, wait), Happened::Attested { card, by }));
    }
}

/// Draws when a card came in: between four and half past nine in the evening of the day on which it was played.
fn handed_in_at(ground: &Groundwork, card: Card, day: i32) -> Timestamp {
    let date = days_after(ground.nights[card.night].date, day);
    let mut chance = draws(ground.seed, Stream::HandIn, &[card.night as u64, card.person as u64]);
    let from = calendar::instant(&calendar::zone(), date, Time::constant(16, 0, 0, 0));
    later(from, chance.below(19_800) as i64)
}

fn line(ground: &Groundwork, happened: Happened, received: Received) -> Line {
    match happened {
        Happened::HandIn(card, round) => round_line(ground, card.night, card.person, card.attempt, round, received),
        Happened::Attested { card, by } => {
            attestation_line(ground, card.night, card.person, card.attempt, by, received)
        }
        Happened::Withdrawn(card) => {
            let ids = OfRound {
                id: id(ground.seed, Stream::Withdrawal, &[card.night as u64, card.person as u64]),
                round_id: round_id(ground, card.night, card.person, card.attempt),
                member_id: Some(ground.people[card.person].id),
            };
            let reason = Some("One stroke too many on the seventh hole of the card.".to_owned());
            Line::Withdrawal(sent(ids, Withdrawal { reason }, received))
        }
    }
}

/// Writes the line of a round.
pub fn round_line(
    ground: &Groundwork,
    night: usize,
    person: usize,
    attempt: u64,
    round: Round,
    received: Received,
) -> Line {
    let ids = OfEvent { id: round_id(ground, night, person, attempt), event_id: ground.nights[night].id };
    Line::Round(Box::new(sent(ids, DeclaredRound { came_in: CameIn::default(), round }, received)))
}

/// Writes the line of an attestation.
pub fn attestation_line(
    ground: &Groundwork,
    night: usize,
    person: usize,
    attempt: u64,
    by: usize,
    received: Received,
) -> Line {
    let ids = OfRound {
        id: id(ground.seed, Stream::Attestation, &[night as u64, person as u64]),
        round_id: round_id(ground, night, person, attempt),
        member_id: Some(ground.people[by].id),
    };
    Line::Attestation(sent(ids, Nothing {}, received))
}

fn round_id(ground: &Groundwork, night: usize, person: usize, attempt: u64) -> RoundId {
    id(ground.seed, Stream::Round, &[night as u64, person as u64, attempt]).into()
}
