//! The first page and the page of a league.

use super::kept::kept;
use super::{Frame, see_other};
use crate::domain::facts::{EventState, Season};
use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::views::{EventView, LeagueView, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::words;
use crate::storage::documents::SEASONS;
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use uuid::Uuid;

/// How many of a kind one page lists.
const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "home.html")]
struct Home {
    frame: Frame,
    leagues: Vec<LeagueView>,
}

async fn home(app: Data<App>, caller: Caller, request: HttpRequest) -> Answer {
    let leagues = app.leagues.leagues_of(caller, Uuid::nil(), MOST).await?;
    if let [only] = leagues.as_slice() {
        return Ok(see_other(&format!("/leagues/{}", only.id)));
    }
    list(&app, caller, &request, leagues).await
}

async fn leagues(app: Data<App>, caller: Caller, request: HttpRequest) -> Answer {
    let leagues = app.leagues.leagues_of(caller, Uuid::nil(), MOST).await?;
    list(&app, caller, &request, leagues).await
}

async fn list(app: &App, caller: Caller, request: &HttpRequest, leagues: Vec<LeagueView>) -> Answer {
    let shown = Home { frame: Frame::of(app, caller).await?, leagues };
    kept(request, &shown.frame, &shown)
}

/// A season with its events.
struct Listed {
    season: SeasonView,
    events: Vec<EventView>,
}

#[derive(Template)]
#[template(path = "league.html")]
struct LeaguePage {
    frame: Frame,
    open: Vec<EventView>,
    seasons: Vec<Listed>,
}

/// Reads a season's events, in order.
pub async fn events(app: &App, caller: Caller, season: SeasonId) -> Result<Vec<EventView>, Refusal> {
    let now = app.leagues.now();
    let found = app.leagues.events_of(caller, season, Uuid::nil(), MOST).await?;
    let mut events: Vec<EventView> = found.into_iter().map(|event| EventView::of(event, now)).collect();
    events.sort_by_key(|event| (event.event.opens_at, event.id));
    Ok(events)
}

async fn league(app: Data<App>, caller: Caller, id: IdPath, request: HttpRequest) -> Answer {
    let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    let found = app.leagues.documents::<Season>(caller, &SEASONS, LeagueId(id.0), Uuid::nil(), MOST).await?;
    let mut seasons = Vec::new();
    for season in found.into_iter().map(SeasonView::from) {
        let events = events(&app, caller, season.id).await?;
        seasons.push(Listed { season, events });
    }
    seasons.sort_by_key(|listed| std::cmp::Reverse(listed.season.season.starts_on));
    let mut open = Vec::new();
    for listed in &mut seasons {
        open.extend(listed.events.extract_if(.., |event| event.event.state == Some(EventState::Open)));
    }
    let shown = LeaguePage { frame, open, seasons };
    kept(&request, &shown.frame, &shown)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/").route(super::reads().to(home)))
        .service(web::resource("/leagues").route(super::reads().to(leagues)))
        .service(web::resource("/leagues/{id}").route(super::reads().to(league)));
}
