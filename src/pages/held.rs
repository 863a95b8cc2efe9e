//! What is held on people: taken away, and erased. A league is taken away whole.

use super::form::Form;
use super::{Frame, page, page_with, see_other};
use crate::api::extract::IdPath;
use crate::api::{Answer, App, bundles};
use crate::domain::ids::MemberId;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::MemberView;
use crate::pages::fields::is_beyond_typing;
use actix_web::HttpResponse;
use actix_web::http::header::{CONTENT_DISPOSITION, HeaderValue};
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "held.html")]
struct Held {
    frame: Frame,
    member: MemberView,
    version: i64,
    fault: Option<String>,
}

impl Held {
    fn is_mine(&self) -> bool {
        self.frame.member() == self.member.id
    }

    fn may_erase(&self) -> bool {
        self.is_mine() || self.frame.is_organizer()
    }
}

async fn read(app: &App, caller: Caller, id: MemberId) -> Result<Held, crate::league::Refusal> {
    let (member, version) = app.leagues.member(caller, id).await?;
    let frame = Frame::in_league(app, caller, member.league_id).await?;
    Ok(Held { frame, member, version, fault: None })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, MemberId(id.0)).await?)
}

/// Names the file that an answer is kept as.
pub(super) fn file(mut answer: HttpResponse, name: &'static str) -> HttpResponse {
    answer.headers_mut().insert(CONTENT_DISPOSITION, HeaderValue::from_static(name));
    answer
}

// A form, not a link: the answer may be the page that asks for the password.
async fn export(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    drop(form);
    let held = app.leagues.member_export(caller, MemberId(id.0)).await?;
    Ok(file(HttpResponse::Ok().json(held), "attachment; filename=\"held-on-me.json\""))
}

async fn bundle(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    drop(form);
    Ok(file(bundles::bundle(app, caller, id).await?, "attachment; filename=\"league.ndjson\""))
}

async fn erase(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let mut shown = read(&app, caller, MemberId(id.0)).await?;
    let version = form.text("version").parse().map_or(IfMatch::Never, IfMatch::Version);
    match app.leagues.erase_member(caller, shown.member.id, version).await {
        Ok(()) if shown.is_mine() => Ok(see_other("/leagues")),
        Ok(()) => Ok(see_other(&format!("/leagues/{}", shown.member.league_id))),
        Err(refusal) => {
            let problem = crate::api::problem::Problem::from(refusal);
            if is_beyond_typing(&problem) {
                return Err(problem);
            }
            shown.fault = Some(problem.detail().to_owned());
            page_with(problem.status(), &shown)
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/members/{id}/held").route(super::reads().to(show)))
        .service(web::resource("/members/{id}/export").route(web::post().to(export)))
        .service(web::resource("/members/{id}/erasure").route(web::post().to(erase)))
        .service(web::resource("/leagues/{id}/bundle").route(web::post().to(bundle)));
}
