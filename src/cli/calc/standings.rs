//! Shared points, best results and fixtures.

use super::handicap::{MAX_ITEMS, VALUE};
use super::{Arguments, CalcError, Operation};
use crate::domain::competition::Better;
use crate::domain::competition::best_of::best_of;
use crate::domain::competition::places::{rank_by, share_points};
use crate::domain::competition::round_robin::{self, Round};
use crate::domain::exact::{Exact, to_text};
use serde_json::{Map, Value, json};
use std::ops::RangeInclusive;

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "share_points", summary: "Points by place, shared between tied players.", run: share_points_op },
    Operation { name: "best_of", summary: "Sum of the best results.", run: best_of_op },
    Operation { name: "berger", summary: "Round robin by the Berger table.", run: berger },
    Operation { name: "circle", summary: "Round robin by the circle method.", run: circle },
    Operation { name: "check_round_robin", summary: "Faults of a single round robin.", run: check_round_robin },
];

const TEAMS: RangeInclusive<usize> = 2..=200;
/// The most faults that are listed; a last line counts the rest.
const MAX_FAULTS: usize = 100;

fn better(arguments: &mut Arguments<'_>, name: &str, is_named: Better) -> Result<Better, CalcError> {
    Ok(match (arguments.flag_or(name, true)?, is_named) {
        (true, named) => named,
        (false, Better::Higher) => Better::Lower,
        (false, Better::Lower) => Better::Higher,
    })
}

fn share_points_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let table = arguments.list("table", 0..=MAX_ITEMS, |given| given.decimal(VALUE))?;
    let results = arguments.required("results", |given| given.named(0..=MAX_ITEMS, |given| given.decimal(VALUE)))?;
    let better = better(arguments, "lower_is_better", Better::Lower)?;
    arguments.finish()?;
    let values: Vec<Exact> = results.iter().map(|(_, value)| *value).collect();
    let mut places = vec![0; values.len()];
    for placed in rank_by(&values, |a, b| better.compare(a, b)) {
        places[placed.item] = placed.place;
    }
    let points = share_points(&table, &places);
    let named: Map<String, Value> =
        results.iter().zip(points).map(|((name, _), points)| ((*name).into(), to_text(points).into())).collect();
    Ok(json!({"points": named}))
}

fn best_of_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let values = arguments.list("values", 0..=MAX_ITEMS, |given| given.or_null(|given| given.decimal(VALUE)))?;
    let count = arguments.integer("count", 1..=MAX_ITEMS)?;
    let minimum = arguments.integer_or("minimum", 0..=MAX_ITEMS, 0)?;
    let better = better(arguments, "higher_is_better", Better::Higher)?;
    arguments.finish()?;
    let best = best_of(&values, count, minimum, better);
    Ok(json!({"total": to_text(best.total), "counted": best.counted.len(), "eligible": best.is_eligible}))
}

fn berger(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let teams = arguments.integer("teams", TEAMS)?;
    arguments.finish()?;
    Ok(json!({"rounds": round_robin::berger(teams)}))
}

fn circle(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let teams = arguments.integer("teams", TEAMS)?;
    arguments.finish()?;
    Ok(json!({"rounds": round_robin::circle(teams)}))
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
