//! The account's page, where its password is changed, and the page of a link for a new one.

use super::door::faults;
use super::form::Form;
use super::{Frame, page, page_with, see_other};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::http::who::From;
use crate::league::Caller;
use crate::league::account::password::NewPassword;
use crate::league::account::view::AccountView;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "account.html")]
struct AccountPage {
    frame: Frame,
    account: AccountView,
    is_changed: bool,
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
    Ok(AccountPage { frame: Frame::of(app, caller).await?, account, is_changed: false, faults: Vec::new() })
}

async fn show(app: Data<App>, caller: Caller) -> Answer {
    page(&read(&app, caller).await?)
}

async fn change(app: Data<App>, caller: Caller, from: From, form: Form) -> Answer {
    let change = NewPassword { current: form.text("current_password").into(), new: form.text("new_password").into() };
    let mut shown = read(&app, caller).await?;
    match app.leagues.change_password(&app.door, caller, change, from.0).await.map_err(Problem::of_new_password) {
        Ok(()) => {
            shown.is_changed = true;
            page(&shown)
        }
        Err(problem) => {
            shown.faults = faults(&problem, "current_password");
            page_with(problem.status(), &shown)
        }
    }
}

async fn link() -> Answer {
    page(&NewPasswordPage::default())
}

async fn choose(app: Data<App>, form: Form) -> Answer {
    let (code, password) = (form.text("code").trim().to_owned(), form.text("password").to_owned());
    let Err(refusal) = app.leagues.reset_password(&app.door, &code, password).await else {
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
        .service(web::resource("/new-password").route(super::reads().to(link)).route(web::post().to(choose)));
}
