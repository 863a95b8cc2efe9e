//! Shared points, totals of a season, promotion.

use super::handicap::{MAX_ITEMS, VALUE};
use super::{Arguments, CalcError, Operation};
use crate::domain::competition::better::Better;
use crate::domain::competition::places::{rank_by, share_points};
use crate::domain::competition::promotion::promote;
use crate::domain::competition::season_total::{self, Adjust, Counting, EventValue, count_best};
use crate::domain::exact::{Exact, to_text, whole};
use serde_json::{Map, Value, json};
use std::collections::HashSet;
use std::ops::RangeInclusive;

const WEIGHT: RangeInclusive<i32> = 0..=1000;
const MAX_FLIGHTS: usize = 100;
/// The most characters of an id.
const MAX_ID: usize = 100;

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "share_points", summary: "Points by place, shared between tied players.", run: share_points_op },
    Operation {
        name: "season_total",
        summary: "Sum of the best weighted results, with adjustments.",
        run: season_total_op,
    },
    Operation { name: "promotion", summary: "Flights after promotion and relegation.", run: promotion },
    Operation { name: "best_of", summary: "Sum of the best results.", run: best_of_op },
];

/// Reads `higher_is_better`.
pub(super) fn better(arguments: &mut Arguments<'_>, otherwise: Better) -> Result<Better, CalcError> {
    let higher = arguments.flag_or("higher_is_better", otherwise == Better::Higher)?;
    Ok(if higher { Better::Higher } else { Better::Lower })
}

fn share_points_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let table = arguments.list("table", 0..=MAX_ITEMS, |given| given.decimal(VALUE))?;
    let results = arguments.required("results", |given| given.named(0..=MAX_ITEMS, |given| given.decimal(VALUE)))?;
    let better = if arguments.flag_or("lower_is_better", true)? { Better::Lower } else { Better::Higher };
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
    let better = better(arguments, Better::Higher)?;
    arguments.finish()?;
    let best = count_best(&values, Counting { best: Some(count), drop_worst: 0 }, better);
    let appearances = values.iter().flatten().count();
    Ok(json!({"total": to_text(best.total), "counted": best.counted.len(), "eligible": appearances >= minimum}))
}

fn event_value(fields: &mut Arguments<'_>) -> Result<EventValue, CalcError> {
    Ok(EventValue {
        value: fields.required("value", |given| given.or_null(|given| given.decimal(VALUE)))?,
        weight: fields.optional("weight", |given| given.decimal(WEIGHT))?.unwrap_or_else(|| whole(1)),
    })
}

fn season_total_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let values = arguments.list("values", 0..=MAX_ITEMS, |given| given.object(event_value))?;
    let best = arguments.optional("best", |given| given.integer(1..=MAX_ITEMS))?;
    let drop_worst = arguments.integer_or("drop_worst", 0..=MAX_ITEMS, 0)?;
    let adjustments: Vec<Exact> = arguments
        .optional("adjustments", |given| given.list(0..=MAX_ITEMS, |given| given.decimal(VALUE)))?
        .unwrap_or_default();
    let adjust =
        arguments.choice_or("adjust", &[("after", Adjust::After), ("before", Adjust::Before)], Adjust::After)?;
    let better = better(arguments, Better::Higher)?;
    arguments.finish()?;
    let counting = Counting { best, drop_worst };
    let (total, counted) = season_total::season_total(&values, (&adjustments, adjust), counting, better);
    Ok(json!({"total": to_text(total), "counted": counted}))
}

fn promotion(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let flights: Vec<Vec<&str>> =
        arguments.list("flights", 1..=MAX_FLIGHTS, |given| given.list(0..=MAX_ITEMS, |given| given.text(MAX_ID)))?;
    let count = arguments.integer("count", 0..=MAX_ITEMS)?;
    arguments.finish()?;
    let mut seen = HashSet::new();
    for (n, flight) in flights.iter().enumerate() {
        if let Some(twice) = flight.iter().position(|id| !seen.insert(*id)) {
            return Err(CalcError::here("must not be in a flight twice").under(twice).under(n).under("flights"));
        }
    }
    Ok(json!({"flights": promote(&flights, count)}))
}
