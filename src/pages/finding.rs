//! The review desk: what the evidence says, what those concerned say, and what an organizer rules.

use super::form::{Form, checked_body};
use super::{Frame, page, page_with, see_other};
use crate::api::extract::IdPath;
use crate::api::problem::Problem;
use crate::api::{Answer, App};
use crate::bodies::findings as bodies;
use crate::domain::audit::Picture;
use crate::domain::audit::ledger::About;
use crate::domain::facts::{Decision, Season};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::league::Caller;
use crate::league::finding_rulings::FindingRuling;
use crate::league::finding_views::{FindingView, RulingView};
use crate::pages::words;
use crate::schema::Schema;
use crate::storage::documents::SEASONS;
use actix_web::http::StatusCode;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde::Deserialize;
use serde_json::json;
use std::collections::HashMap;
use uuid::Uuid;

const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "findings.html")]
struct Findings {
    frame: Frame,
    findings: Vec<FindingView>,
}

async fn findings(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    let mut findings = app.leagues.findings_of(caller, LeagueId(id.0), Uuid::nil(), MOST).await?;
    // Open ones first, in the order in which they opened.
    findings.sort_by_key(|finding| (finding.report.state == "ruled", finding.opened_at));
    page(&Findings { frame, findings })
}

/// Writes what kind of finding it is.
fn kind(name: &str) -> String {
    name.replace('_', " ")
}

impl Findings {
    fn kind(&self, name: &str) -> String {
        kind(name)
    }
}

#[derive(Template)]
#[template(path = "finding.html")]
struct FindingPage {
    frame: Frame,
    finding: FindingView,
    names: HashMap<MemberId, String>,
    key: String,
    /// What was typed.
    text: String,
    decision: String,
    /// What a ruling would do.
    preview: Option<RulingView>,
    faults: Vec<String>,
}

impl FindingPage {
    fn kind(&self) -> String {
        kind(self.finding.report.kind)
    }

    fn name(&self, member: &Option<MemberId>) -> &str {
        member.and_then(|member| self.names.get(&member)).map_or("a reviewer", String::as_str)
    }

    fn member(&self, member: &MemberId) -> &str {
        self.names.get(member).map_or("a player", String::as_str)
    }

    fn subject(&self) -> String {
        match &self.finding.report.subject {
            About::Player(member) => self.member(member).to_owned(),
            About::Setup(_) => "a set-up, over everybody who putted on it".into(),
        }
    }

    fn is_concerned(&self) -> bool {
        let me = self.frame.member();
        self.finding.concerned.iter().any(|known| known.member_id == me)
    }

    /// Whether the viewer may rule: the server has the last word.
    fn may_rule(&self) -> bool {
        self.frame.league.is_none() || (self.frame.is_organizer() && !self.is_concerned())
    }

    fn made(&self) -> &[crate::domain::audit::MadeBand] {
        match &self.finding.report.picture {
            Picture::MadeByDistance(bands) => bands,
            Picture::Lines(_) | Picture::Counts(_) => &[],
        }
    }

    fn lines(&self) -> &[(f64, f64, f64)] {
        match &self.finding.report.picture {
            Picture::Lines(lines) => &lines[..lines.len().min(40)],
            Picture::MadeByDistance(_) | Picture::Counts(_) => &[],
        }
    }

    fn counts(&self) -> &[crate::domain::audit::Count] {
        match &self.finding.report.picture {
            Picture::Counts(counts) => counts,
            Picture::MadeByDistance(_) | Picture::Lines(_) => &[],
        }
    }

    fn decided(&self, decision: &Decision) -> &'static str {
        decision_words(*decision)
    }

    fn is_chosen(&self, word: &str) -> bool {
        self.decision == word
    }
}

fn decision_words(decision: Decision) -> &'static str {
    match decision {
        Decision::NoAction => "no action; evidence begins anew",
        Decision::ExcludePutts => "the putts count for no putting figure",
        Decision::ExcludeRound => "the rounds count for nothing",
        Decision::Reinstate => "the ruling in effect is undone",
        Decision::Correct => "the card is corrected",
    }
}

