//! What people do, one file an act: permission, load, domain, save. Only here are steps put in order.

pub mod access;
pub mod account;
pub mod attempts;
pub mod bundle;
pub mod courses;
pub mod event;
pub mod finding;
pub mod jobs;
pub mod keys;
pub mod leagues;
pub mod member;
pub mod memory;
pub mod reading;
pub mod round;
pub mod season;
pub mod setups;
pub mod verify;
pub mod views;

use crate::domain::facts::Fault;
use crate::domain::ids::AccountId;
use crate::domain::rule::Rule;
use crate::league::jobs::boards::Boards;
use crate::league::jobs::clearing::Clearing;
use crate::league::jobs::weighing::Weighing;
use crate::league::member::putting::Fields;
use crate::league::memory::books::Books;
use crate::league::memory::cards::Cards;
use crate::league::memory::marks::Marks;
use crate::league::memory::season_figures::SeasonFigures;
use crate::league::round::together::HandIns;
use crate::storage::heads::HeadKey;
use crate::storage::lasting::LastingActs;
use crate::storage::writer::Refusing;
use crate::storage::{Database, StorageError, Writer};
use crate::wire::schema::FieldError;
use jiff::Timestamp;
use std::sync::Arc;
use tokio::runtime::Handle;
use uuid::Uuid;

/// Why something was not done.
#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    /// It is not there, or not the caller's to know.
    #[error("there is nothing here that you may see")]
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
    #[error("give your password once more for this")]
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
    #[error("this code was used or has run out")]
    CodeSpent,
    /// Somebody else changed it in the meantime; its present version.
    #[error("it was changed in the meantime")]
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

/// Who asks.
#[derive(Clone, Copy, Debug)]
pub struct Caller {
    /// The account.
    pub account: AccountId,
    /// Its session.
    pub session: Uuid,
    /// When the password was given for it, where a browser asks; none for whoever comes with a token.
    pub browser_since: Option<Timestamp>,
}

/// Where the time comes from.
pub type Clock = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// The leagues of one server: its store, its clock, and what it remembers between requests.
#[derive(Clone)]
pub struct Leagues {
    /// For reading.
    pub database: Database,
    /// For changing.
    pub writer: Writer,
    /// The time.
    pub clock: Clock,
    /// Books of leagues, by their mark.
    pub books: Books,
    /// Members' rounds, by the head of their league's journal.
    pub cards: Cards,
    /// Fields of seasons, by the mark of the season's table.
    pub fields: Fields,
    /// Figures of seasons, by the marks of their events' boards.
    pub season_figures: SeasonFigures,
    /// Those who wait to be told the mark of a table or board.
    pub marks: Marks,
    /// Hand-ins that wait to be judged.
    pub hand_ins: HandIns,
    /// What waits to be taken into the evidence.
    pub weighing: Weighing,
    /// Tells that an event's board shows something else.
    pub boards: Boards,
    /// Tells that something was erased.
    pub clearing: Clearing,
    /// Where acts are written down that outlast a restore.
    pub lasting: LastingActs,
    /// Signs heads of journals; none where a command found no key.
    pub head_key: Option<HeadKey>,
}

impl Leagues {
    /// Puts the parts together, in the runtime that the writer runs in.
    ///
    /// # Panics
    /// Outside a runtime.
    pub fn new(database: Database, writer: Writer, clock: Clock) -> Self {
        let (books, cards, fields) = (Books::default(), Cards::default(), Fields::default());
        let season_figures = SeasonFigures::default();
        let (hand_ins, weighing, boards) = (HandIns::on(Handle::current()), Weighing::default(), Boards::default());
        let (marks, clearing) = (Marks::default(), Clearing::default());
        let (lasting, head_key) = (LastingActs::default(), None);
        Self {
            database,
            writer,
            clock,
            books,
            cards,
            fields,
            season_figures,
            marks,
            hand_ins,
            weighing,
            boards,
            clearing,
            lasting,
            head_key,
        }
    }

    /// Returns the time.
    pub fn now(&self) -> Timestamp {
        let now = (self.clock)();
        Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now)
    }
}

/// Changes the store: an async block that is given `conn` and may refuse. The scope is what it works on: the id of
/// anything in the league, or a [`Scope`](crate::storage::Scope).
#[macro_export]
macro_rules! change {
    ($leagues:expr, $scope:expr, |$conn:ident| $body:expr) => {
        $leagues.writer.change($scope, move |$conn| Box::pin(async move { $body })).await
    };
}
