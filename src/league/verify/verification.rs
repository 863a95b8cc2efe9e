//! What a verification found.

use crate::domain::ids::LeagueId;
use crate::league::Refusal;
use crate::storage::StorageError;
use std::error::Error;

/// What was looked at and what was wrong.
#[derive(Debug, Default)]
pub struct Verification {
    /// Leagues looked at.
    pub leagues: u64,
    /// Rounds derived afresh.
    pub rounds: u64,
    /// Journal entries walked.
    pub entries: u64,
    /// Every difference, in words.
    pub differences: Vec<String>,
}

impl Verification {
    /// Takes a value that cannot be read for a difference.
    ///
    /// # Errors
    /// Any other failure.
    pub(super) fn unreadable(&mut self, league: LeagueId, error: Refusal) -> Result<(), Refusal> {
        match error {
            Refusal::Storage(error) if error.is_unreadable() => {
                self.differences.push(format!("league {league}: {}", in_words(&error)));
                Ok(())
            }
            other => Err(other),
        }
    }
}

/// Says an error with its causes.
pub(super) fn in_words(error: &StorageError) -> String {
    let causes = std::iter::successors(error.source(), |cause| (*cause).source());
    causes.fold(error.to_string(), |words, cause| format!("{words}: {cause}"))
}
