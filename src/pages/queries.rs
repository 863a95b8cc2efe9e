//! Queries about a card and their answers, on the round's page.

use super::fields::{Field, FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::{Frame, see_other};
use crate::domain::facts::{self, CardHole, Fault, Query};
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::rule::Rule;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::views::RoundView;
use crate::wire::body::life::{answer_fields, query_fields};
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use jiff::Timestamp;
use serde_json::json;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use uuid::Uuid;

/// What somebody said, and when.
pub struct Said {
    /// Who.
    pub by: String,
    /// What.
    pub text: String,
    /// When.
    pub at: Timestamp,
}

/// A query with its answers.
pub struct CardQuery {
    /// Its id.
    pub id: Uuid,
    /// The hole that it is about; none: the whole card.
    pub hole: Option<u8>,
    /// What is asked.
    pub asked: Said,
    /// What was answered.
    pub answers: Vec<Said>,
}

/// Reads the queries about a round that the caller may see.
///
/// # Errors
/// A round that is not the caller's to see.
pub async fn of(app: &App, caller: Caller, round: &RoundView) -> Result<Vec<CardQuery>, Problem> {
    let found = app.leagues.queries(caller, round.id).await?;
    let mut names: HashMap<MemberId, String> = HashMap::new();
    for id in
        found.iter().flat_map(|query| query.answers.iter().map(|answer| answer.member_id).chain([query.member_id]))
    {
        if let Entry::Vacant(place) = names.entry(id) {
            place.insert(app.leagues.member(caller, id).await?.0.member.display_name);
        }
    }
    let said = |by: &MemberId, text: String, at| Said { by: names.get(by).cloned().unwrap_or_default(), text, at };
    let queries = found.into_iter().map(|query| CardQuery {
        id: query.id,
        hole: query.query.pointer.as_deref().and_then(|pointer| hole_of(round, pointer)),
        asked: said(&query.member_id, query.query.text, query.received_at),
        answers: query
            .answers
            .into_iter()
            .map(|answer| said(&answer.member_id, answer.answer.text, answer.received_at))
            .collect(),
    });
    Ok(queries.collect())
}

fn hole_of(round: &RoundView, pointer: &str) -> Option<u8> {
    let index: usize = pointer.strip_prefix("/holes/")?.split('/').next()?.parse().ok()?;
    round.holes.get(index).map(|hole| hole.number.get())
}

fn text_field(form: &Form) -> Field {
    field("text", "Text, up to 2,000 characters", Kind::Lines, form.text("text"))
}

/// The holes that a query may be about, as on the round's page.
fn hole_field(round: &RoundView, form: &Form) -> Field {
    let number = |hole: &CardHole| hole.number.get().to_string();
    let holes = round.holes.iter().map(|hole| (number(hole), format!("hole {}", number(hole))));
    let whole = (String::new(), "the whole card".to_owned());
    field("hole", "About", Kind::Choice(std::iter::once(whole).chain(holes).collect()), form.text("hole"))
}

/// Points to the hole that was chosen; none: the whole card.
fn pointer(round: &RoundView, form: &Form) -> Result<Option<String>, Problem> {
    let Some(number) = form.given("hole") else { return Ok(None) };
    let index = round.holes.iter().position(|hole| hole.number.get().to_string() == number);
    let unknown = || Fault::new("/hole", Rule::HoleNotOnCard, format!("there is no hole {number} on this card"));
    index.map(|index| Some(format!("/holes/{index}"))).ok_or_else(|| Problem::faults(vec![unknown()]))
}

async fn ask(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let (round, _) = app.leagues.round(caller, RoundId(id.0)).await?;
    let path = format!("/rounds/{}/queries", id.0);
    let done = async {
        let body = json!({ "pointer": pointer(&round, &form)?, "text": form.text("text").trim() });
        let schema = Schema::Object(query_fields());
        let (key, query) = checked_body::<Query>(&app, caller, format!("POST {path}"), &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.ask(key, round.id, query).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/rounds/{}#queries", id.0))),
        Err(problem) => {
            let fields = vec![hole_field(&round, &form), text_field(&form)];
            let again = FormPage::new(frame(&app, caller, &round).await?, "A query", path, fields);
            again.again(&form, problem, |pointer| if pointer == "/hole" { "hole" } else { "text" })
        }
    }
}

async fn frame(app: &App, caller: Caller, round: &RoundView) -> Result<Frame, Problem> {
    let (player, _) = app.leagues.member(caller, round.member_id).await?;
    Ok(Frame::in_league(app, caller, player.league_id).await?)
}

async fn answer(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let round = Uuid::try_parse(form.text("round")).map_err(|_| Problem::malformed("the form names its round"))?;
    let (round, _) = app.leagues.round(caller, RoundId(round)).await?;
    let body = json!({ "text": form.text("text").trim() });
    let path = format!("/queries/{}/answers", id.0);
    let done = async {
        let schema = Schema::Object(answer_fields());
        let operation = format!("POST {path}");
        let (key, answer) = checked_body::<facts::Answer>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.answer(key, id.0, answer).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/rounds/{}#queries", round.id))),
        Err(problem) => {
            let fields = vec![text_field(&form), field("round", "Round", Kind::Kept, round.id.to_string())];
            let again = FormPage::new(frame(&app, caller, &round).await?, "An answer", path, fields);
            again.again(&form, problem, |_| "text")
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/rounds/{id}/queries").route(web::post().to(ask)))
        .service(web::resource("/queries/{id}/answers").route(web::post().to(answer)));
}
