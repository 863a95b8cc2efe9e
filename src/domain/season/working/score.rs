//! The steps from the course handicap to the score in a competition.

use super::steps::{ALLOCATION, Given, Steps};
use crate::competition::allowance::Source;
use crate::competition::ball::{ball, given, limit_of, limits, received, shown, to_reach, unlimited};
use crate::competition::quota::{quota, usual_table};
use crate::exact::{Exact, whole};
use crate::facts::competition::{Basis, Competition, Meeting, PointsByResult, Scoring};
use crate::facts::course::Layout;
use crate::ids::CompetitionId;
use crate::season::book::{Book, Night};
use crate::season::figures::Figures;

/// A card in the competition whose result is worked out.
pub(super) struct InCompetition<'a> {
    pub(super) book: &'a Book,
    pub(super) night: &'a Night,
    pub(super) terms: &'a Competition,
    pub(super) competition: CompetitionId,
    pub(super) figures: &'a Figures,
    pub(super) layout: &'a Layout,
}

/// Adds the steps from the course handicap to what the card is worth, before it is compared with others.
pub(super) fn score(steps: &mut Steps, of: &InCompetition<'_>) {
    let InCompetition { book, night, terms, figures, layout, .. } = of;
    let strokes = given(book, night, terms, layout, figures.handicap);
    let (allowance, source) = terms.allowance();
    let rule = match source {
        Some(Source::AppendixC) => {
            "The unrounded course handicap times the usual allowance, rounded once (Rules of Handicapping, Rule 6.2 and \
             Appendix C)."
        }
        Some(Source::Custom) | None => {
            "The unrounded course handicap times the allowance of the terms, rounded once (Rules of Handicapping, Rule 6.2)."
        }
    };
    let pct = ("allowance_pct", Given::Number(whole(allowance.get())));
    match limit_of(book, night, layout) {
        None => {
            let formula = "round_half_up(course_handicap_unrounded * allowance_pct / 100)";
            steps.add("allowed_strokes", rule, formula, vec![pct], strokes.allowed);
        }
        Some(limit) => {
            let formula = "round_half_up(course_handicap_unrounded * allowance_pct / 100)";
            let unlimited = unlimited(terms, layout, figures.handicap);
            steps.add("unlimited_strokes", rule, formula, vec![pct], unlimited);
            let rule = "The season limits what a player receives, over nine holes to half of it, rounded.";
            let values = vec![("limit", limit.into())];
            steps.add("allowed_strokes", rule, "min(unlimited_strokes, limit)", values, strokes.allowed);
        }
    }
    steps.add(
        "playing_handicap",
        "Where net strokes decide, own par less the lowest par of the event's tees is added.",
        "allowed_strokes + above_lowest_par",
        vec![("above_lowest_par", (strokes.playing_handicap - strokes.allowed).into())],
        strokes.playing_handicap,
    );
    let Some(shown) = shown(book, night, terms, figures) else { return };
    if figures.gross.is_some() {
        steps.add("net", "Gross less the playing handicap.", "gross - playing_handicap", vec![], shown.net);
    }
    if shown.points.is_none() {
        return;
    }
    let indexes = || Given::from(layout.stroke_indexes().into_iter().map(i32::from).collect::<Vec<_>>());
    let pars = || Given::from(layout.pars().into_iter().map(i32::from).collect::<Vec<_>>());
    let holed = || {
        let holed = figures.card.holed(layout).into_iter().map(|strokes| strokes.map(i32::from));
        Given::from(holed.collect::<Vec<_>>())
    };
    let on_holes = received(terms, strokes, layout);
    if terms.basis == Basis::Net {
        let formula = "allocate(playing_handicap, stroke_indexes)";
        let values = vec![("stroke_indexes", indexes())];
        steps.add("strokes_received", ALLOCATION, formula, values, on_holes.clone());
    } else {
        let rule = "The gross score competes: no strokes come off.";
        let none = vec![("none", Given::from(on_holes.clone()))];
        steps.add("strokes_received", rule, "none", none, on_holes.clone());
    }
    let holes = |values: Vec<(&'static str, Given)>| {
        [("pars", pars()), ("strokes", holed())].into_iter().chain(values).collect::<Vec<_>>()
    };
    let by_result = |table: &PointsByResult| {
        let (results, points): (Vec<i32>, Vec<i32>) = table.iter().map(|(result, points)| (*result, *points)).unzip();
        vec![("results", Given::from(results)), ("points_of_results", Given::from(points))]
    };
    let table_rule =
        "The terms' points for the result of each hole against par, the fewest for a hole without a score.";
    if let Meeting::Sum { .. } = terms.meeting {
        return;
    }
    match &terms.score {
        Scoring::Points { table: None } => {
            let rule = "Stableford: par + strokes received + 2 less the score, nothing below 0 and nothing for a hole not \
                        holed out (Rules of Golf, Rule 21.1).";
            let formula = "sum(max(0, pars + strokes_received + 2 - strokes))";
            steps.add("points", rule, formula, holes(vec![]), of.score());
        }
        Scoring::Points { table: Some(table) } => {
            let formula = "sum(entry(strokes - strokes_received - pars, results, points_of_results))";
            steps.add("points", table_rule, formula, holes(by_result(table)), of.score());
        }
        Scoring::ParBogey {} => {
            let rule = "A hole is won below par, lost above it or without a score (Rules of Golf, Rule 21.3).";
            let formula = "sum(sign(pars + strokes_received - strokes))";
            steps.add("holes_won_less_lost", rule, formula, holes(vec![]), of.score());
        }
        Scoring::MaximumScore { maximum } => {
            let limits = limits(*maximum, terms, strokes, figures.course_handicap, layout);
            let limits = Given::from(limits.into_iter().map(i32::from).collect::<Vec<_>>());
            let rule = "Each hole up to its maximum, before strokes come off (Rules of Golf, Rule 21.2).";
            let formula = "sum(min(strokes, maxima) - strokes_received)";
            steps.add("limited_score", rule, formula, holes(vec![("maxima", limits)]), of.score());
        }
        Scoring::Quota { base, table } => {
            let usual = usual_table();
            let formula = "sum(entry(strokes - pars, results, points_of_results))";
            let points = of.score().map(|score| score + to_reach(terms, strokes, layout.count));
            let values = holes(by_result(table.as_ref().unwrap_or(&usual)));
            steps.add("gross_points", table_rule, formula, values, points);
            let rule = "Half the base over nine holes, less the playing handicap (from memory).";
            let base = quota(whole(*base), 0, layout.count);
            let off = if terms.basis == Basis::Net { strokes.playing_handicap } else { 0 };
            let values = vec![("base", base.into()), ("off", off.into())];
            steps.add("quota", rule, "base - off", values, to_reach(terms, strokes, layout.count));
            steps.add("points_above_quota", "Points less the quota.", "gross_points - quota", vec![], of.score());
        }
        Scoring::Strokes {} => {}
    }
}

impl InCompetition<'_> {
    fn score(&self) -> Option<Exact> {
        ball(self.book, self.night, self.terms, self.figures)?.score
    }

    /// Returns the name of the step that decides the event.
    pub(super) fn deciding(&self) -> &'static str {
        match (&self.terms.score, self.terms.basis) {
            (Scoring::Strokes {}, Basis::Gross) => "gross",
            (Scoring::Strokes {}, Basis::Net) => "net",
            (Scoring::Points { .. }, _) => "points",
            (Scoring::ParBogey {}, _) => "holes_won_less_lost",
            (Scoring::MaximumScore { .. }, _) => "limited_score",
            (Scoring::Quota { .. }, _) => "points_above_quota",
        }
    }
}
