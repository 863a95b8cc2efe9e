//! A league is created, and its name and time zone changed.

use crate::domain::facts::League;
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::pages::fields::{FormPage, version};
use crate::pages::form::{Form, checked_body};
use crate::pages::typed::{first_part, id_of, text};
use crate::pages::{Frame, page, reads, see_other};
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use serde_json::json;

const ZONE: &str = "Time zone, such as Europe/Lisbon: dates and closing times follow it";

fn league_form(frame: Frame) -> FormPage {
    let zone = text("time_zone", ZONE, "");
    let fields = vec![text("name", "Name of the league", ""), zone];
    let mut form = FormPage::new(frame, "Create a league", "/leagues/new".into(), fields);
    form.hint = "You will be its organizer.";
    form.button = "Create league";
    form
}

async fn new_league(app: Data<App>, caller: Caller) -> Answer {
    page(&league_form(Frame::of(&app, caller).await?))
}

async fn found_league(app: Data<App>, caller: Caller, form: Form) -> Answer {
    let body = json!({ "name": form.text("name"), "time_zone": form.text("time_zone").trim() });
    let schema = Schema::Object(body::league::league_fields());
    let done = async {
        let (key, league) = checked_body::<League>(&app, caller, "POST /leagues/new".into(), &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_league(key, league).await?)
    };
    match done.await {
        Ok(reply) => Ok(see_other(&format!("/leagues/{}/organize", id_of(&reply)))),
        Err(problem) => league_form(Frame::of(&app, caller).await?).again(&form, problem, first_part),
    }
}

fn body() -> Schema {
    Schema::Object(body::league::league_fields())
}

async fn edit_form(app: &App, caller: Caller, id: LeagueId) -> Result<FormPage, Problem> {
    app.leagues.may_organize(caller, id).await?;
    let (league, version) = app.leagues.league(caller, id).await?;
    let fields = vec![
        text("name", "Name of the league", &league.league.name),
        text("time_zone", ZONE, &league.league.time_zone),
    ];
    let frame = Frame::in_league(app, caller, id).await?;
    let title = format!("Edit {}", league.league.name);
    let mut form = FormPage::of_version(frame, title, format!("/leagues/{id}/edit"), fields, version);
    form.hint = "Another time zone moves no event: its times are then shown as the clocks there say.";
    form.back = format!("/leagues/{id}/organize");
    Ok(form)
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, LeagueId(id.0)).await?)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = LeagueId(id.0);
    let shown = edit_form(&app, caller, id).await?;
    let patch = json!({ "name": form.text("name"), "time_zone": form.text("time_zone").trim() });
    let done = async {
        let patched = Body(Bytes::from(patch.to_string())).patch::<League>(body)?;
        Ok::<_, Problem>(app.leagues.change_league(caller, id, version(&form), patched).await?)
    };
    let done = done.await;
    shown.changed(&form, done, first_part, &format!("/leagues/{id}/organize"))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/new").route(reads().to(new_league)).route(web::post().to(found_league)))
        .service(at("/leagues/{id}/edit").route(reads().to(edit)).route(web::post().to(change)));
}
