//! Matches, fixtures, draws and schedules.

use super::handicap::{MAX_ITEMS, VALUE};
use super::holes::{MAX_HOLES, for_each_hole, nets};
use super::{Arguments, CalcError, Given, Operation};
use crate::domain::competition::fixture::{self, Pairing, Points, Stakes, WalkOver};
use crate::domain::competition::knock_out::draw;
use crate::domain::competition::match_play::{Concession, Side, hole_winners, play};
use crate::domain::competition::round_robin::{self, Round};
use crate::domain::competition::spread::{Place, spread};
use crate::domain::exact::{to_text, whole};
use serde_json::{Value, json};
use std::collections::HashSet;
use std::ops::RangeInclusive;

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "match", summary: "Result of a match from net hole scores.", run: match_op },
    Operation { name: "fixture_points", summary: "Points of both sides of a fixture.", run: fixture_points },
    Operation { name: "knock_out", summary: "First round of a knock-out by seed.", run: knock_out },
    Operation { name: "berger", summary: "Round robin by the Berger table.", run: berger },
    Operation { name: "circle", summary: "Round robin by the circle method.", run: circle },
    Operation { name: "check_round_robin", summary: "Faults of a single round robin.", run: check_round_robin },
];

/// The most holes of a match: those of the round and as many extra ones.
const MAX_PLAYED: usize = 2 * MAX_HOLES;
const MAX_MATCHES: usize = 100;
/// Points at stake are never negative.
const STAKE: RangeInclusive<i32> = 0..=*VALUE.end();
const MAX_SIDES: usize = 1024;
const TEAMS: RangeInclusive<usize> = 2..=200;
const BAYS: RangeInclusive<usize> = 1..=100;
/// The most faults that are listed; a last line counts the rest.
const MAX_FAULTS: usize = 100;

const SIDES: &[(&str, Side)] = &[("a", Side::A), ("b", Side::B)];

/// Reads the holes conceded in a match whose lists have `holes` entries.
fn conceded(arguments: &mut Arguments<'_>, holes: usize) -> Result<Vec<Concession>, CalcError> {
    let read = |given: Given<'_>| {
        given.object(|fields| {
            let hole: usize = fields.integer("hole", 1..=MAX_PLAYED)?;
            if hole > holes {
                return Err(CalcError::at("/hole", format!("must be one of the {holes} holes given")));
            }
            Ok(Concession { hole, by: fields.choice("by", SIDES)? })
        })
    };
    let found = arguments.optional("conceded", |given| given.list(0..=MAX_PLAYED, read))?.unwrap_or_default();
    let mut seen = HashSet::new();
    match found.iter().position(|concession| !seen.insert(concession.hole)) {
        None => Ok(found),
        Some(n) => Err(CalcError::at("/hole", "must not be conceded twice").under(n).under("conceded")),
    }
}

fn match_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let a = arguments.required("a", |given| nets(given, 0..=MAX_PLAYED))?;
    let b = arguments.required("b", |given| nets(given, 0..=MAX_PLAYED))?;
    let holes = arguments.integer_or("holes", 1..=MAX_HOLES, 18)?;
    for_each_hole("b", &b, a.len())?;
    let conceded = conceded(arguments, a.len())?;
    arguments.finish()?;
    let winners = hole_winners(&a, &b, &conceded);
    let played = play(&winners, holes);
    let word = |winner: &Option<Side>| match winner {
        Some(Side::A) => "won",
        Some(Side::B) => "lost",
        None => "tied",
    };
    let by_hole: Vec<Option<&str>> =
        winners.iter().enumerate().map(|(n, winner)| (n < played.holes_played).then(|| word(winner))).collect();
    let winner = played.winner.map(|side| match side {
        Side::A => "A",
        Side::B => "B",
    });
    Ok(json!({
        "winner": winner,
        "result": played.outcome.to_string(),
        "holes_played": played.holes_played,
        "lead": played.lead,
        "holes": by_hole,
    }))
}

