//! What concerns the viewer, in all leagues.

use super::form::Form;
use super::frame::MOST_NOTICES;
use super::{Frame, page, see_other};
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::Caller;
use crate::league::member::notices::NoticeView;
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
}

impl Notices {
    fn told(&self, notice: &NoticeView) -> &'static str {
        match notice.kind.as_str() {
            "round_proposed" => "A card was handed in for you. Accept it so that it counts",
            "round_late" => "A late card is waiting to be accepted",
            "round_accepted" => "Your card was accepted",
            "round_corrected" => "Your card was changed by somebody else",
            "round_withdrawn" => "Your card was withdrawn by somebody else",
            "ruling" => "New ruling on your card",
            "query" => "New query on a card",
            "answer" => "Your query was answered",
            _ => "New fair-play finding",
        }
    }

    fn league(&self, notice: &NoticeView) -> &str {
        self.leagues.get(&notice.league_id).map_or("", |(name, _)| name)
    }

    fn zone(&self, notice: &NoticeView) -> TimeZone {
        self.leagues.get(&notice.league_id).map_or(TimeZone::UTC, |(_, zone)| zone.clone())
    }
}

/// Returns the page that a notice is about.
fn address(notice: &NoticeView) -> String {
    match (notice.finding_id, notice.round_id) {
        (Some(finding), _) => format!("/findings/{finding}"),
        (None, Some(round)) => format!("/rounds/{round}"),
        (None, None) => format!("/leagues/{}", notice.league_id),
    }
}

async fn notices(app: Data<App>, caller: Caller) -> Answer {
    let notices = app.leagues.notices(caller, Uuid::nil(), MOST_NOTICES).await?;
    let leagues = app.leagues.leagues_of(caller, Uuid::nil(), MOST_NOTICES).await?.into_iter().map(|view| {
        let zone = TimeZone::get(&view.league.time_zone).unwrap_or(TimeZone::UTC);
        (view.id, (view.league.name, zone))
    });
    page(&Notices { frame: Frame::of(&app, caller).await?, notices, leagues: leagues.collect() })
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
