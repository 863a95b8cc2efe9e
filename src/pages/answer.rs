//! What pages answer with.

use crate::http::answer::Answer;
use crate::http::problem::Problem;
use actix_web::http::{StatusCode, header};
use actix_web::web;
use actix_web::{HttpResponse, Route, guard};
use askama::Template;

/// Answers with a page.
///
/// # Errors
/// A template that fails.
pub fn page(template: &impl Template) -> Answer {
    page_with(StatusCode::OK, template)
}

/// Answers with a page and a status.
///
/// # Errors
/// A template that fails.
pub fn page_with(status: StatusCode, template: &impl Template) -> Answer {
    let html = template.render().map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::build(status)
        .content_type("text/html; charset=utf-8")
        .insert_header((header::VARY, "Cookie, Accept-Encoding"))
        .body(html))
}

/// Sends the browser on to another page.
pub fn see_other(to: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, to)).finish()
}

/// A route that reads: HEAD wherever GET, the server drops the body.
pub fn reads() -> Route {
    web::route().guard(guard::Any(guard::Get()).or(guard::Head()))
}
