//! Clearing away what was erased: SQLite's write-ahead log keeps pages as they were before, and is emptied after an erasure.

use crate::storage::Database;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::Notify;

/// The pause before the next attempt while somebody reads an earlier state.
const AGAIN: Duration = Duration::from_secs(1);
/// After how long a warning is logged.
const LONG: Duration = Duration::from_secs(600);

/// Tells that the log holds what was erased.
#[derive(Clone, Default)]
pub struct Clearing(Arc<Notify>);

impl Clearing {
    /// Asks for the log to be emptied.
    pub fn is_due(&self) {
        self.0.notify_one();
    }
}

/// Empties the log once at the start, as an earlier run may have been stopped between an erasure and this, and then after
/// every erasure.
pub async fn keep_up(clearing: Clearing, database: Database) {
    loop {
        empty_log(&database).await;
        clearing.0.notified().await;
    }
}

/// Tries again until nobody reads an earlier state.
async fn empty_log(database: &Database) {
    let (began, mut is_told) = (Instant::now(), false);
    loop {
        let error = match database.empty_log().await {
            Ok(true) => return,
            Ok(false) => None,
            Err(error) => Some(error.to_string()),
        };
        if !is_told && (error.is_some() || began.elapsed() > LONG) {
            tracing::warn!(error, "the write-ahead log cannot be emptied yet; it may hold what was erased");
            is_told = true;
        }
        tokio::time::sleep(AGAIN).await;
    }
}
