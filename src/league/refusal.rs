//! Why something was not done.

use crate::domain::facts::Fault;
use crate::domain::rule::Rule;
use crate::storage::StorageError;
use crate::storage::writer::Refusing;
use crate::wire::schema::FieldError;

/// Why something was not done.
#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    /// It is not there, or not the caller's to know.
    #[error("this was not found, or you have no access to it")]
    NotFound,
    /// The caller may see it but not do this.
    #[error("{0}")]
    Forbidden(&'static str),
    /// The caller may do this, but not where its own card or set-up is concerned.
    #[error("{0}")]
    Concerned(&'static str),
    /// The session has ended.
    #[error("sign in again")]
    SignedOut,
    /// What was sent breaks rules.
    #[error("{} rules are broken", .0.len())]
    Faults(Vec<Fault>),
    /// What was sent does not have the shape that it needs.
    #[error("{} fields are wrong", .0.len())]
    Fields(Vec<FieldError>, Vec<Fault>),
    /// A browser whose password was given too long ago for this.
    #[error("confirm your password to do this")]
    PasswordDue,
    /// The state of things forbids it.
    #[error("{detail}")]
    Conflict {
        /// The rule that is broken.
        rule: Rule,
        /// What is in the way.
        detail: String,
    },
    /// An invitation was used or has run out.
    #[error("this code has been used or has expired")]
    CodeSpent,
    /// Somebody else changed it in the meantime; its present version.
    #[error("somebody else changed it in the meantime")]
    Stale(i64),
    /// The caller did not say which version it means to change.
    #[error("If-Match is needed")]
    IfMatchMissing,
    /// The idempotency key was used for something else.
    #[error("this key was used with another body")]
    KeyReused,
    /// The store failed.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// The operating system gave no random bytes.
    #[error(transparent)]
    Randomness(#[from] crate::accounts::RandomnessError),
}

impl Refusing for Refusal {
    fn storage(&self) -> Option<&StorageError> {
        if let Refusal::Storage(error) = self { Some(error) } else { None }
    }
}

impl Refusal {
    /// Names a state that forbids it.
    pub fn conflict(rule: Rule, detail: impl Into<String>) -> Self {
        Refusal::Conflict { rule, detail: detail.into() }
    }

    /// Names one broken rule.
    pub fn fault(pointer: &str, rule: Rule, detail: impl Into<String>) -> Self {
        Refusal::Faults(vec![Fault::new(pointer, rule, detail)])
    }
}

/// Passes if nothing is wrong.
///
/// # Errors
/// The faults, if there are any.
pub fn sound(faults: Vec<Fault>) -> Result<(), Refusal> {
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Faults(faults)) }
}

/// Says that a void event takes no more of something.
pub(in crate::league) fn void_event(takes_no: &str) -> Refusal {
    Refusal::conflict(Rule::EventVoid, format!("this event is void, so it takes no {takes_no}"))
}

pub(in crate::league) fn final_event() -> Refusal {
    Refusal::conflict(Rule::EventFinal, "this event is final, so its results cannot change")
}
