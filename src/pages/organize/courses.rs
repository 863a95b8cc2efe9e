//! Courses with their tees: added, changed, deleted.

use crate::domain::facts::{Course, Fault, Tee};
use crate::domain::ids::{CourseId, LeagueId, TeeId};
use crate::domain::rule::Rule;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::pages::ask::{Question, is_answered};
use crate::pages::fields::{Field, FormPage, Kind, field, version};
use crate::pages::form::{Form, checked_body};
use crate::pages::typed::{number, text, typed};
use crate::pages::{Frame, page, reads, see_other};
use crate::storage::documents::{COURSES, Document};
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

/// The fields of a tee, with what stands in them.
fn tee_fields(tee: Option<&Tee>) -> Vec<Field> {
    let body = tee.map(|tee| serde_json::to_value(tee).unwrap_or_default()).unwrap_or_default();
    let holes = |name: &str| {
        let holes = body["holes"].as_array().cloned().unwrap_or_default();
        holes.iter().map(|hole| typed(&hole[name])).collect::<Vec<_>>().join(" ")
    };
    let nine = |first: u64, name: &str| {
        let nines = body["nines"].as_array().cloned().unwrap_or_default();
        nines.iter().find(|nine| nine["first_hole"] == first).map(|nine| typed(&nine[name])).unwrap_or_default()
    };
    let slope = if tee.is_some() { typed(&body["slope_rating"]) } else { "113".to_owned() };
    vec![
        text("tee_name", "Name of the tee", &typed(&body["name"])),
        text("course_rating", "Course rating (20 to 90)", &typed(&body["course_rating"])),
        text("slope_rating", "Slope rating (55 to 155)", &slope),
        text("pars", "Pars, in order of the holes (9 or 18 numbers)", &holes("par")),
        text("stroke_indexes", "Stroke indexes, in order of the holes", &holes("stroke_index")),
        text("front_rating", "Course rating of holes 1 to 9 alone, for nine-hole events", &nine(1, "course_rating")),
        text("front_slope", "Slope rating of holes 1 to 9", &nine(1, "slope_rating")),
        text("back_rating", "Course rating of holes 10 to 18 alone", &nine(10, "course_rating")),
        text("back_slope", "Slope rating of holes 10 to 18", &nine(10, "slope_rating")),
    ]
}

/// Returns the field that a pointer into a course stems from.
fn owner(pointer: &str) -> &str {
    const OWNERS: [(&str, &str); 4] = [
        ("course_rating", "course_rating"),
        ("slope_rating", "slope_rating"),
        ("par", "pars"),
        ("stroke_index", "stroke_indexes"),
    ];
    let last = pointer.rsplit('/').next().unwrap_or_default();
    if pointer.contains("/nines/") {
        return match (pointer.contains("/nines/0"), last) {
            (true, "slope_rating") => "front_slope",
            (true, _) => "front_rating",
            (false, "slope_rating") => "back_slope",
            (false, _) => "back_rating",
        };
    }
    match OWNERS.into_iter().find(|(part, _)| *part == last) {
        Some((_, owner)) => owner,
        None if pointer == "/name" => "name",
        None if last == "name" => "tee_name",
        None => "pars",
    }
}

/// Returns the field of a form in which the back nine alone has ratings.
fn owner_of_back(pointer: &str) -> &str {
    match (pointer.contains("/nines/"), pointer.rsplit('/').next()) {
        (false, _) => owner(pointer),
        (true, Some("slope_rating")) => "back_slope",
        (true, _) => "back_rating",
    }
}

/// Returns what finds the field that a pointer stems from: a body lists only the nines that have ratings.
fn owner_in(form: &Form) -> fn(&str) -> &str {
    let is_front = form.given("front_rating").is_some() || form.given("front_slope").is_some();
    if is_front { owner } else { owner_of_back }
}

