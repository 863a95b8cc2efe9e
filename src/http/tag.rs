//! Entity tags: a state has one, and whoever holds that state is told so.

use actix_web::HttpRequest;
use actix_web::http::header;
use std::fmt;

/// Writes an entity tag for a version.
pub fn etag(version: impl fmt::Display) -> String {
    format!("\"{version}\"")
}

/// Says whether the caller holds this state already.
pub fn is_known(request: &HttpRequest, tag: &str) -> bool {
    let given = request.headers().get(header::IF_NONE_MATCH).and_then(|value| value.to_str().ok());
    given.is_some_and(|given| given.split(',').any(|known| known.trim().trim_start_matches("W/") == tag))
}
