//! Lists with an entry for each hole.

use super::handicap::HANDICAP;
use super::{Arguments, CalcError, Given};
use crate::domain::exact::{Exact, to_text, to_whole};
use crate::domain::scoring::strokes_received::strokes_received;
use serde_json::{Value, json};
use std::collections::HashSet;
use std::ops::RangeInclusive;

pub(super) const MAX_HOLES: usize = 36;
pub(super) const STROKES: RangeInclusive<u8> = 1..=99;

pub(super) fn scores(given: Given<'_>) -> Result<Vec<Option<u8>>, CalcError> {
    given.list(1..=MAX_HOLES, |given| given.or_null(|given| given.integer(STROKES)))
}

pub(super) fn pars(given: Given<'_>) -> Result<Vec<u8>, CalcError> {
    given.list(1..=MAX_HOLES, |given| given.integer(1..=10))
}

pub(super) fn stroke_indexes(given: Given<'_>) -> Result<Vec<u8>, CalcError> {
    let indexes: Vec<u8> = given.list(1..=MAX_HOLES, |given| given.integer(1..=36))?;
    let mut seen = HashSet::new();
    match indexes.iter().position(|index| !seen.insert(*index)) {
        None => Ok(indexes),
        Some(hole) => Err(CalcError::here("must not be the index of another hole").under(hole)),
    }
}

/// Checks that an argument has one entry a hole.
pub(super) fn for_each_hole<T>(name: &str, entries: &[T], holes: usize) -> Result<(), CalcError> {
    for_each_entry(entries, holes).map_err(|error| error.under(name))
}

fn for_each_entry<T>(entries: &[T], holes: usize) -> Result<(), CalcError> {
    if entries.len() == holes {
        return Ok(());
    }
    Err(CalcError::here(format!("must have one entry for each of the {holes} holes")))
}

/// Returns the strokes received, which need the stroke indexes only where there are any.
pub(super) fn received(handicap: i32, stroke_indexes: Option<&[u8]>, holes: usize) -> Result<Vec<i32>, CalcError> {
    match stroke_indexes {
        Some(indexes) => {
            for_each_hole("stroke_indexes", indexes, holes)?;
            Ok(strokes_received(handicap, indexes))
        }
        None if handicap == 0 => Ok(vec![0; holes]),
        None => Err(CalcError::at("/stroke_indexes", "is required where there are handicap strokes")),
    }
}

/// Pars with the strokes received, and scores where the operation has them.
pub(super) struct Holes {
    pub(super) pars: Vec<u8>,
    stroke_indexes: Option<Vec<u8>>,
    handicap: i32,
}

impl Holes {
    pub(super) fn read(arguments: &mut Arguments<'_>, handicap_name: &str) -> Result<Self, CalcError> {
        Ok(Self {
            pars: arguments.required("pars", pars)?,
            stroke_indexes: arguments.optional("stroke_indexes", stroke_indexes)?,
            handicap: arguments.integer_or(handicap_name, HANDICAP, 0)?,
        })
    }

    /// Leaves the handicap out, for gross scores.
    pub(super) fn gross(self) -> Self {
        Self { handicap: 0, ..self }
    }

    /// Pairs each par with the strokes received.
    pub(super) fn targets(&self) -> Result<impl Iterator<Item = (u8, i32)>, CalcError> {
        let received = received(self.handicap, self.stroke_indexes.as_deref(), self.pars.len())?;
        Ok(self.pars.iter().copied().zip(received))
    }

    pub(super) fn score(
        &self,
        scores: &[Option<u8>],
        score_hole: impl Fn(u8, i32, Option<u8>) -> i32,
    ) -> Result<Vec<i32>, CalcError> {
        for_each_hole("pars", &self.pars, scores.len())?;
        Ok(self.targets()?.zip(scores).map(|((par, received), score)| score_hole(par, received, *score)).collect())
    }
}

/// Limits of a net score, or of a score in points.
const NET: RangeInclusive<i32> = -1000..=1000;

/// Reads net scores, `null` where there is none, of a number of holes within `count`.
pub(super) fn nets(given: Given<'_>, count: RangeInclusive<usize>) -> Result<Vec<Option<Exact>>, CalcError> {
    given.list(count, |given| given.or_null(|given| given.decimal(NET)))
}

/// Checks that there are as many entries in each of several lists of one argument.
pub(super) fn same_holes<T>(name: &str, lists: &[Vec<T>]) -> Result<usize, CalcError> {
    let holes = lists.first().map_or(0, Vec::len);
    let checked = lists
        .iter()
        .enumerate()
        .try_for_each(|(n, list)| for_each_entry(list, holes).map_err(|error| error.under(n).under(name)));
    checked.map(|()| holes)
}

/// Writes a number where it is whole, else a text with six decimals.
pub(super) fn number(x: Exact) -> Value {
    match to_whole(x) {
        Some(whole) => whole.into(),
        None => to_text(x).into(),
    }
}

/// Writes the value of each hole and their sum, which is `null` where a hole is.
pub(super) fn holes_and_total(holes: &[Option<Exact>]) -> Value {
    let total: Option<Exact> = holes.iter().copied().sum();
    let by_hole: Vec<Option<Value>> = holes.iter().map(|hole| hole.map(number)).collect();
    json!({"holes": by_hole, "total": total.map(number)})
}