/// Makes the body of a tee from what was typed.
fn tee_body(form: &Form) -> Result<Value, Problem> {
    let numbers = |name: &'static str| -> Result<Vec<u32>, Problem> {
        let words = form.text(name).split([' ', ',', ';', '\t', '\r', '\n']).filter(|word| !word.is_empty());
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
    let nine = |first: u8, rating: &str, slope: &str| {
        let is_given = form.given(rating).is_some() || form.given(slope).is_some();
        let (rating, slope) = (number(form, rating), number(form, slope));
        is_given.then(|| json!({ "first_hole": first, "course_rating": rating, "slope_rating": slope }))
    };
    let nines = [nine(1, "front_rating", "front_slope"), nine(10, "back_rating", "back_slope")];
    let nines: Vec<Value> = nines.into_iter().flatten().collect();
    let (rating, slope) = (number(form, "course_rating"), number(form, "slope_rating"));
    let name = form.text("tee_name").trim();
    Ok(json!({ "name": name, "course_rating": rating, "slope_rating": slope, "holes": holes, "nines": nines }))
}

fn course_form(frame: Frame, league: LeagueId) -> FormPage {
    let fields = std::iter::once(text("name", "Name of the course", "")).chain(tee_fields(None)).collect();
    let mut form = FormPage::new(frame, "Add a course", format!("/leagues/{league}/courses/new"), fields);
    form.hint =
        "Start with one tee; more can be added afterwards. A course without a rating is rated as its par, slope 113.";
    form.back = format!("/leagues/{league}/organize");
    form
}

async fn new(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    page(&course_form(Frame::in_league(&app, caller, LeagueId(id.0)).await?, LeagueId(id.0)))
}

