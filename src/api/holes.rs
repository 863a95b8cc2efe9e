//! A single hole of a round: mended by itself, so that nobody sends a whole card back for one slip.

use super::rounds::{CORRECTION, reason};
use crate::domain::facts::{CardHole, Fault, Round};
use crate::domain::ids::RoundId;
use crate::domain::rule::Rule;
use crate::http::address::QueryOf;
use crate::http::answer::{Answer, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::http::routes::{Access, RouteDoc, Routes, patches};
use crate::league::access::IfMatch;
use crate::league::round::correct::Correction;
use crate::league::views::RoundView;
use crate::league::{Caller, Refusal};
use crate::wire::body::{round, views};
use crate::wire::schema::Schema;
use actix_web::web::{Data, Path};
use uuid::Uuid;

fn body() -> Schema {
    Schema::Object(round::hole_fields())
}

async fn correct(
    app: Data<App>,
    caller: Caller,
    path: Path<(String, String)>,
    if_match: IfMatch,
    query: QueryOf,
    sent: Body,
) -> Answer {
    let id = Uuid::try_parse(&path.0).map_err(|_| Problem::not_found())?;
    let (view, version) = app.leagues.round(caller, RoundId(id)).await?;
    let place = view.holes.iter().position(|hole| hole.number.get().to_string() == path.1);
    let place = place.ok_or_else(Problem::not_found)?;
    if_match.check(version)?;
    let round = with_hole(view, place, sent.patch::<CardHole>(body)?)?;
    let (confirms_dates, reason) = (query.confirms("dates")?, reason(&query)?);
    let correction = Correction { round, names_member: false, confirms_dates, reason };
    // The rest of the card was read at this version: a later one would be undone.
    let corrected = app.leagues.correct_round(caller, RoundId(id), IfMatch::Version(version), correction).await;
    Ok(versioned(corrected.map_err(|refusal| of_hole(refusal, place))?))
}

/// Returns a round's card with one hole patched.
fn with_hole(
    view: RoundView,
    place: usize,
    patched: impl FnOnce(&str) -> Result<CardHole, Refusal>,
) -> Result<Round, Refusal> {
    let mut holes = view.holes.to_vec();
    let before = serde_json::to_string(&holes[place]).expect("a hole is plain values with text keys");
    let hole = patched(&before)?;
    if hole.number != holes[place].number {
        return Err(Refusal::fault("/number", Rule::Settled, "the address says which hole it is"));
    }
    holes[place] = hole;
    let RoundView { client_round_id, member_id, setup_id, played_on, outcome, .. } = view;
    Ok(Round { client_round_id, member_id, setup_id, played_on, outcome, holes })
}

/// Lets faults of the hole point into the body that was sent.
fn of_hole(refusal: Refusal, place: usize) -> Refusal {
    let Refusal::Faults(mut faults) = refusal else { return refusal };
    let within = format!("/holes/{place}");
    for Fault { pointer, .. } in &mut faults {
        let rest = pointer.strip_prefix(&within).filter(|rest| rest.is_empty() || rest.starts_with('/'));
        if let Some(rest) = rest.map(str::to_owned) {
            *pointer = rest;
        }
    }
    Refusal::Faults(faults)
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let path = "/rounds/{id}/holes/{number}";
    let corrected =
        patches(path, "Corrects a hole that is on the card.", Access::OwnerOrOrganizer, body(), views::round());
    routes.add(RouteDoc { query: CORRECTION, ..corrected }, correct);
}
