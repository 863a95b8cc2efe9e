//! The steps from the score that decides to place and value.

use super::steps::{Given, Steps};
use crate::domain::competition::table::{Placed, places};
use crate::domain::exact::{Exact, whole};
use crate::domain::facts::season::EventTies;
use crate::domain::facts::{Award, Outcome, Scoring};
use crate::domain::season::book::Terms;
use crate::domain::season::figures::Figures;

pub(super) fn place_and_value(steps: &mut Steps, terms: &Terms<'_>, field: &[Figures], figures: &Figures) {
    let placed = places(field, terms);
    let Some(own) = placed.iter().find(|placed| placed.figures.round == figures.round) else { return };
    let (Some(score), Some(place)) = (figures.score, own.place) else {
        let rule = "A card without a result has no place.";
        match own.value {
            Some(value) => steps.add("value", rule, "0", vec![], value),
            None if figures.outcome == Outcome::Disqualified => steps.notes.push("Disqualified: not played, no value."),
            None => steps.notes.push("No result: played, but without a value."),
        }
        return;
    };
    let name = match terms.scoring {
        Scoring::Gross => "gross",
        Scoring::Net => "net",
        Scoring::Points => "points",
    };
    steps.add("score", "What decides the event.", name, vec![], score);
    let breaks_ties = matches!(terms.award, Award::ByPlace { .. }) && terms.event_ties == EventTies::Countback;
    let key = |round: &Figures| {
        let mut key = vec![Given::from(round.score)];
        if breaks_ties {
            key.extend(round.countback.iter().map(|figure| Given::Number(whole(*figure))));
        }
        Given::List(key)
    };
    let in_field = |other: &&Figures| other.flight == figures.flight && other.score.is_some();
    let others = field.iter().filter(in_field).filter(|other| other.round != figures.round);
    let (rule, formula) = match (terms.scoring.higher_wins(), breaks_ties) {
        (true, false) => ("One more than the players of the flight with more.", "1 + count_above(own, others)"),
        (false, false) => ("One more than the players of the flight with less.", "1 + count_below(own, others)"),
        (true, true) => (
            "As without countback; level players compare the last 9, 6, 3 and 1 holes.",
            "1 + count_above(own, others)",
        ),
        (false, true) => (
            "As without countback; level players compare the last 9, 6, 3 and 1 holes.",
            "1 + count_below(own, others)",
        ),
    };
    let others = others.map(key).collect();
    steps.add("place", rule, formula, vec![("own", key(figures)), ("others", Given::List(others))], place as i32);
    match terms.award {
        Award::ByPlace { table } => {
            let same = |other: &&Placed<'_>| other.place == own.place && other.figures.flight == figures.flight;
            let sharing = placed.iter().filter(same).count();
            let covered =
                (0..sharing).map(|n| table.get(place as usize - 1 + n).map_or(whole(0), |points| whole(*points)));
            let values = vec![("points_of_places", covered.collect::<Vec<Exact>>().into())];
            let rule = "The table's points for the place; level players share those of the places that they cover.";
            steps.add("value", rule, "sum(points_of_places) / count(points_of_places)", values, own.value);
        }
        Award::ByScore {} => steps.add("value", "The score itself.", "score", vec![], own.value),
    }
}