async fn read(app: &App, caller: Caller, id: Uuid) -> Result<FindingPage, Problem> {
    let finding = app.leagues.finding(caller, id).await?;
    // A reviewer from outside sees the finding and nothing else of the league: no frame, no names.
    let season = app.leagues.document::<Season>(caller, &SEASONS, finding.report.season_id.0).await.ok();
    let (mut frame, mut names) = (Frame::of(app, caller).await?, HashMap::new());
    if let Some(season) = season {
        frame = Frame::in_league(app, caller, season.league).await?;
        let members = app.leagues.members_of(caller, season.league, Uuid::nil(), i64::MAX).await?;
        names.extend(members.into_iter().map(|member| (member.id, member.member.display_name)));
    }
    let (key, text, decision) = (Uuid::new_v4().to_string(), String::new(), String::new());
    Ok(FindingPage { frame, finding, names, key, text, decision, preview: None, faults: Vec::new() })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, id.0).await?)
}

/// Shows the page again with what was wrong and what was typed.
async fn again(app: &App, caller: Caller, id: Uuid, form: &Form, problem: Problem) -> Answer {
    if matches!(problem.status(), StatusCode::NOT_FOUND | StatusCode::INTERNAL_SERVER_ERROR) {
        return Err(problem);
    }
    let mut shown = read(app, caller, id).await?;
    shown.text = form.text("text").to_owned() + form.text("reason");
    form.text("decision").clone_into(&mut shown.decision);
    shown.faults = problem.errors().iter().map(|error| error.detail.clone()).collect();
    if shown.faults.is_empty() {
        shown.faults.push(problem.detail().to_owned());
    }
    page_with(problem.status(), &shown)
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
        Err(problem) => again(&app, caller, id.0, &form, problem).await,
    }
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
    let schema = Schema::Object(bodies::finding_ruling_fields());
    let operation = format!("POST /findings/{}/rulings", id.0);
    let is_seen = form.text("seen") == "yes";
    let done = async {
        let (key, ruled) = checked_body::<Ruled>(&app, caller, operation, &form, &body, &schema)?;
        let ruling = FindingRuling { decision: ruled.decision, rounds: ruled.round_ids, reason: ruled.reason };
        if is_seen {
            app.leagues.rule_on_finding(key, id.0, ruling).await?;
            return Ok::<_, Problem>(None);
        }
        Ok(Some(app.leagues.preview_finding_ruling(key, id.0, ruling).await?))
    };
    match done.await {
        Ok(None) => Ok(see_other(&format!("/findings/{}", id.0))),
        Ok(Some(preview)) => {
            let mut shown = read(&app, caller, id.0).await?;
            form.text("decision").clone_into(&mut shown.decision);
            form.text("reason").clone_into(&mut shown.text);
            shown.preview = Some(preview);
            page(&shown)
        }
        Err(problem) => again(&app, caller, id.0, &form, problem).await,
    }
}

async fn step_aside(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let operation = format!("POST /findings/{}/recusals", id.0);
    let schema = Schema::Object(vec![]);
    let done = async {
        let (key, _) = checked_body::<serde_json::Value>(&app, caller, operation, &form, &json!({}), &schema)?;
        Ok::<_, Problem>(app.leagues.recuse(key, id.0).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/findings/{}", id.0))),
        Err(problem) => again(&app, caller, id.0, &form, problem).await,
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/leagues/{id}/findings").route(super::reads().to(findings)))
        .service(web::resource("/findings/{id}").route(super::reads().to(show)))
        .service(web::resource("/findings/{id}/statements").route(web::post().to(state)))
        .service(web::resource("/findings/{id}/rulings").route(web::post().to(rule)))
        .service(web::resource("/findings/{id}/recusals").route(web::post().to(step_aside)));
}
