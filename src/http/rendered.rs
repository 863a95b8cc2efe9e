//! Tables and boards as they were last written, so that many readers share the work of one.
//!
//! A reader knows the table's mark before it comes here. It is served what carries that mark or a later one; otherwise it
//! writes the table, and whoever asks meanwhile waits for it and looks again.

use crate::domain::ids::{CompetitionId, EventId, SeasonId};
use crate::http::problem::Problem;
use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::Bytes;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How many are kept.
const MOST: usize = 4096;
/// How many bytes all of them may have.
const MOST_BYTES: usize = 64 << 20;

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Asked {
    /// A season's table.
    Table {
        /// The season.
        season: SeasonId,
        /// Its competition; none is the main one.
        competition: Option<CompetitionId>,
        /// Up to which event.
        after_event: Option<EventId>,
        /// Of which flight.
        flight: Option<String>,
        /// How it is written.
        form: Form,
    },
    /// An event's board.
    Board(EventId, Option<CompetitionId>),
}

/// How a table is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// JSON.
    Json,
    /// CSV.
    Csv,
    /// CSV that begins with a byte order mark: some spreadsheets take it for UTF-8 then only.
    MarkedCsv,
}

impl Form {
    /// Returns its media type.
    pub fn kind(self) -> &'static str {
        match self {
            Form::Json => "application/json",
            Form::Csv | Form::MarkedCsv => "text/csv; charset=utf-8",
        }
    }

    /// Returns its word in a tag.
    pub fn word(self) -> &'static str {
        match self {
            Form::Json => "json",
            Form::Csv => "csv",
            Form::MarkedCsv => "csv-bom",
        }
    }
}

/// A table or board with its mark.
#[derive(Clone, Debug)]
pub struct Written {
    /// The mark.
    pub mark: i64,
    /// What it says.
    pub body: Bytes,
}

impl Written {
    /// Answers as [`answer`](Self::answer) with one that may be out of date by so much (RFC 9111, 5.1).
    pub fn answer_aged(self, tag: String, kind: &'static str, age: Duration) -> HttpResponse {
        let mut answer = self.answer(tag, kind);
        answer.headers_mut().insert(header::AGE, age.as_secs().into());
        answer
    }

    /// Answers with it under its tag.
    pub fn answer(self, tag: String, kind: &'static str) -> HttpResponse {
        HttpResponse::Ok()
            .content_type(kind)
            .insert_header((header::ETAG, tag))
            .insert_header((header::CACHE_CONTROL, "private, no-cache"))
            .insert_header((header::VARY, "Accept, Accept-Encoding, Authorization, Cookie"))
            .body(self.body)
    }
}

type Place = Arc<tokio::sync::Mutex<Option<Written>>>;

/// The tables and boards that are kept.
#[derive(Default)]
pub struct Rendered(Mutex<Kept>);

#[derive(Default)]
struct Kept {
    places: HashMap<Asked, Place>,
    bytes: usize,
}

impl Kept {
    fn place(&mut self, asked: Asked) -> Place {
        if self.places.len() >= MOST && !self.places.contains_key(&asked) {
            *self = Self::default();
        }
        Arc::clone(self.places.entry(asked).or_default())
    }

    /// Counts what was written in the place of `before`; too much, and all of it is forgotten.
    fn count(&mut self, before: usize, written: usize) {
        self.bytes = self.bytes.saturating_sub(before) + written;
        if self.bytes > MOST_BYTES {
            *self = Self::default();
        }
    }
}

impl Rendered {
    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Returns a table or board that is no older than `mark`, if it is there.
    pub async fn last(&self, asked: Asked, mark: i64) -> Option<Written> {
        let place = self.kept().place(asked);
        let last = place.lock().await;
        last.clone().filter(|written| written.mark >= mark)
    }

    /// Returns a table or board that is no older than `mark`.
    ///
    /// # Errors
    /// Whatever keeps `write` from writing it.
    pub async fn of<F>(&self, asked: Asked, mark: i64, write: impl FnOnce() -> F) -> Result<Written, Problem>
    where
        F: Future<Output = Result<Written, Problem>>,
    {
        let place = self.kept().place(asked);
        let mut last = place.lock().await;
        if let Some(written) = last.as_ref().filter(|written| written.mark >= mark) {
            return Ok(written.clone());
        }
        let written = write().await?;
        let before = last.replace(written.clone()).map_or(0, |before| before.body.len());
        self.kept().count(before, written.body.len());
        Ok(written)
    }
}
