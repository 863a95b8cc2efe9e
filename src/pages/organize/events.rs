//! Events: added and changed.

use super::other_tees;
use crate::domain::facts::{Course, Event, Season};
use crate::domain::ids::{EventId, LeagueId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::pages::fields::{Field, FormPage, Kind, field, version};
use crate::pages::form::{Form, checked_body};
use crate::pages::typed::{choice, first_part, id_of, instant, local, number, text, typed};
use crate::pages::{Frame, page, reads, see_other};
use crate::storage::documents::{COURSES, EVENTS, SEASONS};
use crate::wire::body::event::event_fields;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use jiff::tz::TimeZone;
use serde_json::{Value, json};
use uuid::Uuid;

/// How many courses a form offers.
const MOST: i64 = 200;

/// Reads the league's tees by id, each with the words for it.
async fn tees(app: &App, caller: Caller, league: LeagueId) -> Result<Vec<(String, String)>, Problem> {
    let courses = app.leagues.documents::<Course>(caller, &COURSES, league, Uuid::nil(), MOST).await?;
    let of_course = |course: &Course| {
        let tee = |tee: &crate::domain::facts::Tee| (tee.id.to_string(), format!("{}, {}", course.name, tee.name));
        course.tees.iter().map(tee).collect::<Vec<_>>()
    };
    Ok(courses.iter().flat_map(|course| of_course(&course.body)).collect())
}

/// The fields of an event; `event` is what stands in them, or nothing.
fn fields(tees: Vec<(String, String)>, event: Option<&Event>, zone: &TimeZone) -> Vec<Field> {
    let body = event.map(|event| serde_json::to_value(event).unwrap_or_default()).unwrap_or_default();
    let or = |name: &str, usual: &str| match &body[name] {
        Value::Null => usual.to_owned(),
        value => typed(value),
    };
    let first = tees.first().map(|(id, _)| id.clone()).unwrap_or_default();
    let time = |at: Option<jiff::Timestamp>| at.map(|at| local(at, zone)).unwrap_or_default();
    let mut holes = choice("holes", "Holes", &[("18", "18"), ("9", "9")]);
    let mut first_hole = choice("first_hole", "First hole", &[("1", "1"), ("10", "10")]);
    holes.value = or("holes", "18");
    first_hole.value = or("first_hole", "1");
    let conditions = "Playing conditions: the day's adjustment of differentials (-1 to 3)";
    vec![
        text("name", "Name of the event", &or("name", "")),
        field("tee_id", "Course and tee", Kind::Choice(tees), or("tee_id", &first)),
        text("stimp_ft", "Green speed, ft (4 to 16)", &or("stimp_ft", "10")),
        field("opens_at", "Opening time (league time)", Kind::Input("datetime-local"), time(event.map(|e| e.opens_at))),
        field(
            "closes_at",
            "Closing time (league time)",
            Kind::Input("datetime-local"),
            time(event.map(|e| e.closes_at)),
        ),
        holes,
        first_hole,
        text("playing_conditions", conditions, &or("playing_conditions", "0")),
    ]
}

fn body(form: &Form, zone: &TimeZone) -> Value {
    json!({
        "name": form.text("name").trim(), "tee_id": form.text("tee_id"), "stimp_ft": number(form, "stimp_ft"),
        "opens_at": instant(form, "opens_at", zone), "closes_at": instant(form, "closes_at", zone),
        "holes": number(form, "holes"), "first_hole": number(form, "first_hole"),
        "playing_conditions": number(form, "playing_conditions"),
    })
}

async fn new_form(app: &App, caller: Caller, season: SeasonId) -> Result<FormPage, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let tees = tees(app, caller, found.league).await?;
    let is_without = tees.is_empty();
    let fields = fields(tees, None, &frame.zone());
    let title = format!("Add an event to {}", found.body.name);
    let mut form = FormPage::new(frame, title, format!("/seasons/{season}/events/new"), fields);
    if is_without {
        form.hint = "Add a course first. An event is played from one of its tees.";
    }
    form.back = format!("/leagues/{}/organize", found.league);
    Ok(form)
}

async fn new(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&new_form(&app, caller, SeasonId(id.0)).await?)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let season = SeasonId(id.0);
    let shown = new_form(&app, caller, season).await?;
    let mut body = body(&form, &shown.frame.zone());
    if form.given("playing_conditions").is_none() {
        body["playing_conditions"] = 0.into();
    }
    let schema = Schema::Object(event_fields());
    let done = async {
        let operation = format!("POST /seasons/{season}/events/new");
        let (key, event) = checked_body::<Event>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_event(key, season, event).await?)
    };
    match done.await {
        Ok(reply) => Ok(see_other(&format!("/events/{}", id_of(&reply)))),
        Err(problem) => shown.again(&form, problem, first_part),
    }
}

/// What a form of an event is made from, and who and what its lines can name.
struct Edited {
    shown: FormPage,
    known: other_tees::Known,
}

async fn edit_form(app: &App, caller: Caller, id: EventId) -> Result<Edited, Problem> {
    let found = app.leagues.document::<Event>(caller, &EVENTS, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let season = found.parent.unwrap_or_default();
    let season = app.leagues.document::<Season>(caller, &SEASONS, season).await?.body;
    let tees = tees(app, caller, found.league).await?;
    let members = app.leagues.members_of(caller, found.league, Uuid::nil(), i64::MAX).await?;
    let known = other_tees::Known {
        flights: season.flights.into_iter().map(|flight| flight.name).collect(),
        members: members.into_iter().map(|member| (member.id, member.member.display_name)).collect(),
        tees: tees.clone(),
    };
    let mut fields = fields(tees, Some(&found.body), &frame.zone());
    let label = "Other tees, one per line: player or flight = course, tee";
    fields.push(field("tees", label, Kind::Lines, known.lines(&found.body.tees)));
    let title = format!("Edit {}", found.body.name);
    let mut shown = FormPage::of_version(frame, title, format!("/events/{id}/edit"), fields, found.version);
    shown.hint = "Cards that were handed in are scored again. The number of holes and the first hole stay once there is a \
                  card.";
    shown.back = format!("/events/{id}");
    Ok(Edited { shown, known })
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, EventId(id.0)).await?.shown)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = EventId(id.0);
    let Edited { shown, known } = edit_form(&app, caller, id).await?;
    let done = async {
        let mut patch = body(&form, &shown.frame.zone());
        patch["tees"] = known.read(form.text("tees"))?;
        let patch = shown.only_changed(&form, patch);
        let patched = Body(Bytes::from(patch.to_string())).patch::<Event>(|| Schema::Object(event_fields()))?;
        Ok::<_, Problem>(app.leagues.change_event(caller, id, version(&form), patched).await?)
    };
    let done = done.await;
    shown.changed(&form, done, first_part, &format!("/events/{id}"))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/seasons/{id}/events/new").route(reads().to(new)).route(web::post().to(add)))
        .service(at("/events/{id}/edit").route(reads().to(edit)).route(web::post().to(change)));
}
