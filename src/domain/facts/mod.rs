//! Raw facts: what people handed in or laid down, kept as given.
//!
//! Everything else (scores, differentials, league indexes, strokes gained, standings) is derived from these.
//! The JSON form of each type is its body in the interface and its line in a bundle.

pub mod adjustment;
pub mod beside;
pub mod brought;
pub mod competition;
mod competition_faults;
pub mod concession;
pub mod copies;
pub mod counted_events;
pub mod course;
pub mod entrant;
pub mod event;
pub mod fault;
pub mod fit;
pub mod fixture;
pub mod handicap_act;
pub mod handicap_policy;
pub mod line_up;
pub mod match_terms;
pub mod member;
pub mod practice;
pub mod round;
pub mod ruling;
pub mod season;
pub mod secret_address;
pub mod setup;
pub mod side;
pub mod side_contest;
pub mod staggered;
pub mod team;
pub mod tie;

pub use adjustment::{Adjustment, AdjustmentCounts};
pub use brought::{CarriedDifferential, CarriedResult};
pub use competition::{Award, Basis, Competition, Scoring};
pub use concession::Conceded;
pub use copies::{EventCopies, SeasonCopy};
pub use course::{Course, Hole, Nine, Tee};
pub use entrant::{CardInPlay, EventEntry};
pub use event::{Event, EventState, FinalRecord, TeeAssignment};
pub use fault::{Fault, Rules};
pub use fixture::{Competitor, Contender, Fixture, FixtureSaid, SideWord};
pub use handicap_act::{Decided, HandicapAct, Held};
pub use handicap_policy::{HandicapPolicy, Nines, PlaysOff};
pub use line_up::{LineUp, LinedUp, PlayingOrder};
pub use match_terms::{AbsentTerms, MatchTerms, Share, SubstituteTerms, TiedMatch};
pub use member::{EarlierStart, League, Member, Role};
pub use practice::{Practice, PractisedPutt};
pub use round::{CardHole, Outcome, Putt, PuttResult, Round};
pub use ruling::{Answer, Decision, Opinion, Query};
pub use season::{Flight, Season};
pub use secret_address::{Leads, Names};
pub use setup::{Sensor, Setup};
pub use side_contest::SideContest;
pub use team::{Team, TeamMember, Withdrawal, WithdrawnResults};
pub use tie::Tie;
