//! Raw facts: what people handed in or laid down, kept as given.
//!
//! Everything else (scores, differentials, league indexes, strokes gained, standings) is derived from these.
//! The JSON form of each type is its body in the interface and its line in a bundle.

pub mod brought;
pub mod competition;
pub mod course;
pub mod entrant;
pub mod event;
pub mod fault;
pub mod fit;
pub mod member;
pub mod practice;
pub mod round;
pub mod ruling;
pub mod season;
pub mod setup;

pub use brought::{CarriedDifferential, CarriedResult};
pub use competition::{Award, Basis, Competition, Scoring};
pub use course::{Course, Hole, Nine, Tee};
pub use entrant::{CardInPlay, StartPlace};
pub use event::{Event, EventState, FinalRecord, TeeAssignment};
pub use fault::{Fault, Rules};
pub use member::{EarlierStart, League, Member, Role};
pub use practice::{Practice, PractisedPutt};
pub use round::{CardHole, Outcome, Putt, PuttResult, Round};
pub use ruling::{Answer, Decision, Opinion, Query};
pub use season::{Flight, Season};
pub use setup::{Sensor, Setup};
