//! The steps from the score that decides to place and value.

use super::score::InCompetition;
use super::steps::{Given, Steps};
use crate::domain::competition::better::Better;
use crate::domain::competition::table::{Placed, part, places};
use crate::domain::exact::Exact;
use crate::domain::facts::Outcome;
use crate::domain::facts::competition::{Award, Meeting};
use crate::domain::season::figures::Figures;

const DECIDES: &str = "What decides the event.";

pub(super) fn place_and_value(steps: &mut Steps, of: &InCompetition<'_>, field: &[Figures]) {
    let InCompetition { book, night, terms, competition, figures, .. } = of;
    let placed = places(book, night, *competition, field);
    let Some(own) = placed.iter().find(|placed| placed.figures.round == figures.round) else {
        steps.notes.push("The player is not in the field of this competition.");
        return;
    };
    if night.event.is_void() {
        if let (Meeting::Field {}, Some(score)) = (&terms.meeting, own.score()) {
            steps.add("score", DECIDES, of.deciding(), vec![], score);
        }
        steps.notes.push("The event is void: it has no places and no values.");
        return;
    }
    match terms.meeting {
        Meeting::Field {} => in_field(steps, of, &placed, own),
        Meeting::Hole { .. } => {
            let rule = "The holes won, each for as many skins as hung on it (common practice, no source).";
            steps.add("value", rule, "skins", vec![("skins", own.value.into())], own.value);
        }
        Meeting::Sum { .. } => {
            let rule = "The values of the competitions that are added up.";
            steps.add("value", rule, "added_up", vec![("added_up", own.value.into())], own.value);
        }
        Meeting::Match(_) => {
            steps.notes.push("The card is compared with the opponent's in each fixture; those have the points.");
        }
        Meeting::Season {} => {
            steps.notes.push("Each hole's best over the season counts; an event has no value of its own.");
        }
    }
}

fn in_field(steps: &mut Steps, of: &InCompetition<'_>, placed: &[Placed<'_>], own: &Placed<'_>) {
    let InCompetition { terms, figures, .. } = of;
    let (Some(score), Some(place)) = (own.score(), own.place) else {
        let rule = "A card without a result has no place.";
        match own.value {
            Some(value) => steps.add("value", rule, "0", vec![], value),
            None if figures.card.outcome == Outcome::Disqualified => {
                steps.notes.push("Disqualified: not played, no value.");
            }
            None => steps.notes.push("No result: played, but without a value."),
        }
        return;
    };
    steps.add("score", DECIDES, of.deciding(), vec![], score);
    let key = |placed: &Placed<'_>| {
        let ball = placed.ball.as_ref();
        let mut key = vec![Given::from(placed.score())];
        key.extend(ball.into_iter().flat_map(|ball| ball.countback.iter().map(|figure| Given::Number(*figure))));
        Given::List(key)
    };
    let same_part =
        |other: &Placed<'_>| part(terms, other.figures.flight.as_deref()) == part(terms, figures.flight.as_deref());
    let others = placed.iter().filter(|other| same_part(other) && other.score().is_some());
    let others: Vec<Given> = others.filter(|other| other.figures.round != figures.round).map(key).collect();
    let (rule, formula) = match (terms.score.better(), terms.counts_back()) {
        (Better::Higher, false) => ("One more than the players with more.", "1 + count_above(own, others)"),
        (Better::Lower, false) => ("One more than the players with less.", "1 + count_below(own, others)"),
        (Better::Higher, true) => (
            "As without countback; level players compare the last 9, 6, 3 and 1 holes.",
            "1 + count_above(own, others)",
        ),
        (Better::Lower, true) => (
            "As without countback; level players compare the last 9, 6, 3 and 1 holes.",
            "1 + count_below(own, others)",
        ),
    };
    steps.add("place", rule, formula, vec![("own", key(own)), ("others", Given::List(others))], place as i32);
    match &terms.award {
        Award::ByPlace { table, beyond } => {
            let sharing = placed.iter().filter(|other| other.place == own.place && same_part(other)).count();
            let covered = (0..sharing).map(|n| table.get(place as usize - 1 + n).unwrap_or(beyond).0);
            let values = vec![("points_of_places", covered.collect::<Vec<Exact>>().into())];
            let rule = "The table's points for the place; level players share those of the places that they cover.";
            steps.add("value", rule, "sum(points_of_places) / count(points_of_places)", values, own.value);
        }
        Award::ByScore {} | Award::ByPoints {} => {
            steps.add("value", "The score itself.", "score", vec![], own.value);
        }
    }
}
