//! The account's page, with its sessions and its password, and the page of a link for a new one.

use super::door::faults;
use super::form::Form;
use super::notices::own_zone;
use super::{Frame, page, page_with, see_other};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::http::who::Arriving;
use crate::league::Caller;
use crate::league::account::password::NewPassword;
use crate::league::account::session::SessionView;
use crate::league::account::view::AccountView;
use crate::pages::words;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use jiff::tz::TimeZone;
use uuid::Uuid;

/// How many sessions are shown, newest first.
const MOST_SESSIONS: i64 = 100;

#[derive(Template)]
#[template(path = "account.html")]
struct AccountPage {
    frame: Frame,
    account: AccountView,
    is_changed: bool,
    sessions: Vec<SessionView>,
    /// The zone in which their times are shown.
    zone: TimeZone,
    faults: Vec<(&'static str, String)>,
}

#[derive(Default, Template)]
#[template(path = "new_password.html")]
struct NewPasswordPage {
    frame: Frame,
    code: String,
    faults: Vec<(&'static str, String)>,
}

fn fault<'f>(faults: &'f [(&'static str, String)], field: &str) -> Option<&'f str> {
    faults.iter().find(|(known, _)| *known == field).map(|(_, detail)| detail.as_str())
}

impl AccountPage {
    fn fault(&self, field: &str) -> Option<&str> {
        fault(&self.faults, field)
    }
}

impl NewPasswordPage {
    fn fault(&self, field: &str) -> Option<&str> {
        fault(&self.faults, field)
    }
}

async fn read(app: &App, caller: Caller) -> Result<AccountPage, Problem> {
    let account = app.leagues.me(caller).await?.account;
    Ok(AccountPage {
        frame: Frame::of(app, caller).await?,
        account,
        is_changed: false,
        sessions: app.leagues.sessions(caller, Uuid::nil(), MOST_SESSIONS).await?,
        zone: own_zone(app, caller).await?,
        faults: Vec::new(),
    })
}

async fn show(app: Data<App>, caller: Caller) -> Answer {
    page(&read(&app, caller).await?)
}

async fn change(app: Data<App>, caller: Caller, from: Arriving, form: Form) -> Answer {
    let change = NewPassword { current: form.text("current_password").into(), new: form.text("new_password").into() };
    let mut shown = read(&app, caller).await?;
    match app.leagues.change_password(&app.door, caller, change, from.0).await.map_err(Problem::of_new_password) {
        Ok(()) => {
            shown = read(&app, caller).await?;
            shown.is_changed = true;
            page(&shown)
        }
        Err(problem) => {
            shown.faults = faults(&problem, "current_password");
            page_with(problem.status(), &shown)
        }
    }
}

async fn end_session(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    app.leagues.end_session(caller, id.0).await?;
    Ok(see_other("/account"))
}

async fn link() -> Answer {
    page(&NewPasswordPage::default())
}

async fn choose(app: Data<App>, from: Arriving, form: Form) -> Answer {
    let (code, password) = (form.text("code").trim().to_owned(), form.text("password").to_owned());
    let Err(refusal) = app.leagues.reset_password(&app.door, &code, password, from.0).await else {
        return Ok(see_other("/sign-in"));
    };
    let problem = Problem::from(refusal);
    let faults = match problem.status().as_u16() {
        404 => {
            vec![("code", "There is no such code. Check it, or ask whoever runs the server for a new link.".to_owned())]
        }
        _ => faults(&problem, "code"),
    };
    page_with(problem.status(), &NewPasswordPage { code, faults, ..NewPasswordPage::default() })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/account").route(super::reads().to(show)).route(web::post().to(change)))
        .service(web::resource("/account/sessions/{id}/end").route(web::post().to(end_session)))
        .service(web::resource("/new-password").route(super::reads().to(link)).route(web::post().to(choose)));
}
