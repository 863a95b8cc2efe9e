//! What a competition breaks beside the others of its season.

use super::competition::{Competition, Meeting};
use super::fault::Fault;
use super::season::Flight;
use crate::domain::ids::{CompetitionId, TeamId};
use crate::domain::rule::Rule;
use std::collections::BTreeMap;

/// Finds what a competition breaks beside the others of its season.
pub fn beside_others(
    own: CompetitionId,
    competition: &Competition,
    flights: &[Flight],
    is_team: impl Fn(TeamId) -> bool,
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
        } else if !added.values_events() {
            let detail = "a sum adds the values of events: name the competitions that have them";
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
