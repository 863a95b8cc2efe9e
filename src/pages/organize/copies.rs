//! Events and seasons copied to later days: what would be added is shown first.

use crate::domain::facts::{Event, EventCopies, Season, SeasonCopy};
use crate::domain::ids::{EventId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::views::EventView;
use crate::pages::ask::{Question, is_answered};
use crate::pages::fields::{FormPage, Kind, field};
use crate::pages::form::{Form, checked_body};
use crate::pages::typed::{choice, first_part, id_of, number, text};
use crate::pages::{Frame, page, reads, see_other, words};
use crate::storage::documents::{EVENTS, SEASONS};
use crate::wire::body::copies;
use actix_web::web::{self, Data, ServiceConfig};
use serde_json::{Value, json};

const SKIPPED: &str = "Days to leave out, such as 2027-02-18 (separate them by spaces)";

/// Reads the days that are left out.
fn skipped(form: &Form) -> Value {
    form.text("skip").split([' ', ',', ';', '\r', '\n']).filter(|day| !day.is_empty()).collect()
}

/// Names an event with its times, for whoever looks at copies.
fn line(event: &EventView, frame: &Frame) -> String {
    let (opens, closes) = (event.event.opens_at, event.event.closes_at);
    let to = frame.zone().to_datetime(closes).strftime("%H:%M").to_string();
    format!("{}: {} to {to}", event.event.name, words::moment(&opens, frame.zone()))
}

/// Asks whether copies are made, with what was typed.
fn question(shown: FormPage, form: &Form, title: String, now: Vec<String>, button: String) -> Question {
    let sent = shown.fields.iter().map(|field| (field.name, form.text(field.name).to_owned()));
    let kept = sent.chain([("key", form.text("key").to_owned())]).collect();
    let (action, back, frame) = (shown.action, shown.back, shown.frame);
    Question { title, now, action, kept, button, back, frame, ..Question::default() }
}

async fn event_form(app: &App, caller: Caller, id: EventId) -> Result<FormPage, Problem> {
    let found = app.leagues.document::<Event>(caller, &EVENTS, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let fields = vec![
        text("name", "Name of the first copy (leave empty to count on)", ""),
        text("days", "Days between one event and the next (7: every week)", "7"),
        text("times", "How many copies (1 to 60)", "1"),
        text("skip", SKIPPED, ""),
    ];
    let mut form = FormPage::new(frame, format!("Copy {}", found.body.name), format!("/events/{id}/copies"), fields);
    form.hint =
        "Tee, green speed and the time of the day stay the same. You will see the dates before anything is added.";
    form.button = "Show the dates";
    form.back = format!("/events/{id}");
    Ok(form)
}

async fn ask_event(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&event_form(&app, caller, EventId(id.0)).await?)
}

async fn copy_event(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = EventId(id.0);
    let shown = event_form(&app, caller, id).await?;
    let body = json!({
        "name": form.given("name"), "days": number(&form, "days"), "times": number(&form, "times"),
        "skip": skipped(&form),
    });
    let done = async {
        let operation = format!("POST /events/{id}/copies");
        let (key, terms) = checked_body::<EventCopies>(&app, caller, operation, &form, &body, &copies::of_event())?;
        if !is_answered(&form) {
            return Ok(Some(app.leagues.preview_event_copies(key, id, terms).await?));
        }
        app.leagues.copy_event(key, id, terms).await?;
        Ok::<_, Problem>(None)
    };
    match done.await {
        Ok(None) => {
            let league = shown.frame.league.as_ref().map(|place| place.id.to_string()).unwrap_or_default();
            Ok(see_other(&format!("/leagues/{league}/organize")))
        }
        Ok(Some(events)) => {
            let (title, button) = match events.len() {
                1 => ("Add this event?".to_owned(), "Add this event".to_owned()),
                count => (format!("Add these {count} events?"), format!("Add these {count} events")),
            };
            let now = events.iter().map(|event| line(event, &shown.frame)).collect();
            question(shown, &form, title, now, button).ask()
        }
        Err(problem) => shown.again(&form, problem, first_part),
    }
}

async fn season_form(app: &App, caller: Caller, id: SeasonId) -> Result<FormPage, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let fields = vec![
        text("name", "Name of the new season (leave empty to count on)", ""),
        text("days", "Days later (364: the same weekdays a year on)", "364"),
        choice("events", "Its events", &[("true", "Copy them too"), ("false", "Leave them out")]),
        field("skip", SKIPPED, Kind::Lines, ""),
    ];
    let mut form = FormPage::new(frame, format!("Copy {}", found.body.name), format!("/seasons/{id}/copies"), fields);
    form.hint = "Flights, gimmes, fair-play terms and every competition come along; cards and results do not. You will see \
                 the dates before anything is added.";
    form.button = "Show the dates";
    form.back = format!("/seasons/{id}");
    Ok(form)
}

async fn ask_season(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&season_form(&app, caller, SeasonId(id.0)).await?)
}

async fn copy_season(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = SeasonId(id.0);
    let shown = season_form(&app, caller, id).await?;
    let body = json!({
        "name": form.given("name"), "days": number(&form, "days"), "events": form.text("events") != "false",
        "skip": skipped(&form),
    });
    let key = || {
        let operation = format!("POST /seasons/{id}/copies");
        checked_body::<SeasonCopy>(&app, caller, operation, &form, &body, &copies::of_season())
    };
    if is_answered(&form) {
        let done = async {
            let (key, terms) = key()?;
            Ok::<_, Problem>(app.leagues.copy_season(key, id, terms).await?)
        };
        return match done.await {
            Ok(reply) => Ok(see_other(&format!("/seasons/{}", id_of(&reply)))),
            Err(problem) => shown.again(&form, problem, first_part),
        };
    }
    let seen = async {
        let (key, terms) = key()?;
        Ok::<_, Problem>(app.leagues.preview_season_copy(key, id, terms).await?)
    };
    match seen.await {
        Ok(copy) => {
            let season = &copy.season.season;
            let names: Vec<&str> = copy.competitions.iter().map(|made| made.terms.name.as_str()).collect();
            let mut now = vec![
                format!("From {} to {}.", season.starts_on, season.ends_on),
                format!("Competitions: {}.", names.join(", ")),
            ];
            now.extend(copy.events.iter().map(|event| line(event, &shown.frame)));
            let title = format!("Add the season {}?", season.name);
            question(shown, &form, title, now, "Add this season".into()).ask()
        }
        Err(problem) => shown.again(&form, problem, first_part),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/events/{id}/copies").route(reads().to(ask_event)).route(web::post().to(copy_event)))
        .service(at("/seasons/{id}/copies").route(reads().to(ask_season)).route(web::post().to(copy_season)));
}
