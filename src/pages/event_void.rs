//! An event is made void, or counts again: both are asked about first.

use super::ask::{Question, Typed, is_answered};
use super::event_end::cannot;
use super::fields::version;
use super::form::Form;
use super::{Frame, see_other};
use crate::domain::facts::Event;
use crate::domain::ids::EventId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::event::lay_down::EventOverview;
use crate::wire::body::event::event_fields;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use serde_json::{Value, json};

/// Whether the cards count for the index, as the form says it.
fn counts_for_index(form: &Form) -> bool {
    form.text("handicap") != "no"
}

async fn change(app: &App, caller: Caller, id: EventId, form: &Form, undo: bool) -> Result<(), Problem> {
    let void = match undo {
        true => Value::Null,
        false => json!({ "reason": form.text("reason").trim(), "handicap": counts_for_index(form) }),
    };
    let patch = Body(Bytes::from(json!({ "void": void }).to_string()));
    let patched = patch.patch::<Event>(|| Schema::Object(event_fields()))?;
    app.leagues.change_event(caller, id, version(form), patched).await?;
    Ok(())
}

async fn decide(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = EventId(id.0);
    let undo = form.has("undo");
    let mut seen = app.leagues.event_overview(caller, id).await?;
    let there = format!("/events/{id}");
    if seen.event.event.is_void() != undo {
        // Sent twice it is done once.
        return Ok(see_other(&there));
    }
    let refusal = seen.is_counted_as_it_is_for.take();
    let frame = Frame::in_league(&app, caller, seen.league).await?;
    let question = if undo { before_undoing(frame, &seen) } else { before_void(frame, &seen, &form) };
    match refusal {
        Some(refusal) => cannot(question, &form, refusal, format!("{} stays as it is", seen.event.event.name)),
        None if !is_answered(&form) => question.ask(),
        None => match change(&app, caller, id, &form, undo).await {
            Ok(()) => Ok(see_other(&there)),
            Err(problem) => question.refused(&form, problem),
        },
    }
}

/// Says until when it can be taken back, or done at all.
fn until_when(seen: &EventOverview) -> &'static str {
    match seen.event.event.is_final() {
        true => "This can be changed until the next event of the season is final.",
        false => {
            "This can be changed until the event is final, and after that until the next event of the season is made final."
        }
    }
}

fn before_void(frame: Frame, seen: &EventOverview, form: &Form) -> Question {
    let event = &seen.event;
    let index = match counts_for_index(form) {
        true => "Its cards count for the league index as before.",
        false => "Its cards do not count for the league index any more.",
    };
    let now = [
        "No competition will count it: it has no places, no points and no results of fixtures, and it takes no more cards.",
        index,
        "Putting and fair play keep its cards, and the cards stay where they are.",
        until_when(seen),
    ];
    Question {
        title: format!("Make {} void?", event.event.name),
        now: now.map(str::to_owned).into(),
        action: format!("/events/{}/void", event.id),
        kept: vec![
            ("version", event.version.to_string()),
            ("handicap", if counts_for_index(form) { "yes" } else { "no" }.to_owned()),
        ],
        typed: Some(Typed {
            name: "reason",
            label: "Reason, which everybody in the league reads".into(),
            is_required: true,
            value: String::new(),
        }),
        button: "Make it void".into(),
        back: format!("/events/{}", event.id),
        frame,
        ..Question::default()
    }
}

fn before_undoing(frame: Frame, seen: &EventOverview) -> Question {
    let event = &seen.event;
    let mut now = Vec::from(event.event.void.as_ref().map(|void| format!("It is void: {}", void.reason)).as_slice());
    now.push("Every competition will count it, and its cards count for the league index.".to_owned());
    now.push(until_when(seen).to_owned());
    Question {
        title: format!("Count {} again?", event.event.name),
        now,
        action: format!("/events/{}/void", event.id),
        kept: vec![("version", event.version.to_string()), ("undo", "yes".into())],
        button: "Count it again".into(),
        back: format!("/events/{}", event.id),
        frame,
        ..Question::default()
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/events/{id}/void").route(web::post().to(decide)));
}
