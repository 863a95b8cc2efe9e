//! What handlers answer with.

use crate::http::problem::Problem;
use crate::http::tag::etag;
use crate::league::views::Page;
use crate::storage::idempotency::Reply;
use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use serde::Serialize;

/// What a handler answers.
pub type Answer = Result<HttpResponse, Problem>;

/// Answers with JSON.
pub fn json(body: &impl Serialize) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "private, no-cache")).json(body)
}

/// Answers with one version of a resource.
pub fn versioned((body, version): (impl Serialize, i64)) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((header::ETAG, etag(version)))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .json(body)
}

/// Answers with a page and a link to the next.
pub fn paged<T: Serialize>(path: &str, limit: i64, page: &Page<T>) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    answer.insert_header((header::CACHE_CONTROL, "private, no-cache"));
    if let Some(next) = &page.next {
        answer.insert_header((header::LINK, format!("<{path}?limit={limit}&after={next}>; rel=\"next\"")));
    }
    answer.json(page)
}

/// Answers with a kept reply.
pub fn replied(reply: Reply) -> HttpResponse {
    let mut answer = HttpResponse::build(StatusCode::from_u16(reply.status).unwrap_or(StatusCode::OK));
    answer.insert_header((header::CONTENT_TYPE, "application/json"));
    if let Some(version) = &reply.etag {
        answer.insert_header((header::ETAG, etag(version)));
    }
    if let Some(location) = reply.location {
        answer.insert_header((header::LOCATION, location));
    }
    if reply.is_replay {
        answer.insert_header(("Idempotency-Replayed", "true"));
    }
    answer.body(reply.body)
}

/// Answers that it is done, with nothing to say.
pub fn done() -> HttpResponse {
    HttpResponse::NoContent().finish()
}
