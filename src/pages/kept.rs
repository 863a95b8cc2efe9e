//! Pages that a browser keeps, and asks about again before it shows them.

use super::{Frame, last_shown};
use crate::http::answer::Answer;
use crate::http::problem::Problem;
use crate::http::tag::{etag, is_known};
use actix_web::http::header;
use actix_web::web::Bytes;
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
/// for the same words, and whoever may not see the page learns nothing from a tag. It is weak, as compression changes
/// the bytes. The random keys of forms are left out: an act that one was used for changes what the page says.
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
    let timeless = clock.map(|Clock { shown, instead }| html.replace(shown, instead));
    for part in but_for_keys(timeless.as_deref().unwrap_or(&html)) {
        hash.update(part);
    }
    let tag = etag(HEXLOWER.encode(&hash.finalize()[..16]));
    let html = Bytes::from(html);
    last_shown::keep(request, &html);
    let is_known = is_known(request, &tag);
    let mut answer = if is_known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    answer
        .insert_header((header::ETAG, format!("W/{tag}")))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .insert_header((header::VARY, "Cookie, Accept-Encoding"));
    if is_known { answer.finish() } else { answer.content_type("text/html; charset=utf-8").body(html) }
}

/// Cuts a page where the random key of a form stands, and leaves the keys out.
fn but_for_keys(html: &str) -> impl Iterator<Item = &str> {
    const KEY: &str = "name=\"key\" value=\"";
    html.split(KEY).enumerate().map(|(n, part)| match part.find('"') {
        Some(end) if n > 0 => &part[end..],
        _ => part,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_keys_are_left_out() {
        let page = |key: &str, text: &str| format!("<p id=\"a\">{text}<input name=\"key\" value=\"{key}\"><b>");
        let told = |page: String| but_for_keys(&page).collect::<String>();
        assert_eq!(told(page("one", "x")), told(page("another", "x")));
        assert_ne!(told(page("one", "x")), told(page("one", "y")));
        assert_eq!(told("no \"key\" here".into()), "no \"key\" here");
    }
}