/// Reads one match of a fixture over `holes` holes; a side that is `null` was absent.
fn pairing(fields: &mut Arguments<'_>, holes: usize) -> Result<Pairing, CalcError> {
    let side = |given: Given<'_>| {
        let scores = given.or_null(|given| nets(given, 1..=MAX_PLAYED))?;
        match scores {
            Some(scores) if scores.len() < holes => Err(CalcError::here(format!(
                "must have an entry for each of the {holes} holes, null where there is no score"
            ))),
            scores => Ok(scores),
        }
    };
    let a = fields.required("a", side)?;
    let b = fields.required("b", side)?;
    let played = a.as_ref().or(b.as_ref()).map_or(0, Vec::len);
    if let (Some(_), Some(b)) = (&a, &b) {
        for_each_hole("b", b, played)?;
    }
    let conceded = conceded(fields, played)?;
    let present = match (a, b) {
        (Some(a), Some(b)) => return Ok(Pairing::Played { a, b, conceded, given_up: None }),
        (Some(_), None) => Side::A,
        (None, Some(_)) => Side::B,
        (None, None) => return Err(CalcError::at("/b", "must not be absent where a is absent, too")),
    };
    if conceded.is_empty() {
        Ok(Pairing::WalkOver { present })
    } else {
        Err(CalcError::at("/conceded", "must be empty where a side is absent"))
    }
}

fn points(points: &Points) -> Value {
    json!({"a": to_text(points.a), "b": to_text(points.b)})
}

fn fixture_points(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let holes = arguments.integer("holes", 1..=MAX_HOLES)?;
    let matches = arguments.list("matches", 1..=MAX_MATCHES, |given| given.object(|fields| pairing(fields, holes)))?;
    let stakes = Stakes {
        per_hole: arguments.decimal("per_hole", STAKE)?,
        per_nine: whole(0),
        per_match: arguments.decimal("per_match", STAKE)?,
        per_total: arguments.decimal("per_total", STAKE)?,
        walk_over: WalkOver::default(),
    };
    arguments.finish()?;
    let found = fixture::fixture_points(&matches, holes, stakes);
    let by_match: Vec<Value> = found
        .matches
        .iter()
        .map(|end| json!({"a": to_text(end.points.a), "b": to_text(end.points.b), "result": end.ended.to_string()}))
        .collect();
    Ok(json!({
        "a": to_text(found.points.a),
        "b": to_text(found.points.b),
        "matches": by_match,
        "total": points(&found.total),
    }))
}

fn knock_out(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let sides = arguments.integer("sides", 1..=MAX_SIDES)?;
    arguments.finish()?;
    let draw = draw(sides);
    Ok(json!({"size": draw.size, "rounds": draw.rounds, "first_round": draw.first_round}))
}

fn berger(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    schedule(arguments, round_robin::berger)
}

fn circle(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    schedule(arguments, round_robin::circle)
}

fn schedule(arguments: &mut Arguments<'_>, once: fn(usize) -> Vec<Round>) -> Result<Value, CalcError> {
    let teams = arguments.integer("teams", TEAMS)?;
    let times = arguments.integer_or("times", 1..=2, 1)?;
    let bays = arguments.optional("bays", |given| given.integer(BAYS))?;
    arguments.finish()?;
    let once = once(teams);
    let rounds = if times == 2 { round_robin::twice(&once) } else { once };
    let Some(bays) = bays else { return Ok(json!({"rounds": rounds})) };
    let found = spread(&rounds, bays);
    let place = |place: &Option<Place>| place.map(|place| json!({"bay": place.bay, "slot": place.slot}));
    let places: Vec<Vec<Option<Value>>> = found.places.iter().map(|round| round.iter().map(place).collect()).collect();
    let spread = json!({"bays": found.bays_apart, "slots": found.slots_apart});
    Ok(json!({"rounds": rounds, "places": places, "spread": spread}))
}

fn check_round_robin(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let rounds: Vec<Round> = arguments.list("rounds", 0..=400, |given| {
        given.list(0..=*TEAMS.end(), |given| {
            let pair: Vec<usize> = given.list(2..=2, |given| given.integer(0..=MAX_ITEMS))?;
            Ok((pair[0], pair[1]))
        })
    })?;
    let teams = arguments.integer("teams", TEAMS)?;
    arguments.finish()?;
    let found = round_robin::check_round_robin(&rounds, teams);
    let mut faults: Vec<String> = found.iter().take(MAX_FAULTS).map(ToString::to_string).collect();
    if found.len() > MAX_FAULTS {
        faults.push(format!("and {} more", found.len() - MAX_FAULTS));
    }
    Ok(json!({"valid": found.is_empty(), "faults": faults, "rounds": rounds.len()}))
}
