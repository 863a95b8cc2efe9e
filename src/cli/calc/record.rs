//! Replaying a scoring record.

use super::handicap::{DIFFERENTIAL, GROSS, MAX_ITEMS, RATING, playing_conditions, slope};
use super::{Arguments, CalcError, Given, Operation};
use crate::domain::exact::Exact;
use crate::domain::handicap::differential::differential;
use crate::domain::handicap::exceptional::Basis;
use crate::domain::handicap::record::{ExceptionalTest, Options, Record, Score, Step};
use crate::domain::units::{HoleCount, Tenths};
use jiff::civil::Date;
use serde_json::{Value, json};

pub(super) const OPERATIONS: &[Operation] =
    &[Operation { name: "history", summary: "League index after each score of a record.", run: history }];

const BASES: &[(&str, Basis)] = &[("unrounded", Basis::Unrounded), ("rounded", Basis::Rounded)];

fn history(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let defaults = Options::default();
    let mut scores = arguments.list("scores", 0..=MAX_ITEMS, |given| given.object(score))?;
    let options = Options {
        low_window_days: arguments.integer_or("low_window_days", 0..=36_500, defaults.low_window_days)?,
        first_capped_score: arguments.integer_or("first_capped_score", 1..=MAX_ITEMS, defaults.first_capped_score)?,
        low_includes_before_20: arguments.flag_or("low_includes_before_20", defaults.low_includes_before_20)?,
        round_before_cap: arguments.flag_or("round_before_cap", defaults.round_before_cap)?,
        exceptional_basis: arguments.choice_or("exceptional_basis", BASES, defaults.exceptional_basis)?,
    };
    arguments.finish()?;
    scores.sort_by_key(|(date, _)| *date);
    let mut record = Record::new(options);
    let steps: Vec<Value> = scores
        .into_iter()
        .map(|(date, differential)| {
            entry(&record.add(Score { date, differential, test: ExceptionalTest::AgainstRecord }))
        })
        .collect();
    let adjusted: Vec<String> = record.adjusted().iter().map(Tenths::to_string).collect();
    Ok(json!({"scores": steps, "index": text(record.index()), "adjusted_differentials": adjusted}))
}

fn score(fields: &mut Arguments<'_>) -> Result<(Date, Exact), CalcError> {
    let date = fields.required("date", date)?;
    let given = fields.optional("differential", |given| given.decimal(DIFFERENTIAL))?;
    if let Some(differential) = given {
        return Ok((date, differential));
    }
    if fields.node("ags")?.is_none() {
        return Err(CalcError::at("/differential", "is required, or ags, course_rating and slope in its place"));
    }
    let gross = fields.decimal("ags", GROSS)?;
    let rating = fields.decimal("course_rating", RATING)?;
    let slope = slope(fields)?;
    let pcc = playing_conditions(fields)?;
    Ok((date, differential(gross, rating, slope, pcc, HoleCount::Eighteen)))
}

fn date(given: Given<'_>) -> Result<Date, CalcError> {
    let text = given.text(10)?;
    // A longer form with a time of day is not a date.
    let date = (text.len() == 10).then(|| text.parse().ok()).flatten();
    date.ok_or_else(|| CalcError::here("must be a date such as 2026-01-31"))
}

fn entry(step: &Step) -> Value {
    json!({
        "date": step.date.to_string(),
        "differential": step.differential.to_string(),
        "index_in_effect": text(step.index_in_effect),
        "reduction": step.reduction,
        "low_used": text(step.low_used),
        "cap": step.cap.name(),
        "index": text(step.index),
        "low_after": text(step.low_after),
    })
}

fn text(tenths: Option<Tenths>) -> Option<String> {
    tenths.map(|tenths| tenths.to_string())
}
