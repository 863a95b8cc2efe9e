//! Which events a competition counts: each by itself, with a weight, or several together as one result.

use crate::exact::{Value, whole};
use crate::ids::EventId;
use serde::{Deserialize, Serialize};

/// The most results that a competition names.
pub const MOST_RESULTS: usize = 200;
/// The most events that make one result.
pub const MOST_TOGETHER: usize = 20;
/// The least weight of a result.
pub const LEAST_WEIGHT: f64 = 0.01;
/// The greatest weight of a result.
pub const GREATEST_WEIGHT: f64 = 100.0;

/// What several cards of a player are worth together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Take {
    /// Their sum; where the fewest win, a player needs all of them.
    #[default]
    Sum,
    /// The best of them.
    Best,
}

/// The events that make one result of a competition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Counted {
    pub event_ids: Vec<EventId>,
    /// What the result's value is multiplied by.
    #[serde(default = "once")]
    pub weight: Value,
    #[serde(default)]
    pub take: Take,
}

fn once() -> Value {
    Value(whole(1))
}

impl Counted {
    /// Counts an event by itself.
    pub fn alone(event: EventId) -> Self {
        Self { event_ids: vec![event], weight: once(), take: Take::Sum }
    }

    /// Returns whether its value is multiplied by anything but 1.
    pub fn is_weighted(&self) -> bool {
        self.weight != once()
    }

    /// Returns whether several events make the result.
    pub fn is_of_several(&self) -> bool {
        self.event_ids.len() > 1
    }
}
