//! Failures as pages; whoever is not signed in is sent to sign in and comes back.

use super::{Frame, afresh, faults, last_shown, page_with, see_other};
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{Method, StatusCode, header};
use actix_web::middleware::Next;
use askama::Template;

#[derive(Template)]
#[template(path = "problem.html")]
struct ProblemPage<'a> {
    frame: Frame,
    title: &'a str,
    detail: String,
    errors: Vec<String>,
    /// Whether something was sent that is not saved.
    is_lost: bool,
}

/// Says whether a request wants a page.
fn wants_page(request: &ServiceRequest) -> bool {
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok());
    accept.is_some_and(|accept| accept.contains("text/html"))
}

/// Shows failures as pages to whoever asks for pages.
///
/// # Errors
/// None of its own.
pub async fn as_page(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, actix_web::Error> {
    let wants_page = wants_page(&request);
    let is_read = matches!(*request.method(), Method::GET | Method::HEAD);
    let address = request.uri().path_and_query().map(ToString::to_string).unwrap_or_default();
    let response = next.call(request).await?.map_into_boxed_body();
    let problem = response.response().error().and_then(|error| error.as_error::<Problem>()).cloned();
    let Some(problem) = problem.filter(|_| wants_page) else { return Ok(response) };
    let (request, _) = response.into_parts();
    if problem.is(Kind::ReauthRequired) {
        let answer = afresh::asks(&request, &address);
        return Ok(ServiceResponse::new(request, answer.unwrap_or_else(|_| problem.answer(None))));
    }
    if problem.status() == StatusCode::UNAUTHORIZED {
        let back = if is_read { super::door::sign_in_address(&address) } else { "/sign-in".into() };
        return Ok(ServiceResponse::new(request, see_other(&back)));
    }
    if is_read
        && problem.is_away()
        && let Some(answer) = last_shown::answer(&request)
    {
        return Ok(ServiceResponse::new(request, answer));
    }
    let shown = ProblemPage {
        frame: Frame::of_failure(&request),
        title: problem.title(),
        detail: faults::sentence(problem.detail()),
        errors: if problem.errors().is_empty() { Vec::new() } else { faults::all(&problem) },
        is_lost: !is_read && problem.status().is_client_error(),
    };
    let answer = match page_with(problem.status(), &shown) {
        Ok(mut answer) => {
            problem.add_headers(answer.headers_mut());
            answer
        }
        Err(_) => problem.answer(None),
    };
    Ok(ServiceResponse::new(request, answer))
}
