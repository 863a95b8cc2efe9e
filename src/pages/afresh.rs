//! The password once more, before what must not be done at a browser that somebody left open (S14).

use super::door::{own_address, session_cookie};
use super::form::Form;
use super::{Frame, page_with};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::http::who::Arriving;
use crate::league::Caller;
use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpMessage, HttpRequest, HttpResponse};
use askama::Template;

/// What the fields of this page are called: no form that it keeps has such a field.
const OWN: &str = "afresh_";

#[derive(Template)]
#[template(path = "afresh.html")]
struct Afresh {
    frame: Frame,
    /// Where it goes on.
    to: String,
    /// What was typed there.
    kept: Vec<(String, String)>,
    fault: Option<String>,
}

fn kept(form: Option<&Form>) -> Vec<(String, String)> {
    form.into_iter().flat_map(|form| &form.0).filter(|(name, _)| !name.starts_with(OWN)).cloned().collect()
}

/// Asks for the password, and keeps what the request held.
///
/// # Errors
/// A template that fails.
pub fn asks(request: &HttpRequest, address: &str) -> Answer {
    let kept = kept(request.extensions().get::<Form>());
    let (frame, to) = (Frame::of_failure(request), address.to_owned());
    page_with(StatusCode::UNAUTHORIZED, &Afresh { frame, to, kept, fault: None })
}

/// Takes the password and goes on: the browser sends the same form again, to where it was sent first.
async fn goes_on(app: Data<App>, caller: Caller, from: Arriving, form: Form) -> Answer {
    let to = own_address(form.text("afresh_to")).to_owned();
    let password = form.text("afresh_password").to_owned();
    let token = match app.leagues.sign_in_afresh(&app.door, caller, password, from.0).await {
        Ok(token) => token,
        Err(refusal) => {
            let problem = Problem::from(refusal);
            let fault = match problem.status() {
                StatusCode::UNAUTHORIZED => "Wrong password.".to_owned(),
                _ => super::faults::sentence(problem.detail()),
            };
            let frame = Frame::of(&app, caller).await?;
            let shown = Afresh { frame, to, kept: kept(Some(&form)), fault: Some(fault) };
            return page_with(problem.status(), &shown);
        }
    };
    let mut answer = HttpResponse::TemporaryRedirect().insert_header((header::LOCATION, to)).finish();
    answer.add_cookie(&session_cookie(&app, token)).map_err(|error| Problem::internal(&error))?;
    Ok(answer)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/sign-in/afresh").route(web::post().to(goes_on)));
}
