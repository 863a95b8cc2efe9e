//! Events and seasons copied to later days.

use super::rounds::VALIDATE_ONLY;
use crate::domain::facts::{EventCopies, SeasonCopy};
use crate::domain::ids::{EventId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, json, replied};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::routes::{Access, RouteDoc, Routes, creates};
use crate::league::Caller;
use crate::league::views::Page;
use crate::wire::body::{copies, views};
use actix_web::web::Data;

async fn copy_event(app: Data<App>, caller: Caller, id: IdPath, key: Key, query: QueryOf, sent: Body) -> Answer {
    let terms: EventCopies = sent.read(&copies::of_event())?;
    let (key, id) = (key.of(&app, caller, &sent), EventId(id.0));
    if query.flag("validate_only")? {
        let items = app.leagues.preview_event_copies(key, id, terms).await?;
        return Ok(json(&Page { items, next: None }));
    }
    Ok(replied(app.leagues.copy_event(key, id, terms).await?))
}

async fn copy_season(app: Data<App>, caller: Caller, id: IdPath, key: Key, query: QueryOf, sent: Body) -> Answer {
    let terms: SeasonCopy = sent.read(&copies::of_season())?;
    let (key, id) = (key.of(&app, caller, &sent), SeasonId(id.0));
    if query.flag("validate_only")? {
        return Ok(json(&app.leagues.preview_season_copy(key, id, terms).await?));
    }
    Ok(replied(app.leagues.copy_season(key, id, terms).await?))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let doc = "Copies an event to later days of its season, once or as a series; all or none.";
    let answers = views::whole_list(views::event());
    let copied = creates("/events/{id}/copies", doc, Access::Organizer, copies::of_event(), answers);
    routes.add(RouteDoc { query: VALIDATE_ONLY, ..copied }, copy_event);
    let doc = "Copies a season some days later, with its competitions and, as asked, its events.";
    let copied = creates("/seasons/{id}/copies", doc, Access::Organizer, copies::of_season(), copies::copied_season());
    routes.add(RouteDoc { query: VALIDATE_ONLY, ..copied }, copy_season);
}
