//! What a league brings along in mid-season.

use super::fixture::Competitor;
use crate::ids::{CompetitionId, MemberId};
use crate::units::Tenths;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// An 18-hole differential from before the league came here.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CarriedDifferential {
    /// The day on which it was played.
    pub played_on: Date,
    /// The differential.
    pub differential: Tenths,
    /// Where it comes from.
    pub source: String,
}

/// A season's value from before the league came here.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CarriedResult {
    /// Whose it is.
    #[serde(flatten)]
    pub competitor: Competitor,
    /// The competition whose table it stands in; `None`: the season's main one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub competition_id: Option<CompetitionId>,
    /// What people call it.
    pub label: String,
    /// The value.
    pub value: f64,
    /// Where it comes from.
    pub source: String,
}

impl CarriedResult {
    /// Returns the member whose it is; `None`: it is a team's.
    pub fn member(&self) -> Option<MemberId> {
        match self.competitor {
            Competitor::Member { member_id } => Some(member_id),
            Competitor::Team { .. } => None,
        }
    }
}
