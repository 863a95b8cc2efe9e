//! A round: its card, its putts, what it came to.

use super::form::Form;
use super::{Frame, page, see_other};
use crate::api::extract::{IdPath, QueryOf};
use crate::api::{Answer, App};
use crate::domain::facts::{CardHole, Event, EventState, PuttResult, Role};
use crate::domain::ids::RoundId;
use crate::domain::season::RoundState;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::{EventView, RoundView};
use crate::pages::words;
use crate::storage::documents::EVENTS;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "round.html")]
struct RoundPage {
    frame: Frame,
    version: i64,
    is_saved: bool,
    event: EventView,
    player: String,
    round: RoundView,
}

impl RoundPage {
    fn is_mine(&self) -> bool {
        self.round.member_id == self.frame.member()
    }

    fn waits(&self) -> bool {
        matches!(self.round.state, RoundState::Proposed | RoundState::Late)
    }

    fn is_final(&self) -> bool {
        self.event.event.state == Some(EventState::Final)
    }

    fn may_attest(&self) -> bool {
        !self.is_mine() && self.round.state == RoundState::Submitted && !self.is_final()
    }

    fn may_accept(&self) -> bool {
        self.waits() && (self.is_mine() || self.frame.is_organizer())
    }

    fn may_change(&self) -> bool {
        let counts = matches!(self.round.state, RoundState::Submitted | RoundState::Attested);
        self.is_mine() && counts && self.event.event.state == Some(EventState::Open)
    }

    fn may_withdraw(&self) -> bool {
        let scores = self.frame.league.as_ref().is_some_and(|place| place.role != Role::Player);
        let is_there = !matches!(self.round.state, RoundState::Withdrawn | RoundState::Excluded);
        is_there && !self.is_final() && (self.may_change() || scores)
    }

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
            let feet = putt.distance_ft.get();
            let is_softened = self.round.declared_radius_ft.is_some_and(|radius| feet <= radius);
            format!("{feet} ft {result}{}", if is_softened { " (softening declared)" } else { "" })
        });
        written.collect::<Vec<_>>().join(", ")
    }
}

async fn round(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let (round, version) = app.leagues.round(caller, RoundId(id.0)).await?;
    let found = app.leagues.document::<Event>(caller, &EVENTS, round.event_id.0).await?;
    let frame = Frame::in_league(&app, caller, found.league).await?;
    let (player, _) = app.leagues.member(caller, round.member_id).await?;
    let event = EventView::of(found, app.leagues.now());
    let is_saved = query.get("saved").is_some();
    page(&RoundPage { frame, version, is_saved, event, player: player.member.display_name, round })
}

async fn attest(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    app.leagues.attest_round(caller, RoundId(id.0)).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

async fn accept(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    app.leagues.accept_round(caller, RoundId(id.0)).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

async fn withdraw(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let version = form.text("version").parse().map_or(IfMatch::Never, IfMatch::Version);
    let reason = form.given("reason").map(|reason| reason.chars().take(2000).collect());
    app.leagues.withdraw_round(caller, RoundId(id.0), version, reason).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/rounds/{id}").route(super::reads().to(round)))
        .service(web::resource("/rounds/{id}/attestation").route(web::post().to(attest)))
        .service(web::resource("/rounds/{id}/acceptance").route(web::post().to(accept)))
        .service(web::resource("/rounds/{id}/withdrawal").route(web::post().to(withdraw)));
}
