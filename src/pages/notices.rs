//! What concerns the viewer, in all leagues.

use super::form::Form;
use super::frame::MOST_NOTICES;
use super::{Frame, page, see_other};
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::member::notices::NoticeView;
use crate::league::{Caller, Refusal};
use crate::pages::words;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use jiff::tz::TimeZone;
use std::collections::HashMap;
use uuid::Uuid;

#[derive(Template)]
#[template(path = "notices.html")]
struct Notices {
    frame: Frame,
    notices: Vec<NoticeView>,
    /// The name and the zone of each league.
    leagues: HashMap<LeagueId, (String, TimeZone)>,
    /// The zone of what is about the account.
    zone: TimeZone,
}

impl Notices {
    fn told(&self, notice: &NoticeView) -> String {
        let device = notice.device.as_deref().unwrap_or_default();
        let told = match notice.kind.as_str() {
            "round_proposed" => "A card was handed in for you. Accept it so that it counts",
            "round_late" => "A late card is waiting to be accepted",
            "round_accepted" => "Your card was accepted",
            "round_corrected" => "Your card was changed by somebody else",
            "round_withdrawn" => "Your card was withdrawn by somebody else",
            "ruling" => "New ruling on your card",
            "query" => "New query on a card",
            "answer" => "Your query was answered",
            "signed_in" => return format!("New sign-in to your account: {device}"),
            "void" => "An event is void: no competition counts it",
            "void_undone" => "An event that was void counts again",
            "handicap_act" => "An organizer decided about your league index",
            "line_up" => "Your team’s line-up names you otherwise than before",
            "fixture" => "A match of yours was moved or decided",
            "concession" => "Something was conceded in a match of yours",
            "adjustment" => "Points were given or taken in a table, for you or your team",
            "password_changed" => return format!("Your password was changed: {device}"),
            _ => "New fair-play finding",
        };
        told.to_owned()
    }

    fn league(&self, notice: &NoticeView) -> &str {
        notice.league_id.and_then(|id| self.leagues.get(&id)).map_or("your account", |(name, _)| name)
    }

    fn zone(&self, notice: &NoticeView) -> TimeZone {
        let league = notice.league_id.and_then(|id| self.leagues.get(&id));
        league.map_or_else(|| self.zone.clone(), |(_, zone)| zone.clone())
    }
}

/// Returns the page that a notice is about.
fn address(notice: &NoticeView) -> String {
    if let Some(event) = notice.event_id {
        return format!("/events/{event}");
    }
    if let Some(member) = notice.member_id.filter(|_| notice.kind == "handicap_act") {
        return format!("/members/{member}/handicap-acts");
    }
    match (notice.finding_id, notice.round_id, notice.league_id) {
        (Some(finding), _, _) => format!("/findings/{finding}"),
        (None, Some(round), _) => format!("/rounds/{round}"),
        (None, None, Some(league)) => format!("/leagues/{league}"),
        (None, None, None) => "/account".to_owned(),
    }
}

async fn notices(app: Data<App>, caller: Caller) -> Answer {
    let notices = app.leagues.notices(caller, Uuid::nil(), MOST_NOTICES).await?;
    let leagues = app.leagues.leagues_of(caller, Uuid::nil(), MOST_NOTICES).await?.into_iter().map(|view| {
        let zone = TimeZone::get(&view.league.time_zone).unwrap_or(TimeZone::UTC);
        (view.id, (view.league.name, zone))
    });
    let (frame, zone) = (Frame::of(&app, caller).await?, own_zone(&app, caller).await?);
    page(&Notices { frame, notices, leagues: leagues.collect(), zone })
}

/// Returns the zone in which an account reads times: that of its first league.
///
/// # Errors
/// A failed database.
pub(super) async fn own_zone(app: &App, caller: Caller) -> Result<TimeZone, Refusal> {
    let first = app.leagues.leagues_of(caller, Uuid::nil(), 1).await?.pop();
    Ok(first.and_then(|view| TimeZone::get(&view.league.time_zone).ok()).unwrap_or(TimeZone::UTC))
}

async fn open(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    Ok(see_other(&address(&app.leagues.see_notice(caller, id.0).await?)))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/notices").route(super::reads().to(notices)))
        .service(web::resource("/notices/{id}/seen").route(web::post().to(open)));
}
