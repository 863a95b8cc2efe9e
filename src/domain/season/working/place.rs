//! The steps from the score that decides to place and value.

use super::score::InCompetition;
use super::steps::{Given, Steps};
use crate::competition::better::Better;
use crate::competition::ranking::{Placed, par_of, part, places};
use crate::exact::{Exact, whole};
use crate::facts::Outcome;
use crate::facts::competition::{Award, Meeting};
use crate::season::figures::Figures;

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
    if terms.counts_with_others(night.id) {
        if let Some(score) = own.score() {
            steps.add("score", DECIDES, of.deciding(), vec![], score);
        }
        steps
            .notes
            .push("The event makes one result with others: its place and its value are those of all their cards.");
        return;
    }
    let weight = terms.weight_of(night.id);
    let worth = Worth {
        name: if weight == whole(1) { "value" } else { "unweighted_value" },
        value: own.value.map(|value| value / weight),
    };
    match terms.meeting {
        Meeting::Field {} => in_field(steps, of, &placed, own, worth),
        Meeting::Hole { .. } => {
            let rule = "The holes won, each for as many skins as hung on it (common practice, no source).";
            steps.add(worth.name, rule, "skins", vec![("skins", worth.value.into())], worth.value);
        }
        Meeting::Sum { .. } => {
            let rule = "The values of the competitions that are added up.";
            steps.add(worth.name, rule, "added_up", vec![("added_up", worth.value.into())], worth.value);
        }
        Meeting::Match(_) => {
            steps.notes.push("The card is compared with the opponent's in each fixture; those have the points.");
        }
        Meeting::Season {} => {
            steps.notes.push("Each hole's best over the season counts; an event has no value of its own.");
        }
    }
    if let (true, Some(value)) = (weight != whole(1), own.value) {
        let rule = "Times the weight of the event in this competition.";
        let values = vec![("weight", Given::Number(weight))];
        steps.add("value", rule, "unweighted_value * weight", values, value);
    }
}

/// What the event is worth before its weight.
#[derive(Clone, Copy)]
struct Worth {
    /// What the step is called.
    name: &'static str,
    value: Option<Exact>,
}

fn in_field(steps: &mut Steps, of: &InCompetition<'_>, placed: &[Placed<'_>], own: &Placed<'_>, worth: Worth) {
    let InCompetition { book, night, terms, figures, .. } = of;
    let (Some(score), Some(place)) = (own.score(), own.place) else {
        let rule = "A card without a result has no place.";
        match worth.value {
            Some(value) => steps.add(worth.name, rule, "0", vec![], value),
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
            steps.add(worth.name, rule, "sum(points_of_places) / count(points_of_places)", values, worth.value);
        }
        Award::ByScore {} | Award::ByPoints {} => {
            match terms.start.as_ref().and_then(|_| par_of(book, night, figures)) {
                None => steps.add(worth.name, "The score itself.", "score", vec![], worth.value),
                Some(par) => {
                    let rule = "The score to par; the table adds it to the strokes that the player starts with.";
                    steps.add(worth.name, rule, "score - par", vec![("par", Given::Number(par))], worth.value);
                }
            }
        }
    }
}
