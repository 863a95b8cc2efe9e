//! The list of leagues, a league's first page, and what else it leads to.

use super::kept::kept;
use super::{Frame, Place, charts, page, see_other};
use crate::domain::competition::table::StandingsRow;
use crate::domain::facts::{EventState, Season};
use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::views::{EventView, LeagueView, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::words;
use crate::storage::documents::SEASONS;
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use jiff::Timestamp;
use jiff::tz::TimeZone;
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
pub struct Listed {
    pub season: SeasonView,
    /// Its events, in order.
    pub events: Vec<EventView>,
}

/// The season that is played now.
struct Current {
    listed: Listed,
    /// The number of the night that is open, or comes next, or was the last.
    night: Option<usize>,
}

impl Current {
    fn of(listed: Listed) -> Self {
        let is_over = |event: &EventView| matches!(event.event.state, Some(EventState::Closed | EventState::Final));
        let over = listed.events.iter().take_while(|event| is_over(event)).count();
        let night = (!listed.events.is_empty()).then(|| (over + 1).min(listed.events.len()));
        Self { listed, night }
    }

    /// Draws the season's nights; nothing where it has none.
    fn level(&self) -> String {
        self.night.map(|night| charts::season(self.listed.events.len(), night - 1)).unwrap_or_default()
    }
}

/// What a league's first page shows: what can be done now, and how one stands.
#[derive(Template)]
#[template(path = "league.html")]
struct Tonight<'a> {
    frame: Frame,
    place: &'a Place,
    /// The open events, and whether the viewer's card is in.
    open: Vec<(EventView, bool)>,
    next: Option<EventView>,
    current: Option<Current>,
    /// The head of the table, and the viewer's row where it stands below.
    top: Vec<&'a StandingsRow>,
    /// The rows of the viewer's flight, or of the first where the viewer has none.
    rows: Vec<&'a StandingsRow>,
    /// The other seasons.
    seasons: Vec<Listed>,
    /// When it is shown.
    now: Timestamp,
}

/// How many rows of the table are shown on a league's first page.
const HEAD: usize = 5;

impl Tonight<'_> {
    fn mine(&self) -> Option<&StandingsRow> {
        self.rows.iter().find(|row| row.member_id == self.place.member).copied()
    }

    fn ranked(&self) -> usize {
        self.rows.iter().filter(|row| row.position.is_some()).count()
    }
}

#[derive(Template)]
#[template(path = "more.html")]
struct More<'a> {
    frame: Frame,
    place: &'a Place,
}

/// Reads a season's events, in order.
pub async fn events(app: &App, caller: Caller, season: SeasonId) -> Result<Vec<EventView>, Refusal> {
    let now = app.leagues.now();
    let found = app.leagues.events_of(caller, season, Uuid::nil(), MOST).await?;
    let mut events: Vec<EventView> = found.into_iter().map(|event| EventView::of(event, now)).collect();
    events.sort_by_key(|event| (event.event.opens_at, event.id));
    Ok(events)
}

/// Reads a league's seasons with their events: the one that is played now, and the others, the newest first.
///
/// It is the one with an open night; else the latest that has begun; else the first to begin.
pub async fn seasons(app: &App, caller: Caller, league: LeagueId) -> Result<(Option<Listed>, Vec<Listed>), Refusal> {
    let found = app.leagues.documents::<Season>(caller, &SEASONS, league, Uuid::nil(), MOST).await?;
    let mut listed = Vec::new();
    for season in found.into_iter().map(SeasonView::from) {
        let events = events(app, caller, season.id).await?;
        listed.push(Listed { season, events });
    }
    listed.sort_by_key(|listed| std::cmp::Reverse(listed.season.season.starts_on));
    let today = TimeZone::UTC.to_datetime(app.leagues.now()).date();
    let is_open = |listed: &Listed| listed.events.iter().any(|event| event.event.state == Some(EventState::Open));
    let at = listed.iter().position(is_open);
    let at = at.or_else(|| listed.iter().position(|listed| listed.season.season.starts_on <= today));
    let at = at.or_else(|| listed.len().checked_sub(1));
    let current = at.map(|at| listed.remove(at));
    Ok((current, listed))
}

async fn league(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let mut frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    frame.is_kept = query.get("kept") == Some("1");
    let Some(place) = frame.league.clone() else { return Err(Problem::not_found()) };
    let (current, seasons) = seasons(&app, caller, LeagueId(id.0)).await?;
    let every = || current.iter().chain(&seasons).flat_map(|listed| &listed.events);
    let in_state = |state| every().filter(move |event: &&EventView| event.event.state == Some(state));
    let mut open = Vec::new();
    for event in in_state(EventState::Open) {
        let cards = app.leagues.round_ids_of_event(caller, event.id, MOST).await?;
        open.push((event.clone(), cards.iter().any(|(member, _)| *member == place.member)));
    }
    let coming = in_state(EventState::Scheduled).filter(|event| !event.event.is_void());
    let next = coming.min_by_key(|event| (event.event.opens_at, event.id)).cloned();
    let standings = match &current {
        Some(listed) => Some(app.leagues.standings(caller, listed.season.id, None, None, None).await?.0),
        None => None,
    };
    let all = standings.as_ref().map_or(&[][..], |standings| standings.items.cards());
    let flight = all.iter().find(|row| row.member_id == place.member).or(all.first());
    let rows: Vec<_> = all.iter().filter(|row| flight.is_some_and(|mine| mine.flight == row.flight)).collect();
    let is_shown = |at: usize, row: &StandingsRow| at < HEAD || row.member_id == place.member;
    let top = rows.iter().enumerate().filter(|(at, row)| is_shown(*at, row)).map(|(_, row)| *row).collect();
    let current = current.map(Current::of);
    let now = app.leagues.now();
    let shown = Tonight { frame, place: &place, open, next, current, top, rows, seasons, now };
    if shown.frame.is_kept { page(&shown) } else { kept(&request, &shown.frame, &shown) }
}

/// Leads to the standings of the season that is played now.
async fn table(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let (current, _) = seasons(&app, caller, LeagueId(id.0)).await?;
    Ok(match current {
        Some(listed) => see_other(&format!("/seasons/{}", listed.season.id)),
        None => see_other(&format!("/leagues/{}", id.0)),
    })
}

async fn more(app: Data<App>, caller: Caller, id: IdPath, request: HttpRequest) -> Answer {
    let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    let Some(place) = frame.league.clone() else { return Err(Problem::not_found()) };
    let shown = More { frame, place: &place };
    kept(&request, &shown.frame, &shown)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/").route(super::reads().to(home)))
        .service(web::resource("/leagues").route(super::reads().to(leagues)))
        .service(web::resource("/leagues/{id}").route(super::reads().to(league)))
        .service(web::resource("/leagues/{id}/table").route(super::reads().to(table)))
        .service(web::resource("/leagues/{id}/more").route(super::reads().to(more)));
}
