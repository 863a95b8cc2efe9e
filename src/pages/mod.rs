//! The pages: HTML that the server writes, a typed context each. Files mirror the URL tree.
//!
//! Every page works without script; scripts add live boards and drafts. A page knows no rule of golf: it shows what
//! [`league`](crate::league) answers.

mod afresh;
mod ask;
mod assets;
mod bring_file;
mod card_text;
mod charts;
mod courses;
mod desk;
mod door;
mod doubts;
mod event;
mod event_end;
mod fields;
mod finding;
mod finding_page;
mod form;
mod hand_in;
mod held;
mod home;
mod kept;
pub mod last_shown;
mod masked;
mod member;
mod names;
mod notices;
mod organize;
mod password;
mod problem;
mod prose;
mod putting;
mod reference;
mod round;
mod ruling;
mod season;
mod sensor_text;
mod upload;
mod why;
pub mod words;

use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, LeagueId, MemberId};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::views::LeagueView;
use crate::league::{Caller, Refusal};
use actix_web::http::{StatusCode, header};
use actix_web::middleware::from_fn;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpMessage, HttpRequest, HttpResponse, Route, guard};
use askama::Template;
use jiff::tz::TimeZone;
use uuid::Uuid;

/// What every page shows around its own part.
#[derive(Default)]
pub struct Frame {
    /// The account that looks at it. Its cards that wait on this phone are shown and sent, and no other's.
    pub account: Option<AccountId>,
    /// The name of that account; nothing is offered to it where this is missing.
    pub who: Option<String>,
    /// How many notices that account has not seen; no more than are listed.
    pub unseen: i64,
    /// The league that it belongs to.
    pub league: Option<Place>,
}

/// A league in the eyes of one of its members.
pub struct Place {
    /// Its id.
    pub id: LeagueId,
    /// Its name.
    pub name: String,
    /// The zone in which its times are shown.
    pub zone: TimeZone,
    /// The viewer's record.
    pub member: MemberId,
    /// The viewer's role.
    pub role: Role,
}

impl Place {
    fn of(view: LeagueView) -> Self {
        let zone = TimeZone::get(&view.league.time_zone).unwrap_or(TimeZone::UTC);
        Self { id: view.id, name: view.league.name, zone, member: view.member_id, role: view.role }
    }

    /// Returns whether the viewer organizes the league.
    pub fn is_organizer(&self) -> bool {
        self.role == Role::Organizer
    }
}

impl Frame {
    /// Makes the frame of a page that belongs to no league.
    ///
    /// # Errors
    /// An account that was ended.
    pub async fn of(app: &App, caller: Caller) -> Result<Self, Refusal> {
        let me = app.leagues.me(caller).await?;
        let unseen = app.leagues.unseen(caller, notices::MOST).await?;
        Ok(Self { account: Some(caller.account), who: Some(me.account.display_name), unseen, league: None })
    }

    /// Makes the frame of a page that says why a request failed: of the account only its id is known.
    pub fn of_failure(request: &HttpRequest) -> Self {
        let account = request.extensions().get::<Caller>().map(|caller| caller.account);
        Self { account, ..Self::default() }
    }

    /// Makes the frame of a league's page.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn in_league(app: &App, caller: Caller, league: LeagueId) -> Result<Self, Refusal> {
        Self::of_part(app, caller, league).await?.around(app, caller).await
    }

    /// Makes what a part of a league's page needs to know: nothing is shown around it.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn of_part(app: &App, caller: Caller, league: LeagueId) -> Result<Self, Refusal> {
        let (view, _) = app.leagues.league(caller, league).await?;
        Ok(Self { league: Some(Place::of(view)), ..Self::default() })
    }

    /// Adds what is shown around a page.
    ///
    /// # Errors
    /// An account that was ended.
    pub async fn around(self, app: &App, caller: Caller) -> Result<Self, Refusal> {
        Ok(Self { league: self.league, ..Self::of(app, caller).await? })
    }

    /// Returns the zone in which the page shows times.
    pub fn zone(&self) -> TimeZone {
        self.league.as_ref().map_or(TimeZone::UTC, |place| place.zone.clone())
    }

    /// Returns the viewer's record in the page's league.
    pub fn member(&self) -> MemberId {
        self.league.as_ref().map_or(MemberId(Uuid::nil()), |place| place.member)
    }

    /// Returns whether the viewer keeps scores for others in the page's league.
    pub fn keeps_scores(&self) -> bool {
        self.league.as_ref().is_some_and(|place| place.role.keeps_scores())
    }

    /// Returns whether the viewer organizes the page's league.
    pub fn is_organizer(&self) -> bool {
        self.league.as_ref().is_some_and(Place::is_organizer)
    }
}

/// Answers with a page.
///
/// # Errors
/// A template that fails.
pub fn page(template: &impl Template) -> Answer {
    page_with(StatusCode::OK, template)
}

/// Answers with a page and a status.
///
/// # Errors
/// A template that fails.
pub fn page_with(status: StatusCode, template: &impl Template) -> Answer {
    let html = template.render().map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::build(status)
        .content_type("text/html; charset=utf-8")
        .insert_header((header::VARY, "Cookie, Accept-Encoding"))
        .body(html))
}

/// Sends the browser on to another page.
pub fn see_other(to: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, to)).finish()
}

/// A route that reads: HEAD wherever GET, the server drops the body.
pub fn reads() -> Route {
    web::route().guard(guard::Any(guard::Get()).or(guard::Head()))
}

/// Serves the pages. They come last: whatever no other part answers is looked for here.
pub fn serve(config: &mut ServiceConfig) {
    config.service(
        web::scope("")
            .wrap(from_fn(problem::as_page))
            .configure(assets::routes)
            .configure(door::routes)
            .configure(afresh::routes)
            .configure(password::routes)
            .configure(courses::routes)
            .configure(reference::routes)
            .configure(organize::routes)
            .configure(home::routes)
            .configure(season::routes)
            .configure(event::routes)
            .configure(event_end::routes)
            .configure(hand_in::routes)
            .configure(bring_file::routes)
            .configure(round::routes)
            .configure(doubts::routes)
            .configure(ruling::routes)
            .configure(why::routes)
            .configure(notices::routes)
            .configure(member::routes)
            .configure(finding::routes)
            .configure(desk::routes)
            .configure(held::routes)
            .default_service(web::to(|_: HttpRequest| async { Err::<HttpResponse, _>(Problem::not_found()) })),
    );
}
