//! Findings: what the evidence says, and what those concerned say of it.

use super::finding_page::{again, read};
use super::form::{Form, checked_body};
use super::{Frame, page, see_other};
use crate::domain::audit::title;
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::finding::views::FindingView;
use crate::pages::words;
use crate::wire::body::findings as bodies;
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde::Deserialize;
use serde_json::json;
use uuid::Uuid;

const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "findings.html")]
struct Findings {
    frame: Frame,
    findings: Vec<FindingView>,
}

impl Findings {
    fn kind<'a>(&self, name: &'a str) -> &'a str {
        title(name)
    }
}

async fn findings(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    let mut findings = app.leagues.findings_of(caller, LeagueId(id.0), Uuid::nil(), MOST).await?;
    // Open ones first, in the order in which they opened.
    findings.sort_by_key(|finding| (finding.report.state == "ruled", finding.opened_at));
    page(&Findings { frame, findings })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, id.0).await?)
}

#[derive(Deserialize)]
struct Statement {
    text: String,
}

async fn state(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let body = json!({ "text": form.text("text") });
    let schema = Schema::Object(bodies::statement_fields());
    let operation = format!("POST /findings/{}/statements", id.0);
    let done = async {
        let (key, Statement { text }) = checked_body(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.state(key, id.0, text).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/findings/{}", id.0))),
        Err(problem) => again(&app, caller, id.0, form, problem).await,
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/leagues/{id}/findings").route(super::reads().to(findings)))
        .service(web::resource("/findings/{id}").route(super::reads().to(show)))
        .service(web::resource("/findings/{id}/statements").route(web::post().to(state)));
}
