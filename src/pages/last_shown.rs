//! Pages as a browser was last shown them, for as long as the database does not answer.

use crate::http::app::App;
use crate::http::who::browser_token;
use actix_web::http::header;
use actix_web::web::{Bytes, Data};
use actix_web::{HttpRequest, HttpResponse};
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How many bytes all pages may have that are kept.
const MOST_BYTES: usize = 32 << 20;
/// Behind this a page says how old it is.
const MAIN: &str = "<main id=\"main\" tabindex=\"-1\">";

/// The pages that are kept, each for the browser and the address that it was written for.
#[derive(Default)]
pub struct LastShown(Mutex<Kept>);

#[derive(Default)]
struct Kept {
    pages: HashMap<[u8; 32], Shown>,
    bytes: usize,
}

struct Shown {
    html: Bytes,
    at: Instant,
    /// Whether somebody's right to see things ended since is told by this.
    rights: u64,
}

impl LastShown {
    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn key(request: &HttpRequest) -> Option<[u8; 32]> {
    let address = request.uri().path_and_query().map_or("", |address| address.as_str());
    Some(Sha256::digest(format!("{} {address}", browser_token(request)?)).into())
}

/// Keeps a page that is shown to a browser.
pub fn keep(request: &HttpRequest, html: &Bytes) {
    let (Some(pages), Some(key)) = (request.app_data::<Data<LastShown>>(), key(request)) else { return };
    let mut kept = pages.kept();
    if kept.bytes + html.len() > MOST_BYTES {
        *kept = Kept::default();
    }
    let shown = Shown { html: html.clone(), at: Instant::now(), rights: App::of(request).leagues.marks.rights() };
    let before = kept.pages.insert(key, shown).map_or(0, |before| before.html.len());
    kept.bytes = kept.bytes + html.len() - before;
}

/// Answers with the page as this browser was last shown it, with its age; `None` where that is too long ago.
pub fn answer(request: &HttpRequest) -> Option<HttpResponse> {
    let (pages, key, rights) =
        (request.app_data::<Data<LastShown>>()?, key(request)?, App::of(request).leagues.marks.rights());
    let (html, age) = {
        let kept = pages.kept();
        let shown = kept.pages.get(&key)?;
        let is_good = shown.rights == rights && shown.at.elapsed() < crate::league::memory::marks::TRUSTED;
        is_good.then(|| (shown.html.clone(), shown.at.elapsed()))?
    };
    let note = format!(
        "{MAIN}\n<p class=\"panel\" role=\"status\">The league’s database does not answer just now. This page is from {}. \
         Nothing can be saved until the database is back.</p>",
        ago(age)
    );
    let html = std::str::from_utf8(&html).ok()?.replacen(MAIN, &note, 1);
    let mut answer = HttpResponse::Ok();
    answer.content_type("text/html; charset=utf-8").insert_header((header::AGE, age.as_secs().to_string()));
    Some(answer.insert_header((header::VARY, "Cookie, Accept-Encoding")).body(html))
}

fn ago(age: Duration) -> String {
    match age.as_secs() / 60 {
        0 => "less than a minute ago".into(),
        1 => "a minute ago".into(),
        minutes => format!("{minutes} minutes ago"),
    }
}
