//! All nights of a season whose queries are over are made final in one act, in order, after a look at each.

use super::ask::{Question, is_answered};
use super::event_end::{SETTLED, in_short};
use super::form::Form;
use super::{Frame, page, see_other, words};
use crate::domain::facts::{Event, Season};
use crate::domain::ids::{EventId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::access::IfMatch;
use crate::league::event::lay_down::EventOverview;
use crate::league::{Caller, Refusal};
use crate::storage::documents::SEASONS;
use crate::wire::body::event::event_fields;
use crate::wire::schema::Schema;
use actix_web::http::StatusCode;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use askama::Template;
use jiff::{SignedDuration, Timestamp};
use serde_json::json;
use uuid::Uuid;

/// A night that is over and not final.
struct Over {
    seen: EventOverview,
    /// When queries are no longer expected.
    queries_until: Timestamp,
}

#[derive(Template)]
#[template(path = "nights_end.html")]
struct NightsPage {
    frame: Frame,
    season: SeasonId,
    name: String,
    nights: Vec<Over>,
    now: Timestamp,
}

impl NightsPage {
    /// Says why a night cannot be made final now, or that queries are still taken; nothing of one that is ready.
    fn waits(&self, over: &Over) -> Option<String> {
        match &over.seen.is_not_final_for {
            Some(refusal) => Some(refusal.to_string()),
            None if over.queries_until > self.now => {
                Some(format!("queries are taken until {}", words::moment(&over.queries_until, self.frame.zone())))
            }
            None => None,
        }
    }

    fn ready(&self) -> impl Iterator<Item = &Over> {
        self.nights.iter().filter(|over| self.waits(over).is_none())
    }

    fn says(&self, over: &Over) -> String {
        in_short(&over.seen).join(" ")
    }

    fn count(&self) -> usize {
        self.ready().count()
    }
}

async fn read(app: &App, caller: Caller, season: SeasonId) -> Result<NightsPage, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let now = app.leagues.now();
    let queries = SignedDuration::from_hours(i64::from(found.body.query_hours));
    let mut events = app.leagues.events_of(caller, season, Uuid::nil(), i64::MAX).await?;
    events.retain(|event| !event.body.is_final() && !event.body.is_void() && event.body.closes_at <= now);
    events.sort_by_key(|event| (event.body.opens_at, event.id));
    let mut nights = Vec::new();
    for event in events {
        let seen = app.leagues.event_overview(caller, EventId(event.id)).await?;
        nights.push(Over { seen, queries_until: event.body.closes_at + queries });
    }
    let frame = Frame::in_league(app, caller, found.league).await?;
    Ok(NightsPage { frame, season, name: found.body.name, nights, now })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, SeasonId(id.0)).await?)
}

/// Makes a night final that is as it was seen; `version` and `mark` are those of the look.
async fn settle(app: &App, caller: Caller, id: EventId, version: i64, mark: &str) -> Result<(), Problem> {
    let seen = app.leagues.event_overview(caller, id).await?;
    if seen.event.event.is_final() {
        // Sent twice it is done once.
        return Ok(());
    }
    if seen.mark.to_string() != mark {
        return Err(Refusal::Stale(version).into());
    }
    let patch = Body(Bytes::from(json!({ "state": "final" }).to_string()));
    let patched = patch.patch::<Event>(|| Schema::Object(event_fields()))?;
    app.leagues.change_event(caller, id, IfMatch::Version(version), patched).await?;
    Ok(())
}

/// Asks about the nights that are ready.
fn question(shown: NightsPage) -> Question {
    let kept = |over: &Over| {
        let event = &over.seen.event;
        ("night", format!("{} {} {}", event.id, event.version, over.seen.mark))
    };
    let line = |over: &Over| format!("{}: {}", over.seen.event.event.name, shown.says(over));
    let ready = shown.count();
    let nights = if ready == 1 { "this night".to_owned() } else { format!("these {ready} nights") };
    let there = format!("/seasons/{}/close", shown.season);
    Question {
        title: format!("Make {nights} final?"),
        now: shown.ready().map(line).collect(),
        lost: SETTLED.map(str::to_owned).into(),
        moves: vec!["Handicaps and rulings, as after every final event.".into()],
        action: there.clone(),
        kept: shown.ready().map(kept).collect(),
        button: "Make them final".into(),
        back: there,
        frame: shown.frame,
        ..Question::default()
    }
}

async fn close(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let season = SeasonId(id.0);
    let there = format!("/seasons/{season}/close");
    if !is_answered(&form) {
        let shown = read(&app, caller, season).await?;
        return if shown.count() == 0 { Ok(see_other(&there)) } else { question(shown).ask() };
    }
    for night in form.all("night") {
        let mut parts = night.split(' ');
        let event = parts.next().and_then(|id| Uuid::try_parse(id).ok()).map(EventId);
        let version = parts.next().and_then(|version| version.parse().ok());
        let (Some(event), Some(version), Some(mark)) = (event, version, parts.next()) else {
            return Err(Problem::not_found());
        };
        if let Err(problem) = settle(&app, caller, event, version, mark).await {
            let fault = format!("{}: those before it are final, please look at the rest again", problem.detail());
            let rest = read(&app, caller, season).await?;
            return question(rest).ask_again(StatusCode::CONFLICT, &form, &fault);
        }
    }
    Ok(see_other(&there))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/seasons/{id}/close").route(super::reads().to(show)).route(web::post().to(close)));
}
