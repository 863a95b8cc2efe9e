//! The pace table.

use crate::domain::putting::roll::{Pace, pace};
use crate::domain::units::{Feet, Inches, OutOfRange, Overrun, Stimp};
use crate::http::address::QueryOf;
use crate::http::answer::{Answer, json};
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::routes::{Access, RouteDoc, Routes, reads};
use crate::wire::body::views;
use serde::Serialize;

/// The most rows of a table.
const MOST_ROWS: usize = 1000;

/// A row of the table.
#[derive(Serialize)]
struct PaceRow {
    distance_ft: f64,
    #[serde(flatten)]
    pace: Pace,
}

fn number(query: &QueryOf, name: &str, usual: Option<f64>) -> Result<f64, Problem> {
    let bad = || Problem::parameter(name, Kind::Malformed, format!("{name} is a number"));
    match (query.get(name), usual) {
        (Some(text), _) => text.parse().ok().filter(|x: &f64| x.is_finite()).ok_or_else(bad),
        (None, Some(usual)) => Ok(usual),
        (None, None) => Err(bad()),
    }
}

fn in_range<T>(name: &str, value: Result<T, OutOfRange>) -> Result<T, Problem> {
    value.map_err(|error| Problem::parameter(name, Kind::Malformed, error.to_string()))
}

async fn table(query: QueryOf) -> Answer {
    let stimp = in_range("stimp_ft", Stimp::new(number(&query, "stimp_ft", None)?))?;
    let (from, to) = (number(&query, "from_ft", Some(3.0))?, number(&query, "to_ft", Some(60.0))?);
    let step = number(&query, "step_ft", Some(1.0))?;
    in_range("from_ft", Feet::new(from))?;
    in_range("to_ft", Feet::new(to))?;
    let rows = ((to - from) / step + 1e-9).floor() + 1.0;
    if !(step > 0.0 && rows >= 1.0 && rows <= MOST_ROWS as f64) {
        let detail = format!("from_ft to to_ft in steps of step_ft makes 1 to {MOST_ROWS} rows");
        return Err(Problem::parameter("step_ft", Kind::Malformed, detail));
    }
    let level = in_range("elevation_in", Inches::new(0.0))?;
    let past = in_range("past_hole_in", Overrun::new(number(&query, "past_hole_in", Some(12.0))?))?;
    let mut items = Vec::with_capacity(rows as usize);
    for row in 0..rows as usize {
        let distance = in_range("to_ft", Feet::new((from + row as f64 * step).min(to)))?;
        let pace = pace(distance, stimp, level, past)
            .map_err(|error| Problem::parameter("stimp_ft", Kind::Malformed, error.to_string()))?;
        items.push(PaceRow { distance_ft: distance.get(), pace });
    }
    Ok(json(&serde_json::json!({
        "stimp_ft": stimp.get(), "past_hole_in": past.get(), "items": items, "next": null,
    })))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let doc = reads("/pace", "How hard to hit each distance on a green speed.", Access::Anyone, views::pace());
    let query = &[
        ("stimp_ft", "The green speed, 4 to 16 ft; needed."),
        ("from_ft", "The first distance; 3 without it."),
        ("to_ft", "The last distance; 60 without it."),
        ("step_ft", "The step between rows; 1 without it."),
        ("past_hole_in", "How far past the hole the ball would run; 12 without it."),
    ];
    routes.add(RouteDoc { query, ..doc }, table);
}
