//! What people of the demo league do once it is served: what an organizer and a player meet in a season.

use crate::demo::DemoLeague;
use crate::domain::facts::{
    Answer, CardHole, CardInPlay, CarriedDifferential, CarriedResult, Competitor, Decision, Event, EventEntry,
    EventState, Member, Query, Role, Round,
};
use crate::domain::ids::{ClientRoundId, EventId, MemberId, RoundId};
use crate::domain::rule::Rule;
use crate::domain::units::{Strokes, Tenths};
use crate::league::access::IfMatch;
use crate::league::keys::RequestKey;
use crate::league::round::request::HandIn;
use crate::league::round::rule::Ruling;
use crate::league::{Caller, Leagues, Refusal};
use crate::wire::bundle::line::Line;
use serde::Deserialize;
use uuid::Uuid;

/// A round of the league with its ids.
struct Card<'a> {
    id: RoundId,
    event: EventId,
    round: &'a Round,
}

fn cards<'a>(demo: &'a DemoLeague) -> Vec<Card<'a>> {
    let card = |line: &'a Line| match line {
        Line::Round(line) => Some(Card { id: line.ids.id, event: line.ids.event_id, round: &line.body.round }),
        _ => None,
    };
    demo.lines.iter().filter_map(card).collect()
}

pub(super) fn events(demo: &DemoLeague) -> Vec<EventId> {
    let event = |line: &Line| if let Line::Event(line) = line { Some(line.ids.id) } else { None };
    demo.lines.iter().filter_map(event).collect()
}

#[derive(Deserialize)]
struct Made {
    id: Uuid,
}

pub(super) fn made(reply: &crate::storage::idempotency::Reply) -> anyhow::Result<Uuid> {
    Ok(serde_json::from_str::<Made>(&reply.body)?.id)
}

/// Lets people act: a member who brings figures along, cards for others and late ones, a ruling, a query, entries.
///
/// # Errors
/// A refusal: the demo league is made so that there is none.
pub async fn act(leagues: &Leagues, demo: &DemoLeague, player: Caller, organizer: Caller) -> anyhow::Result<()> {
    let key = |caller: Caller| RequestKey::none(caller, leagues.now());
    let (cards, events) = (cards(demo), events(demo));
    let first = *events.first().unwrap_or(&demo.open_event);

    // Somebody joins in mid-season with a record from elsewhere, and without an account.
    let member = Member {
        display_name: "Pernille Gantry".to_owned(),
        role: Role::Player,
        flight: None,
        starting_handicap: None,
        guest: false,
        earlier_starts: Vec::new(),
    };
    let guest = MemberId(made(&leagues.create_member(key(organizer), demo.league, member).await?)?);
    for (date, tenths) in [("2025-11-04", 141), ("2025-11-18", 127), ("2025-12-02", 152)] {
        let source = "the autumn table of the Cellar Steps group".to_owned();
        let carried = CarriedDifferential { played_on: date.parse()?, differential: Tenths(tenths), source };
        leagues.carry_differential(key(organizer), guest, carried).await?;
    }
    let carried = CarriedResult {
        competitor: Competitor::Member { member_id: guest },
        competition_id: None,
        label: "Autumn".to_owned(),
        value: 18.0,
        source: "agreed by the members when the season began".to_owned(),
    };
    leagues.carry_result(key(organizer), demo.season, carried).await?;

    // The player hands in for her: on a night that has closed, so the card waits for the organizer.
    let last = events.len().checked_sub(2).map(|place| events[place]).filter(|event| *event != first);
    if let Some(card) = last.and_then(|last| cards.iter().find(|card| card.event == last)) {
        let mut round = card.round.clone();
        (round.member_id, round.setup_id) = (guest, None);
        round.client_round_id = ClientRoundId(Uuid::now_v7());
        let hand_in =
            HandIn { event: card.event, season: None, round, names_member: true, confirms_dates: true, session: None };
        leagues.hand_in(key(player), hand_in).await?;
    }

    // A slip on a night whose results stand, mended by ruling.
    let slip = cards.iter().find(|card| {
        card.event == first
            && ![demo.organizer, demo.player].contains(&card.round.member_id)
            && card.round.holes.len() > 4
    });
    if let Some(card) = slip.filter(|_| events.len() > 1) {
        leagues.change_event(organizer, first, IfMatch::Any, finished).await?;
        let mut mended = card.round.clone();
        let one_more = mended.holes[4].strokes.map(|strokes| Strokes::new(i64::from(strokes.get()) + 1));
        if let Some(Ok(strokes)) = one_more {
            mended.holes[4].strokes = Some(strokes);
            let reason = "The chip on the fifth hole was not on the card.".to_owned();
            let ruling = Ruling { decision: Decision::Correct, round: Some(mended), reason };
            leagues.rule_on_round(key(organizer), card.id, ruling).await?;
        }
        let text = "Was the fifth not a stroke more? We were two in the bay.".to_owned();
        let asked = Query { pointer: Some("/holes/4/strokes".to_owned()), text };
        let asked = made(&leagues.ask(key(player), card.id, asked).await?)?;
        let text = "Yes: the chip was missing. It is mended by ruling.".to_owned();
        leagues.answer(key(organizer), asked, Answer { text }).await?;
    }

    // Tonight: who plays where, and a card in play.
    for (member, bay) in [(demo.player, "2"), (guest, "3")] {
        let (slot, bay) = (Some("20:00".to_owned()), Some(bay.to_owned()));
        let entry = EventEntry { slot, bay, ..EventEntry::default() };
        leagues.enter(key(organizer), demo.open_event, Some(member), entry).await?;
    }
    let so_far = demo.next_round.holes.iter().take(4);
    let holes = so_far.map(|hole| CardHole { putts: None, ..hole.clone() }).collect();
    leagues.put_card_in_play(player, demo.open_event, None, IfMatch::Any, CardInPlay { holes }).await?;
    Ok(())
}

fn finished(before: &str) -> Result<Event, Refusal> {
    let unreadable = |error: serde_json::Error| Refusal::fault("", Rule::Validation, error.to_string());
    let event: Event = serde_json::from_str(before).map_err(unreadable)?;
    Ok(Event { state: Some(EventState::Final), ..event })
}
