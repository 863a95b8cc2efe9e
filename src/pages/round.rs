//! A round: its card, its putts, what it came to.

use super::{Frame, page};
use crate::api::extract::IdPath;
use crate::api::{Answer, App};
use crate::domain::facts::{CardHole, Event, PuttResult};
use crate::domain::ids::RoundId;
use crate::league::Caller;
use crate::league::views::{EventView, RoundView};
use crate::pages::words;
use crate::storage::documents::EVENTS;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "round.html")]
struct RoundPage {
    frame: Frame,
    event: EventView,
    player: String,
    round: RoundView,
}

impl RoundPage {
    fn strokes(&self, hole: &CardHole) -> String {
        match hole.strokes {
            _ if hole.not_played => "not played".into(),
            Some(strokes) if hole.picked_up => format!("{} (picked up)", strokes.get()),
            None if hole.picked_up => "picked up".into(),
            Some(strokes) => strokes.get().to_string(),
            None => words::MISSING.into(),
        }
    }

    /// Writes the putts of a hole in order.
    fn putts(&self, hole: &CardHole) -> String {
        let Some(putts) = &hole.putts else { return words::MISSING.into() };
        if putts.is_empty() {
            return "none: holed from off the green".into();
        }
        let written = putts.iter().map(|putt| {
            let result = match putt.result {
                PuttResult::Holed => "holed",
                PuttResult::Missed => "missed",
                PuttResult::Conceded => "conceded",
            };
            format!("{} ft {result}", putt.distance_ft.get())
        });
        written.collect::<Vec<_>>().join(", ")
    }
}

async fn round(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let (round, _) = app.leagues.round(caller, RoundId(id.0)).await?;
    let found = app.leagues.document::<Event>(caller, &EVENTS, round.event_id.0).await?;
    let frame = Frame::in_league(&app, caller, found.league).await?;
    let (player, _) = app.leagues.member(caller, round.member_id).await?;
    let event = EventView::of(found, app.leagues.now());
    page(&RoundPage { frame, event, player: player.member.display_name, round })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/rounds/{id}").route(super::reads().to(round)));
}
