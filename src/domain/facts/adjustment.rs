//! Points that an organizer gives or takes in a table.

use super::fault::{Fault, Rules};
use super::fixture::Competitor;
use crate::exact::Value;
use crate::ids::EventId;
use crate::rule::Rule;
use serde::{Deserialize, Serialize};

/// Points that an organizer gives or takes in a table, for a reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Adjustment {
    /// Whose points.
    #[serde(flatten)]
    pub competitor: Competitor,
    /// Added to the total; negative ones are taken.
    pub points: Value,
    pub reason: String,
    #[serde(default)]
    pub counts: AdjustmentCounts,
    /// The event that it belongs to: looking back to an earlier one leaves it out.
    #[serde(default)]
    pub event_id: Option<EventId>,
}

/// When an adjustment counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum AdjustmentCounts {
    /// Added to what counts.
    #[default]
    After,
    /// Competing with the values of events for the best.
    Before,
}

impl Rules for Adjustment {
    fn broken(&self) -> Vec<Fault> {
        if self.reason.trim().is_empty() {
            return vec![Fault::new("/reason", Rule::ReasonMissing, "an adjustment tells why")];
        }
        Vec::new()
    }
}
