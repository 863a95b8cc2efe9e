//! Raw facts: what people handed in or laid down, kept as given.
//!
//! Everything else (scores, differentials, league indexes, strokes gained, standings) is derived from these.
//! The JSON form of each type is its body in the interface and its line in a bundle.

pub mod brought;
pub mod course;
pub mod entrant;
pub mod event;
pub mod member;
pub mod practice;
pub mod round;
pub mod ruling;
pub mod season;
pub mod setup;

pub use brought::{CarriedDifferential, CarriedResult};
pub use course::{Course, Hole, Nine, Tee};
pub use entrant::{CardInPlay, StartPlace};
pub use event::{Event, EventState, FinalRecord, TeeAssignment};
pub use member::{EarlierStart, League, Member, Role};
pub use practice::{Practice, PractisedPutt};
pub use round::{CardHole, Outcome, Putt, PuttResult, Round};
pub use ruling::{Answer, Decision, Opinion, Query};
pub use season::{Award, Division, Scoring, Season};
pub use setup::{Sensor, Setup};

use super::rule::Rule;

/// A rule that a body breaks, with the place where it breaks it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// JSON Pointer to the field.
    pub pointer: String,
    /// The rule that is broken.
    pub rule: Rule,
    /// What is wrong, with the limit.
    pub detail: String,
}

impl Fault {
    /// Names a broken rule.
    pub fn new(pointer: impl Into<String>, rule: Rule, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), rule, detail: detail.into() }
    }
}

/// A body with rules between its fields, of which it shows itself whether it keeps them.
pub trait Rules {
    /// Finds the rules that it breaks.
    fn broken(&self) -> Vec<Fault> {
        Vec::new()
    }
}

impl Rules for Course {
    /// Tees that are sent without an id get theirs later.
    fn broken(&self) -> Vec<Fault> {
        self.faults().into_iter().filter(|fault| fault.rule != Rule::TeeRepeated).collect()
    }
}

impl Rules for Event {
    fn broken(&self) -> Vec<Fault> {
        self.faults()
    }
}

impl Rules for Season {
    fn broken(&self) -> Vec<Fault> {
        self.faults()
    }
}

impl Rules for Round {
    fn broken(&self) -> Vec<Fault> {
        self.own_faults(f64::INFINITY)
    }
}

impl Rules for CardHole {
    fn broken(&self) -> Vec<Fault> {
        self.own_faults()
    }
}

impl Rules for League {}
impl Rules for Member {}
impl Rules for Setup {}
