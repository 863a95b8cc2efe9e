//! Rosters: many members from a CSV.

use super::rounds::VALIDATE_ONLY;
use crate::domain::ids::LeagueId;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, json, replied};
use crate::http::app::App;
use crate::http::body::{Body, unsupported};
use crate::http::incoming::read;
use crate::http::keys::Key;
use crate::http::roster;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates};
use crate::league::Caller;
use crate::league::views::Page;
use crate::wire::body::views;
use crate::wire::schema::Schema;
use actix_web::web::{Data, Payload};
use actix_web::{HttpMessage, HttpRequest};

/// The largest roster, in bytes.
const MOST_BYTES: usize = 5 * 1024 * 1024;
async fn add(
    app: Data<App>,
    caller: Caller,
    id: IdPath,
    key: Key,
    query: QueryOf,
    request: HttpRequest,
    payload: Payload,
) -> Answer {
    if !request.content_type().eq_ignore_ascii_case("text/csv") {
        return Err(unsupported("text/csv"));
    }
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    let sent = Body(read(&request, &mut payload.into_inner(), MOST_BYTES).await?);
    let (body, now) = (sent.0.clone(), app.leagues.now());
    let (body_hash, lines) = app.offload.run(move || (sent.canonical_hash(), roster::lines(&body))).await?;
    let (key, lines) = (key.of_hash(caller, body_hash, now), lines?);
    if query.flag("validate_only")? {
        let items = app.leagues.preview_roster(key, LeagueId(id.0), lines).await?;
        return Ok(json(&Page { items, next: None }));
    }
    Ok(replied(app.leagues.add_roster(key, LeagueId(id.0), lines).await?))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let path = "/leagues/{id}/rosters";
    let doc = "Adds the members of a CSV with the columns display_name, flight, starting_handicap; all or none.";
    let added = creates(path, doc, Access::Organizer, Schema::Anything, views::whole_list(views::roster_member()));
    routes.add(RouteDoc { takes: Media::Csv, query: VALIDATE_ONLY, ..added }, add);
}
