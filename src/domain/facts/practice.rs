//! Practice: putts outside any round. They count for nothing.

use super::fault::Fault;
use super::round::{Putt, PuttResult};
use crate::ids::SetupId;
use crate::rule::Rule;
use crate::units::{Feet, Stimp};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// The most putts of one block.
pub const MOST_PRACTISED: usize = 400;

/// A practised putt: the record of a putt, and where a miss stopped.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PractisedPutt {
    /// The putt.
    #[serde(flatten)]
    pub putt: Putt,
    /// From where a miss stopped to the hole; practised putts stand alone, so the next one does not tell it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leave_ft: Option<Feet>,
}

/// A block of practice.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Practice {
    /// What it was putted on, where that is known.
    #[serde(default)]
    pub setup_id: Option<SetupId>,
    /// The day.
    pub played_on: Date,
    /// The green speed.
    pub stimp_ft: Stimp,
    /// The putts, in the order in which they were struck.
    pub putts: Vec<PractisedPutt>,
}

impl Practice {
    /// Finds every way in which the block does not fit itself.
    pub fn faults(&self) -> Vec<Fault> {
        let holed = self
            .putts
            .iter()
            .enumerate()
            .filter(|(_, one)| one.putt.result != PuttResult::Missed && one.leave_ft.is_some());
        let fault = |(n, _)| {
            let detail = "a putt that was holed leaves nothing";
            Fault::new(format!("/putts/{n}/leave_ft"), Rule::LeaveOfHoled, detail)
        };
        holed.map(fault).collect()
    }
}
