//! Tables as they were last written, so that many readers share the work of one.
//!
//! A reader knows the table's mark before it comes here. It is served what carries that mark or a later one; otherwise it
//! writes the table, and whoever asks meanwhile waits for it and looks again.

use super::problem::Problem;
use crate::domain::ids::{EventId, SeasonId};
use actix_web::web::Bytes;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// How many tables are kept.
const MOST_TABLES: usize = 64;

/// What is asked of a season's table.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Asked {
    /// The season.
    pub season: SeasonId,
    /// Up to which event.
    pub after_event: Option<EventId>,
    /// Of which division.
    pub division: Option<String>,
    /// As CSV.
    pub is_csv: bool,
}

/// A table with its mark.
#[derive(Clone, Debug)]
pub struct Written {
    /// The mark.
    pub mark: i64,
    /// The table.
    pub body: Bytes,
}

type Place = Arc<tokio::sync::Mutex<Option<Written>>>;

/// The tables that are kept.
#[derive(Default)]
pub struct Rendered(Mutex<HashMap<Asked, Place>>);

impl Rendered {
    /// Returns a table that is no older than `mark`.
    ///
    /// # Errors
    /// Whatever keeps `write` from writing it.
    pub async fn of<F>(&self, asked: Asked, mark: i64, write: impl FnOnce() -> F) -> Result<Written, Problem>
    where
        F: Future<Output = Result<Written, Problem>>,
    {
        let place = {
            let mut places = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            if places.len() >= MOST_TABLES && !places.contains_key(&asked) {
                places.clear();
            }
            Arc::clone(places.entry(asked).or_default())
        };
        let mut kept = place.lock().await;
        if let Some(written) = kept.as_ref().filter(|written| written.mark >= mark) {
            return Ok(written.clone());
        }
        let written = write().await?;
        *kept = Some(written.clone());
        Ok(written)
    }
}
