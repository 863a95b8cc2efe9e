//! What is played off in the events of a season. The league index itself stays one for all seasons.

use super::fault::Fault;
use crate::ids::EventId;
use crate::rule::Rule;
use serde::{Deserialize, Serialize};

/// The most latest differentials that an average looks at.
pub const MOST_LATEST: u32 = 40;
/// The highest limit of strokes over 18 holes.
pub const MOST_LIMIT: i32 = 72;

/// The index that a player plays off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum PlaysOff {
    Computed {},
    /// The starting handicap of the day, as the organizer declares it.
    Declared {},
    /// A share of the mean of the best of the latest differentials.
    Average {
        last: u32,
        best: u32,
        pct: u32,
    },
}

/// What becomes of nine-hole differentials.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Nines {
    /// Two make one, in order.
    #[default]
    Pair,
    /// Each counts twice.
    Double,
}

/// The handicap terms of a season.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandicapPolicy {
    #[serde(flatten)]
    pub plays_off: PlaysOff,
    /// The event from which on nobody's index moves.
    #[serde(default)]
    pub frozen_from: Option<EventId>,
    /// The most strokes that a player receives over 18 holes, and half of it over nine.
    #[serde(default)]
    pub limit: Option<i32>,
    #[serde(default)]
    pub nines: Nines,
}

impl Default for HandicapPolicy {
    fn default() -> Self {
        Self { plays_off: PlaysOff::Computed {}, frozen_from: None, limit: None, nines: Nines::Pair }
    }
}

impl HandicapPolicy {
    /// Finds what no single field shows.
    pub fn faults(&self) -> Vec<Fault> {
        match self.plays_off {
            PlaysOff::Average { last, best, .. } if best > last => {
                let detail = format!("the best are {best} of the latest {last}: at most all of them");
                vec![Fault::new("/handicap/best", Rule::HandicapPolicy, detail)]
            }
            _ => Vec::new(),
        }
    }

    /// Returns whether what results of final events rest on is the same as in `other`.
    pub fn settles_as(&self, other: &Self) -> bool {
        (self.limit, self.nines) == (other.limit, other.nines)
    }
}
