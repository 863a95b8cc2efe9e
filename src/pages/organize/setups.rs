//! Simulators: listed, added, changed and deleted by their owners and by organizers.

use crate::domain::facts::Setup;
use crate::domain::ids::{LeagueId, SetupId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::SetupView;
use crate::pages::ask::{Question, is_answered};
use crate::pages::fields::{Field, FormPage, Kind, field, version};
use crate::pages::form::{Form, checked_body};
use crate::pages::names::Names;
use crate::pages::typed::{choice, first_part, number, text, typed};
use crate::pages::{Frame, page, reads, see_other};
use crate::storage::documents::SETUPS;
use crate::wire::body::setup::setup_fields;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

/// How many simulators the page lists.
const MOST: i64 = 1_000;

const SENSORS: [(&str, &str); 4] =
    [("camera", "Cameras"), ("radar", "Radar"), ("infrared", "Infrared"), ("other", "Something else")];

#[derive(Template)]
#[template(path = "setups.html")]
struct SetupsPage {
    frame: Frame,
    league: LeagueId,
    setups: Vec<SetupView>,
    names: Names,
}

impl SetupsPage {
    fn sensor(&self, setup: &SetupView) -> &'static str {
        let word = serde_json::to_value(setup.setup.sensor).unwrap_or_default();
        SENSORS.iter().find(|(known, _)| word == *known).map_or("", |(_, words)| words)
    }

    fn may_change(&self, setup: &SetupView) -> bool {
        self.frame.is_organizer() || setup.member_id == Some(self.frame.member())
    }
}

async fn list(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let league = LeagueId(id.0);
    let frame = Frame::in_league(&app, caller, league).await?;
    let found = app.leagues.documents::<Setup>(caller, &SETUPS, league, Uuid::nil(), MOST).await?;
    let names = Names::of(&app, caller, league).await?;
    let mut setups: Vec<SetupView> = found.into_iter().map(SetupView::from).collect();
    setups.sort_by_key(|setup| (!setup.setup.shared, setup.setup.label.to_lowercase(), setup.id));
    page(&SetupsPage { frame, league, setups, names })
}

fn fields(setup: &Value) -> Vec<Field> {
    let mut sensor = choice("sensor", "What the sensor measures with", &SENSORS);
    let mut shared = choice("shared", "Who may use it", &[("false", "Its owner"), ("true", "Every player")]);
    if setup.is_object() {
        (sensor.value, shared.value) = (typed(&setup["sensor"]), typed(&setup["shared"]));
    }
    let radius = "Distance inside which it straightens putts, ft (leave empty if it does not, or nobody knows)";
    vec![
        text("label", "Name of the simulator", &typed(&setup["label"])),
        sensor,
        shared,
        text("softening_radius_ft", radius, &typed(&setup["softening_radius_ft"])),
        field("notes", "Notes", Kind::Lines, typed(&setup["notes"])),
    ]
}

fn body(form: &Form) -> Value {
    json!({
        "label": form.text("label").trim(), "sensor": form.text("sensor"), "shared": form.text("shared") == "true",
        "softening_radius_ft": number(form, "softening_radius_ft"), "notes": form.text("notes").replace("\r\n", "\n"),
    })
}

const DECLARED: &str = "What is declared about straightened putts holds for cards handed in afterwards.";

async fn new_form(app: &App, caller: Caller, league: LeagueId) -> Result<FormPage, Problem> {
    let frame = Frame::in_league(app, caller, league).await?;
    let mut form =
        FormPage::new(frame, "Add a simulator", format!("/leagues/{league}/setups/new"), fields(&Value::Null));
    form.hint = DECLARED;
    form.back = format!("/leagues/{league}/setups");
    Ok(form)
}

async fn new(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&new_form(&app, caller, LeagueId(id.0)).await?)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    let shown = new_form(&app, caller, league).await?;
    let done = async {
        let operation = format!("POST /leagues/{league}/setups/new");
        let schema = Schema::Object(setup_fields());
        let (key, setup) = checked_body::<Setup>(&app, caller, operation, &form, &body(&form), &schema)?;
        Ok::<_, Problem>(app.leagues.create_setup(key, league, setup).await?)
    };
    let done = done.await;
    shown.changed(&form, done, first_part, &format!("/leagues/{league}/setups"))
}

/// Reads a simulator that the caller may change; with its league.
async fn edit_form(app: &App, caller: Caller, id: SetupId) -> Result<(FormPage, LeagueId), Problem> {
    let found = app.leagues.document::<Setup>(caller, &SETUPS, id.0).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    if found.parent != Some(frame.member().0) {
        app.leagues.may_organize(caller, found.league).await?;
    }
    let title = format!("Edit {}", found.body.label);
    let fields = fields(&serde_json::to_value(&found.body).unwrap_or_default());
    let mut form = FormPage::of_version(frame, title, format!("/setups/{id}/edit"), fields, found.version);
    form.hint = DECLARED;
    form.back = format!("/leagues/{}/setups", found.league);
    form.acts.push((format!("/setups/{id}/removal"), "Delete this simulator…"));
    Ok((form, found.league))
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, SetupId(id.0)).await?.0)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = SetupId(id.0);
    let (shown, league) = edit_form(&app, caller, id).await?;
    let patch = shown.only_changed(&form, body(&form));
    let done = async {
        let patched = Body(Bytes::from(patch.to_string())).patch::<Setup>(|| Schema::Object(setup_fields()))?;
        Ok::<_, Problem>(app.leagues.change_setup(caller, id, version(&form), patched).await?)
    };
    let done = done.await;
    shown.changed(&form, done, first_part, &format!("/leagues/{league}/setups"))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = SetupId(id.0);
    let found = app.leagues.document::<Setup>(caller, &SETUPS, id.0).await?;
    let there = format!("/leagues/{}/setups", found.league);
    let frame = Frame::in_league(&app, caller, found.league).await?;
    if found.parent != Some(frame.member().0) {
        app.leagues.may_organize(caller, found.league).await?;
    }
    let question = Question {
        title: format!("Delete the simulator {}?", found.body.label),
        lost: vec!["Its name, its notes and what is known of the files that it writes.".into()],
        stays: vec!["The audit log, which says that you deleted it.".into()],
        action: format!("/setups/{id}/removal"),
        button: "Delete this simulator".into(),
        back: there.clone(),
        frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_setup(caller, id, IfMatch::Version(found.version)).await {
        Ok(_) => Ok(see_other(&there)),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/setups").route(reads().to(list)))
        .service(at("/leagues/{id}/setups/new").route(reads().to(new)).route(web::post().to(add)))
        .service(at("/setups/{id}/edit").route(reads().to(edit)).route(web::post().to(change)))
        .service(at("/setups/{id}/removal").route(web::post().to(remove)));
}
