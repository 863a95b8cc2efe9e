//! Whether what was laid down fits together: an event its season and its tees, a card its event.

use super::competition::{Competition, Meeting};
use super::counted_events::Take;
use super::course::{Hole, Layout, Tee};
use super::event::Event;
use super::fault::Fault;
use super::round::{Outcome, Round};
use super::season::Season;
use crate::competition::better::Better;
use crate::ids::{EventId, TeeId};
use crate::rule::Rule;
use crate::units::HoleNumber;
use jiff::Timestamp;
use jiff::civil::Date;

/// Finds whether an event lies outside its season: it opens on one of its days, and closes on the day after the last one
/// at the latest, as a night may run past midnight. `day` tells on which day of the league an instant falls.
pub fn day_faults(event: &Event, season: &Season, day: impl Fn(Timestamp) -> Date) -> Vec<Fault> {
    let (opens, closes) = (day(event.opens_at), day(event.closes_at));
    let (first, last) = (season.starts_on, season.ends_on);
    let mut faults = Vec::new();
    if !(first..=last).contains(&opens) {
        let detail = format!("the event opens on {opens}; this season runs from {first} to {last}");
        faults.push(Fault::new("/opens_at", Rule::OutsideSeason, detail));
    }
    let latest = last.tomorrow().unwrap_or(last);
    if closes > latest {
        let detail = format!("the event closes on {closes}; in this season it closes on {latest} at the latest");
        faults.push(Fault::new("/closes_at", Rule::OutsideSeason, detail));
    }
    faults
}

/// Finds whether the events that a competition counts play other holes, where it adds up scores over them or takes the best
/// of several: that means something only over equally many holes, and for each hole's best over the same ones.
pub fn uneven(competition: &Competition, events: &[(EventId, &Event)]) -> Option<Fault> {
    let name = &competition.name;
    let counted: Vec<(EventId, &Event)> =
        events.iter().copied().filter(|(id, _)| competition.counts_event(*id)).collect();
    if !are_of_equal_length(competition, &counted) {
        let detail =
            format!("the competition {name} compares scores over several events, so they have equally many holes");
        return Some(Fault::new("/holes", Rule::UnequalHoles, detail));
    }
    let played = |event: &Event| (event.tee_id, event.first_hole, event.tees.is_empty());
    let differs = |event: &Event| played(event) != played(counted[0].1) || !event.tees.is_empty();
    if matches!(competition.meeting, Meeting::Season {}) && counted.iter().any(|(_, event)| differs(event)) {
        let detail = format!("the competition {name} takes each hole's best, so its events play the same holes");
        return Some(Fault::new("/tee_id", Rule::UnequalHoles, detail));
    }
    None
}

fn are_of_equal_length(competition: &Competition, counted: &[(EventId, &Event)]) -> bool {
    let fewest_win = competition.score.better() == Better::Lower;
    let mut lengths: Vec<usize> = Vec::new();
    let mut done: Vec<EventId> = Vec::new();
    for (id, _) in counted {
        let Some(result) = competition.counted(*id).filter(|_| !done.contains(id)) else { continue };
        done.extend(&result.event_ids);
        let together = counted.iter().filter(|(other, _)| result.event_ids.contains(other));
        let holes: Vec<usize> = together.map(|(_, event)| event.holes.get()).collect();
        match result.take {
            Take::Sum => lengths.push(holes.iter().sum()),
            Take::Best if fewest_win && holes.iter().any(|other| *other != holes[0]) => return false,
            Take::Best => lengths.push(holes[0]),
        }
    }
    !competition.needs_equal_holes() || lengths.iter().all(|length| *length == lengths[0])
}

/// Finds the tees of an event that are unknown or cannot stage it.
pub fn tee_faults<'a>(event: &Event, tee: impl Fn(TeeId) -> Option<&'a Tee>) -> Vec<Fault> {
    let assigned = event.tees.iter().enumerate().map(|(t, tee)| (format!("/tees/{t}/tee_id"), tee.tee_id));
    let named = std::iter::once(("/tee_id".to_owned(), event.tee_id)).chain(assigned);
    let numbers = |tee: &Tee| {
        let layout = tee.layout(event.holes, event.first_hole);
        layout.map_or_else(Vec::new, |layout| layout.holes.iter().map(|hole| hole.number).collect())
    };
    let main: Vec<HoleNumber> = tee(event.tee_id).map_or_else(Vec::new, numbers);
    let fault = |(pointer, id): (String, TeeId)| match tee(id) {
        None => Some(Fault::new(pointer, Rule::UnknownTee, format!("this league has no tee {id}"))),
        Some(found) if numbers(found) != main && !main.is_empty() && !numbers(found).is_empty() => {
            let detail = format!("the tee {} numbers its holes in another way than the event's own tee", found.name);
            Some(Fault::new(pointer, Rule::TeeDoesNotFit, detail))
        }
        Some(found) if found.layout(event.holes, event.first_hole).is_none() => {
            let detail = format!(
                "the tee {} cannot stage {} holes from hole {}: it has {} holes{}",
                found.name,
                event.holes.get(),
                event.first_hole.get(),
                found.holes.len(),
                if found.holes.len() == 18 { " and no ratings for that nine" } else { "" },
            );
            Some(Fault::new(pointer, Rule::TeeDoesNotFit, detail))
        }
        Some(_) => None,
    };
    named.filter_map(fault).collect()
}

/// The terms that a card must fit.
#[derive(Clone, Copy, Debug)]
pub struct CardTerms<'a> {
    /// The holes of the event from the player's tee.
    pub layout: &'a Layout,
    /// The longest putt that may be conceded, in feet.
    pub concession_ft: f64,
}

/// Finds every way in which a card does not fit itself or its event.
pub fn card_faults(round: &Round, terms: CardTerms<'_>) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (h, hole) in round.holes.iter().enumerate() {
        let number = hole.number.get();
        if !terms.layout.holes.iter().any(|on_card| on_card.number == hole.number) {
            let (first, last) = (&terms.layout.holes[0], &terms.layout.holes[terms.layout.holes.len() - 1]);
            let detail = format!("hole {number} is not played; {} to {} are", first.number.get(), last.number.get());
            faults.push(Fault::new(format!("/holes/{h}/number"), Rule::HoleNotOnCard, detail));
        }
    }
    faults.extend(round.own_faults(terms.concession_ft));
    if round.outcome == Outcome::Complete {
        faults.extend(missing_holes(round, terms));
    }
    faults
}

/// A complete card lists every hole, as holed out, picked up or not played.
fn missing_holes(round: &Round, terms: CardTerms<'_>) -> Vec<Fault> {
    let is_given = |number: HoleNumber| round.holes.iter().any(|hole| hole.number == number);
    let missing = terms.layout.holes.iter().filter(|due| !is_given(due.number));
    let fault = |due: &Hole| {
        let detail = format!("hole {} is missing from a complete card", due.number.get());
        Fault::new("/holes", Rule::HoleMissing, detail)
    };
    missing.map(fault).collect()
}
