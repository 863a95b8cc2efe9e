//! Strokes on the holes, adjusted scores, points and countback.

use super::handicap::HANDICAP;
use super::holes::{Holes, MAX_HOLES, STROKES, for_each_hole, pars, received, scores, stroke_indexes};
use super::{Arguments, CalcError, Operation};
use crate::domain::competition::places::rank_by;
use crate::domain::exact::{Exact, to_text};
use crate::domain::scoring::countback::{Card, Countback, Method, usual_segments};
use crate::domain::scoring::hole_limit::{adjusted_strokes, hole_limit};
use crate::domain::scoring::strokes_received::strokes_received;
use crate::domain::scoring::{maximum_score, par_bogey, points};
use serde_json::{Map, Value, json};
use std::collections::HashSet;

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "strokes", summary: "Handicap strokes received on each hole.", run: strokes },
    Operation { name: "hole_limits", summary: "Highest hole scores that count for the index.", run: hole_limits },
    Operation { name: "adjusted_gross", summary: "Adjusted gross score.", run: adjusted_gross },
    Operation { name: "stableford", summary: "Stableford points.", run: stableford },
    Operation { name: "maximum_score", summary: "Maximum score result.", run: maximum_score_op },
    Operation { name: "par_bogey", summary: "Result against par, hole by hole.", run: par_bogey_op },
    Operation { name: "countback", summary: "Ranking by total and then the last holes.", run: countback },
];

fn total(holes: &[i32]) -> i32 {
    holes.iter().sum()
}

fn strokes(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let handicap = arguments.integer("handicap", HANDICAP)?;
    let indexes = arguments.required("stroke_indexes", stroke_indexes)?;
    arguments.finish()?;
    Ok(json!({"strokes": strokes_received(handicap, &indexes)}))
}

fn hole_limits(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let holes = Holes::read(arguments, "course_handicap")?;
    let established = arguments.flag_or("established", true)?;
    arguments.finish()?;
    let limits: Vec<i32> = holes.targets()?.map(|(par, received)| hole_limit(par, received, established)).collect();
    Ok(json!({"limits": limits}))
}

fn adjusted_gross(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let scores = arguments.required("scores", scores)?;
    let holes = Holes::read(arguments, "course_handicap")?;
    let established = arguments.flag_or("established", true)?;
    arguments.finish()?;
    let adjusted = holes.score(&scores, |par, received, score| adjusted_strokes(score, par, received, established))?;
    Ok(json!({"holes": adjusted, "total": total(&adjusted)}))
}

fn stableford(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let scores = arguments.required("scores", scores)?;
    let holes = Holes::read(arguments, "playing_handicap")?;
    arguments.finish()?;
    let points = holes.score(&scores, points::points)?;
    Ok(json!({"points": points, "total": total(&points)}))
}

fn maximum_score_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let scores = arguments.required("scores", scores)?;
    let maxima = arguments.list("maxima", 1..=MAX_HOLES, |given| given.integer(STROKES))?;
    arguments.finish()?;
    for_each_hole("maxima", &maxima, scores.len())?;
    let capped: Vec<i32> =
        scores.iter().zip(&maxima).map(|(score, maximum)| maximum_score::capped(*score, *maximum).into()).collect();
    Ok(json!({"holes": capped, "total": total(&capped)}))
}

fn par_bogey_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let scores = arguments.required("scores", scores)?;
    let holes = Holes::read(arguments, "playing_handicap")?;
    arguments.finish()?;
    let results = holes.score(&scores, par_bogey::hole_result)?;
    Ok(json!({"holes": results, "total": total(&results)}))
}

/// The ways to compare; `net_fraction` becomes rounded by its own argument.
const METHODS: &[(&str, Method)] = &[
    ("gross", Method::Gross),
    ("net_fraction", Method::NetFraction { rounded: false }),
    ("net_allocated", Method::NetAllocated),
    ("stableford", Method::Points),
];

struct Player<'n> {
    id: &'n str,
    scores: Vec<Option<u8>>,
    handicap: i32,
    pars: Option<Vec<u8>>,
    stroke_indexes: Option<Vec<u8>>,
}

impl<'n> Player<'n> {
    fn read(fields: &mut Arguments<'n>) -> Result<Self, CalcError> {
        Ok(Self {
            id: fields.required("id", |given| given.text(100))?,
            scores: fields.required("scores", scores)?,
            handicap: fields.integer_or("handicap", HANDICAP, 0)?,
            pars: fields.optional("pars", pars)?,
            stroke_indexes: fields.optional("stroke_indexes", stroke_indexes)?,
        })
    }

    fn key(&self, rule: &Countback, holes: usize) -> Result<Vec<Exact>, CalcError> {
        for_each_hole("scores", &self.scores, holes)?;
        let pars = self.pars.as_deref().unwrap_or_default();
        if rule.method == Method::Points || !pars.is_empty() {
            for_each_hole("pars", pars, holes)?;
        }
        let any_order: Vec<u8> = (1..).take(holes).collect();
        let allocates = matches!(rule.method, Method::NetAllocated | Method::Points);
        if allocates || self.stroke_indexes.is_some() {
            received(self.handicap, self.stroke_indexes.as_deref(), holes)?;
        }
        // Without indexes there are no strokes to allocate, so any order will do.
        let stroke_indexes = self.stroke_indexes.as_deref().unwrap_or(&any_order);
        let card = Card { strokes: &self.scores, pars, stroke_indexes, handicap: self.handicap };
        let missing = self.scores.iter().position(Option::is_none).unwrap_or_default();
        rule.key(&card).ok_or_else(|| {
            CalcError::here("is required: strokes have no total without it").under(missing).under("scores")
        })
    }
}

fn countback(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let players = arguments.list("players", 1..=200, |given| given.object(Player::read))?;
    let method = arguments.choice_or("method", METHODS, Method::NetFraction { rounded: false })?;
    let segments =
        arguments.optional("segments", |given| given.list(0..=MAX_HOLES, |given| given.integer(1..=MAX_HOLES)))?;
    let hole_by_hole = arguments.flag_or("hole_by_hole", false)?;
    let rounded = arguments.flag_or("round_fraction", false)?;
    arguments.finish()?;

    let holes = players.first().map_or(0, |player| player.scores.len());
    let method = if matches!(method, Method::NetFraction { .. }) { Method::NetFraction { rounded } } else { method };
    let segments = segments.unwrap_or_else(|| usual_segments(holes));
    if let Some(n) = segments.iter().position(|&last| last > holes) {
        return Err(CalcError::here(format!("must be at most the {holes} holes of the cards"))
            .under(n)
            .under("segments"));
    }
    let rule = Countback { method, segments, hole_by_hole };
    let mut ids = HashSet::new();
    let mut keys = Vec::with_capacity(players.len());
    for (n, player) in players.iter().enumerate() {
        if !ids.insert(player.id) {
            return Err(CalcError::at("/id", "must not be the id of another player").under(n).under("players"));
        }
        keys.push(player.key(&rule, holes).map_err(|error| error.under(n).under("players"))?);
    }

    let ranked = rank_by(&keys, |a, b| rule.compare(a, b));
    let order: Vec<&str> = ranked.iter().map(|placed| players[placed.item].id).collect();
    let positions: Map<String, Value> =
        ranked.iter().map(|placed| (players[placed.item].id.into(), placed.place.into())).collect();
    let values: Map<String, Value> = players
        .iter()
        .zip(&keys)
        .map(|(player, key)| (player.id.into(), key.iter().map(|value| to_text(*value)).collect()))
        .collect();
    Ok(json!({"order": order, "positions": positions, "values": values}))
}
