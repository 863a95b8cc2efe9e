//! Findings: evidence for a person to judge. What is answered here is kept by nobody on the way.

use super::rounds::VALIDATE_ONLY;
use crate::domain::facts::Decision;
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, json, paged, replied};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists, reads};
use crate::league::Caller;
use crate::league::finding::rule::FindingRuling;
use crate::wire::body::{finding_views, findings};
use crate::wire::schema::Schema;
use actix_web::http::header::{self, HeaderValue};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use jiff::Timestamp;
use serde::Deserialize;

fn unkept(mut answer: HttpResponse) -> HttpResponse {
    answer.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    answer
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.findings_of(caller, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(unkept(paged(request.path(), page.limit, &page.cut(found, |finding| finding.report.id.to_string()))))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(unkept(json(&app.leagues.finding(caller, id.0).await?)))
}

#[derive(Deserialize)]
struct Statement {
    text: String,
}

async fn state(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let Statement { text } = sent.read(&Schema::Object(findings::statement_fields()))?;
    Ok(unkept(replied(app.leagues.state(key.of(&app, caller, &sent), id.0, text).await?)))
}

#[derive(Deserialize)]
struct Wish {
    text: String,
    #[serde(default)]
    due_at: Option<Timestamp>,
}

async fn ask_for(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let Wish { text, due_at } = sent.read(&Schema::Object(findings::request_fields()))?;
    Ok(unkept(replied(app.leagues.request(key.of(&app, caller, &sent), id.0, text, due_at).await?)))
}

async fn step_aside(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    sent.node(&Schema::Object(vec![]))?;
    Ok(unkept(replied(app.leagues.recuse(key.of(&app, caller, &sent), id.0).await?)))
}

#[derive(Deserialize)]
struct ToldBody {
    member_id: MemberId,
}

async fn tell(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let ToldBody { member_id } = sent.read(&Schema::Object(findings::told_fields()))?;
    Ok(unkept(replied(app.leagues.note_told(key.of(&app, caller, &sent), id.0, member_id).await?)))
}

#[derive(Deserialize)]
struct Ruled {
    decision: Decision,
    #[serde(default)]
    round_ids: Vec<RoundId>,
    reason: String,
}

async fn rule(app: Data<App>, caller: Caller, id: IdPath, key: Key, query: QueryOf, sent: Body) -> Answer {
    let Ruled { decision, round_ids, reason } = sent.read(&Schema::Object(findings::finding_ruling_fields()))?;
    let key = key.of(&app, caller, &sent);
    let ruling = FindingRuling { decision, rounds: round_ids, reason };
    if query.flag("validate_only")? {
        return Ok(unkept(json(&app.leagues.preview_finding_ruling(key, id.0, ruling).await?)));
    }
    Ok(unkept(replied(app.leagues.rule_on_finding(key, id.0, ruling).await?)))
}

async fn records(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let lines = app.leagues.records(caller, id.0).await?;
    Ok(unkept(HttpResponse::Ok().content_type("application/x-ndjson").body(lines)))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Concerned, Member, Organizer};
    let list_doc = "The findings that I may know of: an organizer all, others those that concern them.";
    routes.add(lists("/leagues/{id}/findings", list_doc, Member, finding_views::finding()), list);
    routes.add(reads("/findings/{id}", "A finding.", Concerned, finding_views::finding()), show);
    let path = "/findings/{id}/statements";
    let body = Schema::Object(findings::statement_fields());
    routes.add(
        creates(path, "States the view of somebody concerned.", Concerned, body, finding_views::finding_word()),
        state,
    );
    let path = "/findings/{id}/requests";
    let body = Schema::Object(findings::request_fields());
    routes
        .add(creates(path, "Asks for what would settle it.", Organizer, body, finding_views::finding_word()), ask_for);
    let path = "/findings/{id}/told";
    let body = Schema::Object(findings::told_fields());
    let doc = "Notes that somebody without an account was told.";
    routes.add(creates(path, doc, Organizer, body, finding_views::finding_concerned()), tell);
    let path = "/findings/{id}/rulings";
    let body = Schema::Object(findings::finding_ruling_fields());
    let ruled = creates(
        path,
        "Rules on it, once those concerned had their say.",
        Organizer,
        body,
        finding_views::finding_ruling(),
    );
    routes.add(RouteDoc { query: VALIDATE_ONLY, ..ruled }, rule);
    let path = "/findings/{id}/recusals";
    let body = Schema::Object(vec![]);
    routes.add(creates(path, "Steps aside.", Organizer, body, finding_views::finding_word()), step_aside);
    let doc = "The records behind it, as a bundle that report reads; for somebody concerned its own.";
    let taken = reads("/findings/{id}/records", doc, Concerned, Schema::Anything);
    routes.add(RouteDoc { answers: Media::Lines(Schema::Anything), ..taken }, records);
}
