//! Rounds: handed in, judged, corrected, taken back, queried, ruled on.

pub mod batch;
pub(super) mod card_faults;
pub mod cards;
pub mod content;
pub mod correct;
pub mod derivations;
pub(super) mod digests;
pub mod hand_in;
pub mod history;
pub(super) mod judge;
pub mod kept_answers;
pub mod marked;
pub(super) mod prepared;
pub mod queries;
pub mod queue;
pub mod request;
pub mod rule;
pub mod together;
