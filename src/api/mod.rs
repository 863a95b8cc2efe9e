//! The interface for scripts, `/api/v1`. Files mirror the URL tree; each handler extracts, calls, answers.

pub mod accounts;
pub mod batches;
pub mod brought;
pub mod bundles;
pub mod canonical;
pub mod connection;
pub mod documents;
pub mod events;
pub mod extract;
pub mod findings;
pub mod holes;
pub mod hosts;
pub mod intake;
pub mod kinds;
pub mod leagues;
pub mod members;
pub mod notices;
pub mod offload;
pub mod openapi;
pub mod operator;
pub mod pace;
pub mod passwords;
pub mod practice;
pub mod problem;
pub mod proxies;
pub mod putting;
pub mod query;
pub mod quota;
pub mod read_only;
pub mod rendered;
pub mod rosters;
pub mod rounds;
pub mod routes;
pub mod rules;
pub mod seasons;
pub mod watch;

use crate::league::Leagues;
use crate::league::account::register::Door;
use crate::pages::last_shown::LastShown;
use crate::storage::idempotency::Reply;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header;
use problem::{Problem, etag};
use quota::Quota;
use serde::Serialize;
use std::sync::Arc;
use std::time::Instant;

/// What a server was told at its start.
#[derive(Clone, Debug)]
pub struct Config {
    /// Whether a proxy with TLS stands in front.
    pub behind_proxy: bool,
    /// The proxies that are believed when they say where requests come from.
    pub trusted_proxies: Vec<proxies::Block>,
    /// The hosts that it answers for without a proxy; empty behind one, which knows.
    pub hosts: Vec<String>,
    /// Signs cursors.
    pub cursor_secret: [u8; 32],
}

/// Everything that handlers need.
pub struct App {
    /// The leagues.
    pub leagues: Leagues,
    /// What signing in needs.
    pub door: Door,
    /// What the server was told.
    pub config: Config,
    /// How much each account may ask.
    pub quota: Quota,
    /// The bytes of bodies that are in memory.
    pub intake: Arc<intake::Intake>,
    /// Does what would keep a worker's thread busy.
    pub offload: offload::Offload,
    /// Tables as they were last written.
    pub tables: rendered::Rendered,
    /// Pages as browsers were last shown them.
    pub last_shown: LastShown,
    /// What an operator watches.
    pub measures: operator::Measures,
    /// When the server started.
    pub started: Instant,
}

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
pub fn paged<T: Serialize>(path: &str, limit: i64, page: &crate::league::views::Page<T>) -> HttpResponse {
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
