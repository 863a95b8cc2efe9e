//! Pages that a browser keeps, and asks about again before it shows them.

use super::Frame;
use crate::api::Answer;
use crate::api::problem::{Problem, etag};
use crate::api::seasons::is_known;
use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};

/// What a page's tag is made of where the page tells the time: `shown` is left out of it, and `instead` stands in.
pub struct Clock<'a> {
    /// The time as the page shows it.
    pub shown: &'a str,
    /// What the tag knows of it.
    pub instead: &'a str,
}

/// Answers with a page, or with `304` where the browser has it.
///
/// The tag is made of all that the page says to this viewer, after the viewer was let in: two viewers have one tag only
/// for the same bytes, and whoever may not see the page learns nothing from a tag. It is weak, as compression changes
/// the bytes.
///
/// # Errors
/// A template that fails.
pub fn kept(request: &HttpRequest, frame: &Frame, template: &impl Template) -> Answer {
    let html = template.render().map_err(|error| Problem::internal(&error))?;
    Ok(answer(request, frame, html, None))
}

/// Answers as [`kept`] with a page that tells the time.
///
/// # Errors
/// A template that fails.
pub fn kept_but_for(request: &HttpRequest, frame: &Frame, template: &impl Template, clock: Clock) -> Answer {
    let html = template.render().map_err(|error| Problem::internal(&error))?;
    Ok(answer(request, frame, html, Some(clock)))
}

fn answer(request: &HttpRequest, frame: &Frame, html: String, clock: Option<Clock>) -> HttpResponse {
    let mut hash = Sha256::new();
    hash.update(frame.member().0);
    match clock {
        Some(Clock { shown, instead }) => hash.update(html.replace(shown, instead)),
        None => hash.update(&html),
    }
    let tag = etag(HEXLOWER.encode(&hash.finalize()[..16]));
    let is_known = is_known(request, &tag);
    let mut answer = if is_known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    answer
        .insert_header((header::ETAG, format!("W/{tag}")))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .insert_header((header::VARY, "Cookie, Accept-Encoding"));
    if is_known { answer.finish() } else { answer.content_type("text/html; charset=utf-8").body(html) }
}
