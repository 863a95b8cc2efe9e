//! The review desk: a first opinion, what would settle it, a ruling whose effect is shown first, and undoing it.

use super::ask::is_answered;
use super::door::ShownCode;
use super::finding_page::{again, read};
use super::form::{Form, checked_body};
use super::{Frame, page, see_other};
use crate::accounts::code;
use crate::domain::facts::{Decision, Opinion};
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::rule::Rule;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::finding::desk::Sight;
use crate::league::finding::rule::FindingRuling;
use crate::league::keys::RequestKey;
use crate::league::member::invite::USUAL_HOURS;
use crate::league::{Caller, Refusal};
use crate::wire::body::findings as bodies;
use crate::wire::schema::Schema;
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use uuid::Uuid;

/// One form of the desk on its way into the league.
struct Sent<'a> {
    app: &'a App,
    caller: Caller,
    id: Uuid,
    form: &'a Form,
}

impl Sent<'_> {
    /// Checks the body that a form stands for; `part` names what it is sent to.
    fn checked<T: DeserializeOwned>(
        &self,
        part: &str,
        body: &Value,
        fields: Vec<crate::wire::schema::Field>,
    ) -> Result<(RequestKey, T), Problem> {
        let operation = format!("POST /findings/{}/{part}", self.id);
        checked_body(self.app, self.caller, operation, self.form, body, &Schema::Object(fields))
    }
}

/// Leads back to the finding, or shows it again with what was typed and what was wrong.
async fn settled<T>(sent: &Sent<'_>, done: impl Future<Output = Result<T, Problem>>) -> Answer {
    match done.await {
        Ok(_) => Ok(see_other(&format!("/findings/{}", sent.id))),
        Err(problem) => again(sent.app, sent.caller, sent.id, sent.form.clone(), problem).await,
    }
}

#[derive(Deserialize)]
struct Noted {
    opinion: Opinion,
    text: String,
}

async fn note_opinion(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let sent = Sent { app: &app, caller, id: id.0, form: &form };
    let done = async {
        let body = json!({ "opinion": form.text("opinion"), "text": form.text("text") });
        let (key, Noted { opinion, text }) = sent.checked("first-opinions", &body, bodies::opinion_fields())?;
        Ok(app.leagues.note_first_opinion(key, id.0, opinion, text).await?)
    };
    settled(&sent, done).await
}

#[derive(Deserialize)]
struct Ruled {
    decision: Decision,
    #[serde(default)]
    round_ids: Vec<RoundId>,
    reason: String,
}

/// Shows what a ruling would do; rules once that was seen.
async fn rule(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let decision = form.text("decision");
    // No action touches no round: the boxes are for the other decisions.
    let is_named = |name: &str| name == "round_id" && decision != Decision::NoAction.word();
    let chosen: Vec<&str> = form.0.iter().filter(|(name, _)| is_named(name)).map(|(_, value)| value.as_str()).collect();
    let body = json!({ "decision": decision, "round_ids": chosen, "reason": form.text("reason") });
    if form.text("not_yet") == "yes" {
        let mut shown = read(&app, caller, id.0).await?;
        shown.typed = form;
        return page(&shown);
    }
    let sent = Sent { app: &app, caller, id: id.0, form: &form };
    let done = async {
        if app.leagues.finding_sight(caller, id.0).await?.1 == Sight::NoNames {
            let detail = "save your first opinion before you rule";
            return Err(Problem::new(Rule::InvalidTransition, detail));
        }
        let (key, ruled) = sent.checked::<Ruled>("rulings", &body, bodies::finding_ruling_fields())?;
        let ruling = FindingRuling { decision: ruled.decision, rounds: ruled.round_ids, reason: ruled.reason };
        if form.text("seen") == "yes" {
            app.leagues.rule_on_finding(key, id.0, ruling).await?;
            return Ok::<_, Problem>(None);
        }
        Ok(Some(app.leagues.preview_finding_ruling(key, id.0, ruling).await?))
    };
    match done.await {
        Ok(None) => Ok(see_other(&format!("/findings/{}", id.0))),
        Ok(Some(preview)) => {
            let mut shown = read(&app, caller, id.0).await?;
            shown.typed = form;
            shown.preview = Some(preview);
            page(&shown)
        }
        Err(problem) => again(&app, caller, id.0, form, problem).await,
    }
}

