//! What a competition breaks beside the others of its season.

use super::competition::{Competition, Meeting};
use super::fault::Fault;
use super::season::Flight;
use crate::ids::{CompetitionId, EventId, TeamId};
use crate::rule::Rule;
use std::collections::BTreeMap;

/// Finds what a competition breaks beside the others of its season.
pub fn beside_others(
    own: CompetitionId,
    competition: &Competition,
    flights: &[Flight],
    (is_team, is_event): (impl Fn(TeamId) -> bool, impl Fn(EventId) -> bool),
    others: &BTreeMap<CompetitionId, &Competition>,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (f, flight) in competition.field.flights.iter().enumerate() {
        if !flights.iter().any(|known| known.name == *flight) {
            let at = format!("/field/flights/{f}");
            faults.push(Fault::new(at, Rule::UnknownFlight, "this season has no such flight"));
        } else if competition.field.flights[..f].contains(flight) {
            faults.push(Fault::new(format!("/field/flights/{f}"), Rule::FlightRepeated, "this flight is named twice"));
        }
    }
    for (t, team) in competition.teams.iter().flatten().enumerate() {
        if !is_team(*team) {
            faults.push(Fault::new(format!("/teams/{t}"), Rule::UnknownTeam, "this season has no such team"));
        }
    }
    for (n, counted) in competition.events.iter().flatten().enumerate() {
        for (e, _) in counted.event_ids.iter().enumerate().filter(|(_, event)| !is_event(**event)) {
            let at = format!("/events/{n}/event_ids/{e}");
            faults.push(Fault::new(at, Rule::UnknownEvent, "this season has no such event"));
        }
    }
    let started = competition.start.as_ref().map(|start| start.competition_id);
    if let Some(id) = started {
        match others.get(&id).filter(|_| id != own) {
            None => {
                let detail = "this season has no such other competition";
                faults.push(Fault::new("/start/competition_id", Rule::UnknownCompetition, detail));
            }
            Some(other) if !other.ranks_cards() => {
                let detail = "a start goes by a table of players: name a competition that ranks cards";
                faults.push(Fault::new("/start/competition_id", Rule::CompetitionMisfit, detail));
            }
            Some(_) if is_in_a_circle(own, competition, others) => {
                let detail = "the other table rests on this one: name one that does not";
                faults.push(Fault::new("/start/competition_id", Rule::CompetitionMisfit, detail));
            }
            Some(_) => {}
        }
    }
    let Meeting::Sum { of } = &competition.meeting else { return faults };
    let mut better = None;
    for (n, id) in of.iter().enumerate() {
        let at = format!("/meeting/of/{n}");
        let Some(added) = others.get(id).filter(|_| *id != own) else {
            faults.push(Fault::new(at, Rule::UnknownCompetition, "this season has no such other competition"));
            continue;
        };
        if of[..n].contains(id) {
            faults.push(Fault::new(at, Rule::RepeatedId, "each competition is added once"));
        } else if is_in_a_circle(own, competition, others) {
            let detail = "the other competition rests on this one: name one that does not";
            faults.push(Fault::new(at, Rule::CompetitionMisfit, detail));
        } else if !added.values_events() {
            let detail = "a sum adds the values of single events: name the competitions that have them";
            faults.push(Fault::new(at, Rule::CompetitionMisfit, detail));
        } else if *better.get_or_insert(added.better()) != added.better() {
            let detail = "a sum adds values that are all better when higher, or all better when lower";
            faults.push(Fault::new(at, Rule::CompetitionMisfit, detail));
        }
    }
    faults
}

/// Finds whether a season has no competition that ranks cards: what a card shows, and the season's table, go by one.
pub fn none_ranks<'a>(competitions: impl IntoIterator<Item = &'a Competition>) -> bool {
    !competitions.into_iter().any(Competition::ranks_cards)
}

/// Says whether a competition rests on itself, by way of others.
pub fn is_in_a_circle(own: CompetitionId, terms: &Competition, others: &BTreeMap<CompetitionId, &Competition>) -> bool {
    let mut ahead = terms.rests_on();
    let mut seen: Vec<CompetitionId> = Vec::new();
    while let Some(next) = ahead.pop() {
        if next == own {
            return true;
        }
        if !seen.contains(&next) {
            seen.push(next);
            ahead.extend(others.get(&next).map(|terms| terms.rests_on()).unwrap_or_default());
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;
    use uuid::Uuid;

    #[test]
    fn circles_are_found() {
        let [one, two, three] = [1, 2, 3].map(|n| CompetitionId(Uuid::from_u128(n)));
        let starts = |on: CompetitionId| -> Competition {
            let start = json!({ "competition_id": on, "table": [0] });
            serde_json::from_value(json!({ "name": "X", "start": start })).expect("terms")
        };
        let (second, third) = (starts(three), starts(one));
        let others = BTreeMap::from([(two, &second), (three, &third)]);
        assert!(is_in_a_circle(one, &starts(two), &others));
        assert!(is_in_a_circle(one, &starts(one), &others));
        let others = BTreeMap::from([(two, &second)]);
        assert!(!is_in_a_circle(one, &starts(two), &others));
    }
}
