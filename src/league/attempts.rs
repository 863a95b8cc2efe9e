//! Attempts: what a change would do, without doing it.
//!
//! The change is made for real and taken back with its savepoint, so what is shown is what would follow.

use super::Refusal;
use crate::storage::StorageError;
use crate::storage::writer::Refusing;

/// How an attempt ends that leaves nothing behind.
pub enum Undone<T> {
    /// It was refused.
    Refused(Refusal),
    /// It would have done this.
    Seen(Box<T>),
}

impl<T> Undone<T> {
    /// Ends an attempt with what it would have done.
    pub fn seen(view: T) -> Self {
        Undone::Seen(Box::new(view))
    }

    /// Returns what an attempt would have done.
    ///
    /// # Errors
    /// Whatever refused it.
    pub fn view(attempt: Result<(), Self>) -> Result<T, Refusal> {
        match attempt {
            Err(Undone::Seen(view)) => Ok(*view),
            Err(Undone::Refused(refusal)) => Err(refusal),
            Ok(()) => Err(Refusal::NotFound),
        }
    }
}

impl<T> From<Refusal> for Undone<T> {
    fn from(refusal: Refusal) -> Self {
        Undone::Refused(refusal)
    }
}

impl<T> From<StorageError> for Undone<T> {
    fn from(error: StorageError) -> Self {
        Undone::Refused(error.into())
    }
}

impl<T: Send + 'static> Refusing for Undone<T> {
    fn storage(&self) -> Option<&StorageError> {
        if let Undone::Refused(refusal) = self { refusal.storage() } else { None }
    }
}