#[derive(Deserialize)]
struct Wish {
    text: String,
    #[serde(default)]
    due_at: Option<Timestamp>,
}

/// Reads a day as its end in the league's zone; other text goes on to where it is refused by name.
fn end_of(day: &str, zone: &TimeZone) -> Value {
    let next = day.parse::<Date>().ok().and_then(|day| day.checked_add(1.day()).ok());
    let end = next.and_then(|next| zone.to_timestamp(next.to_datetime(Time::midnight())).ok());
    end.map_or_else(|| day.into(), |end| end.to_string().into())
}

/// The zone of the page: a reviewer from outside sees times in UTC.
async fn zone(app: &App, caller: Caller, id: Uuid) -> Result<TimeZone, Refusal> {
    Ok(match app.leagues.finding_sight(caller, id).await? {
        (_, Sight::Outside) => TimeZone::UTC,
        (league, Sight::Own | Sight::NoNames | Sight::All) => Frame::of_part(app, caller, league).await?.zone(),
    })
}

async fn ask_for(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let sent = Sent { app: &app, caller, id: id.0, form: &form };
    let done = async {
        let zone = zone(&app, caller, id.0).await?;
        let due = form.given("due_on").map_or(Value::Null, |day| end_of(day, &zone));
        let body = json!({ "text": form.text("text"), "due_at": due });
        let (key, Wish { text, due_at }) = sent.checked("requests", &body, bodies::request_fields())?;
        Ok(app.leagues.request(key, id.0, text, due_at).await?)
    };
    settled(&sent, done).await
}

#[derive(Deserialize)]
struct Told {
    member_id: MemberId,
}

async fn tell(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    if !is_answered(&form)
        && let Some(question) = read(&app, caller, id.0).await?.ask_whether_told(&form)
    {
        return question.ask();
    }
    let sent = Sent { app: &app, caller, id: id.0, form: &form };
    let done = async {
        let body = json!({ "member_id": form.text("member_id") });
        let (key, Told { member_id }) = sent.checked("told", &body, bodies::told_fields())?;
        Ok(app.leagues.note_told(key, id.0, member_id).await?)
    };
    settled(&sent, done).await
}

async fn step_aside(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    if !is_answered(&form)
        && let Some(question) = read(&app, caller, id.0).await?.ask_before_stepping_aside(&form)
    {
        return question.ask();
    }
    let sent = Sent { app: &app, caller, id: id.0, form: &form };
    let done = async {
        let (key, _) = sent.checked::<Value>("recusals", &json!({}), vec![])?;
        Ok(app.leagues.recuse(key, id.0).await?)
    };
    settled(&sent, done).await
}

/// Makes a code for somebody from outside, and shows it once.
async fn invite_reviewer(app: Data<App>, caller: Caller, id: IdPath, form: Form, request: HttpRequest) -> Answer {
    let words = format!("review {} {} {}", caller.account, id.0, form.text("key"));
    let code = code::kept(&app.config.cursor_secret, &words);
    let mut shown = read(&app, caller, id.0).await?;
    let league = shown.league();
    let made = app.leagues.invite_reviewer(caller, league, id.0, USUAL_HOURS, code).await?;
    shown.code = Some(ShownCode::of(&request, made.code));
    page(&shown)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/findings/{id}/first-opinions").route(web::post().to(note_opinion)))
        .service(web::resource("/findings/{id}/rulings").route(web::post().to(rule)))
        .service(web::resource("/findings/{id}/requests").route(web::post().to(ask_for)))
        .service(web::resource("/findings/{id}/told").route(web::post().to(tell)))
        .service(web::resource("/findings/{id}/recusals").route(web::post().to(step_aside)))
        .service(web::resource("/findings/{id}/reviewers").route(web::post().to(invite_reviewer)));
}