fn schema() -> Schema {
    Schema::Object(body::course::course_fields())
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    let done = async {
        let operation = format!("POST /leagues/{league}/courses/new");
        let body = json!({ "name": form.text("name").trim(), "tees": [tee_body(&form)?] });
        let (key, course) = checked_body::<Course>(&app, caller, operation, &form, &body, &schema())?;
        Ok::<_, Problem>(app.leagues.create_course(key, league, course).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/leagues/{league}/organize"))),
        Err(problem) => {
            course_form(Frame::in_league(&app, caller, league).await?, league).again(&form, problem, owner_in(&form))
        }
    }
}

#[derive(Template)]
#[template(path = "course.html")]
struct CoursePage {
    frame: Frame,
    id: CourseId,
    course: Course,
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let found = app.leagues.document::<Course>(caller, &COURSES, id.0).await?;
    let frame = Frame::in_league(&app, caller, found.league).await?;
    page(&CoursePage { frame, id: CourseId(id.0), course: found.body })
}

async fn organized(app: &App, caller: Caller, id: CourseId) -> Result<(Document<Course>, Frame), Problem> {
    let found = app.leagues.document::<Course>(caller, &COURSES, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    Ok((found, frame))
}

async fn replace(app: &App, caller: Caller, id: CourseId, form: &Form, course: &Value) -> Result<(), Problem> {
    let course = Body(Bytes::from(course.to_string())).read_with_rules::<Course>(&schema())?;
    app.leagues.replace_course(caller, id, version(form), course).await?;
    Ok(())
}

async fn name_form(app: &App, caller: Caller, id: CourseId) -> Result<(FormPage, Course), Problem> {
    let (found, frame) = organized(app, caller, id).await?;
    let fields = vec![text("name", "Name of the course", &found.body.name)];
    let title = format!("Edit {}", found.body.name);
    let mut form = FormPage::of_version(frame, title, format!("/courses/{id}/edit"), fields, found.version);
    form.back = format!("/courses/{id}");
    form.acts.push((format!("/courses/{id}/removal"), "Delete this course…"));
    Ok((form, found.body))
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&name_form(&app, caller, CourseId(id.0)).await?.0)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CourseId(id.0);
    let (shown, course) = name_form(&app, caller, id).await?;
    let mut body = serde_json::to_value(&course).unwrap_or_default();
    body["name"] = form.text("name").trim().into();
    let done = replace(&app, caller, id, &form, &body).await;
    shown.changed(&form, done, owner, &format!("/courses/{id}"))
}

/// Makes the form of one tee of a course, or of one more; with where the tee is among the others.
async fn tee_form(
    app: &App,
    caller: Caller,
    id: CourseId,
    tee: Option<TeeId>,
) -> Result<(FormPage, Course, usize), Problem> {
    let (found, frame) = organized(app, caller, id).await?;
    let at = match tee {
        Some(tee) => found.body.tees.iter().position(|own| own.id == tee).ok_or_else(Problem::not_found)?,
        None => found.body.tees.len(),
    };
    let own = found.body.tees.get(at);
    let title = match own {
        Some(tee) => format!("Edit {}, {}", found.body.name, tee.name),
        None => format!("Add a tee to {}", found.body.name),
    };
    let fields = tee_fields(own);
    let mut form = FormPage::of_version(frame, title, format!("/courses/{id}/tee"), fields, found.version);
    form.fields.push(field("tee", "", Kind::Kept, tee.map(|tee| tee.to_string()).unwrap_or_default()));
    form.back = format!("/courses/{id}");
    if let Some(tee) = own {
        form.hint = "Cards of events that are not final are scored again. Final events keep the tee as it was.";
        if found.body.tees.len() > 1 {
            form.acts.push((format!("/courses/{id}/tee/removal?tee={}", tee.id), "Delete this tee…"));
        }
    }
    Ok((form, found.body, at))
}

async fn edit_tee(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let tee = query.given_id("tee")?.map(TeeId);
    page(&tee_form(&app, caller, CourseId(id.0), tee).await?.0)
}

async fn change_tee(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CourseId(id.0);
    let tee = form.given("tee").map(|tee| Uuid::try_parse(tee).map(TeeId)).transpose();
    let tee = tee.map_err(|_| Problem::malformed("the form names its tee"))?;
    let (shown, course, at) = tee_form(&app, caller, id, tee).await?;
    let done = async {
        let mut body = serde_json::to_value(&course).unwrap_or_default();
        let mut typed = tee_body(&form)?;
        if let Some(tee) = tee {
            typed["id"] = tee.to_string().into();
        }
        if let Some(tees) = body["tees"].as_array_mut() {
            match tees.get_mut(at) {
                Some(own) => *own = typed,
                None => tees.push(typed),
            }
        }
        replace(&app, caller, id, &form, &body).await
    };
    let done = done.await;
    shown.changed(&form, done, owner_in(&form), &format!("/courses/{id}"))
}

async fn remove_tee(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, form: Form) -> Answer {
    let id = CourseId(id.0);
    let (found, frame) = organized(&app, caller, id).await?;
    let tee = query.given_id("tee")?.map(TeeId);
    let there = format!("/courses/{id}");
    let Some(at) = found.body.tees.iter().position(|own| Some(own.id) == tee) else {
        // Sent twice it is done once.
        return if is_answered(&form) { Ok(see_other(&there)) } else { Err(Problem::not_found()) };
    };
    let name = &found.body.tees[at].name;
    let question = Question {
        title: format!("Delete the tee {name} of {}?", found.body.name),
        lost: vec!["Its holes and ratings. You can add it again by hand.".into()],
        stays: vec![
            "The other tees of the course, and every card. A tee that an event is played from stays too.".into(),
        ],
        action: format!("/courses/{id}/tee/removal?tee={}", found.body.tees[at].id),
        button: "Delete this tee".into(),
        back: there.clone(),
        frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    let mut course = found.body.clone();
    course.tees.remove(at);
    match app.leagues.replace_course(caller, id, IfMatch::Version(found.version), course).await {
        Ok(_) => Ok(see_other(&there)),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CourseId(id.0);
    let (found, frame) = organized(&app, caller, id).await?;
    let question = Question {
        title: format!("Delete the course {}?", found.body.name),
        lost: vec!["The course with its tees and their ratings.".into()],
        stays: vec!["Every event and card. A course that an event is played on cannot be deleted.".into()],
        action: format!("/courses/{id}/removal"),
        button: "Delete this course".into(),
        back: format!("/courses/{id}"),
        frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_course(caller, id, IfMatch::Version(found.version)).await {
        Ok(()) => Ok(see_other(&format!("/leagues/{}/organize", found.league))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/courses/new").route(reads().to(new)).route(web::post().to(add)))
        .service(at("/courses/{id}").route(reads().to(show)))
        .service(at("/courses/{id}/edit").route(reads().to(edit)).route(web::post().to(change)))
        .service(at("/courses/{id}/tee").route(reads().to(edit_tee)).route(web::post().to(change_tee)))
        .service(at("/courses/{id}/tee/removal").route(web::post().to(remove_tee)))
        .service(at("/courses/{id}/removal").route(web::post().to(remove)));
}
