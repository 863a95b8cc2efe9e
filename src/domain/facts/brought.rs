//! What a league brings along in mid-season.

use crate::domain::ids::MemberId;
use crate::domain::units::Tenths;
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
    pub member_id: MemberId,
    /// What people call it.
    pub label: String,
    /// The value.
    pub value: f64,
    /// Where it comes from.
    pub source: String,
}
