//! The form that adds a course with its first tee.

use super::fields::FormPage;
use super::form::{Form, checked_body};
use super::typed::{number, text};
use super::{Frame, page, see_other};
use crate::domain::facts::{Course, Fault};
use crate::domain::ids::LeagueId;
use crate::domain::rule::Rule;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use serde_json::{Value, json};

fn course_form(frame: Frame, league: LeagueId) -> FormPage {
    let fields = vec![
        text("name", "Name of the course", ""),
        text("tee_name", "Name of the tee", ""),
        text("course_rating", "Course rating (20 to 90)", ""),
        text("slope_rating", "Slope rating (55 to 155)", "113"),
        text("pars", "Pars, in order of the holes (9 or 18 numbers)", ""),
        text("stroke_indexes", "Stroke indexes, in order of the holes", ""),
    ];
    let mut form = FormPage::new(frame, "Add a course", format!("/leagues/{league}/courses/new"), fields);
    form.hint =
        "Start with one tee. Ratings of each nine, for nine-hole events on 18 holes, can be added with the API.";
    form
}

fn course_owner(pointer: &str) -> &'static str {
    const OWNERS: [(&str, &str); 4] = [
        ("course_rating", "course_rating"),
        ("slope_rating", "slope_rating"),
        ("par", "pars"),
        ("stroke_index", "stroke_indexes"),
    ];
    let last = pointer.rsplit('/').next().unwrap_or_default();
    match OWNERS.into_iter().find(|(part, _)| *part == last) {
        Some((_, owner)) => owner,
        None if pointer == "/name" => "name",
        None if last == "name" => "tee_name",
        None => "pars",
    }
}

async fn new_course(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    page(&course_form(Frame::in_league(&app, caller, LeagueId(id.0)).await?, LeagueId(id.0)))
}

fn course_body(form: &Form) -> Result<Value, Problem> {
    let numbers = |name: &'static str| -> Result<Vec<u32>, Problem> {
        let words = form.text(name).split([' ', ',', ';', '\t', '\n']).filter(|word| !word.is_empty());
        let unreadable = |word: &str| {
            let pointer = if name == "pars" { "/tees/0/par" } else { "/tees/0/stroke_index" };
            Problem::faults(vec![Fault::new(pointer, Rule::Validation, format!("{word:?} is not a number"))])
        };
        words.map(|word| word.parse().map_err(|_| unreadable(word))).collect()
    };
    let (pars, indexes) = (numbers("pars")?, numbers("stroke_indexes")?);
    if pars.len() != indexes.len() {
        let detail = format!("there are {} stroke indexes for {} pars", indexes.len(), pars.len());
        return Err(Problem::faults(vec![Fault::new("/tees/0/stroke_index", Rule::Validation, detail)]));
    }
    let holes: Vec<Value> = (1..)
        .zip(pars.iter().zip(&indexes))
        .map(|(number, (par, index))| json!({ "number": number, "par": par, "stroke_index": index }))
        .collect();
    let (rating, slope) = (number(form, "course_rating"), number(form, "slope_rating"));
    let tee = json!({ "name": form.text("tee_name"), "course_rating": rating, "slope_rating": slope, "holes": holes });
    Ok(json!({ "name": form.text("name"), "tees": [tee] }))
}

async fn add_course(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    let schema = Schema::Object(body::course::course_fields());
    let done = async {
        let operation = format!("POST /leagues/{league}/courses/new");
        let body = course_body(&form)?;
        let (key, course) = checked_body::<Course>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_course(key, league, course).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/leagues/{league}/organize"))),
        Err(problem) => {
            course_form(Frame::in_league(&app, caller, league).await?, league).again(&form, problem, course_owner)
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let form = web::resource("/leagues/{id}/courses/new");
    config.service(form.route(super::reads().to(new_course)).route(web::post().to(add_course)));
}
