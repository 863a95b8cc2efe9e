//! What splits competitors who are level.

use serde::{Deserialize, Serialize};

/// What splits those who are level, in the order of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tie {
    /// In an event: the last 9, 6, 3 and 1 holes.
    Countback,
    /// In the table: more first places among what counts.
    Firsts,
    /// In the table: the best value, then the next best and so on.
    BestValues,
    /// In a table of matches: what the fixtures among them were worth.
    HeadToHead,
    /// In a table of matches: more fixtures won.
    Won,
    /// In a table of matches: more points of fixtures.
    Points,
}

impl Tie {
    /// Every word in the order of the variants.
    pub const WORDS: &'static [&'static str] = &["countback", "firsts", "best_values", "head_to_head", "won", "points"];

    /// Returns whether it can split a table of matches, and whether any other.
    pub fn splits(self) -> (bool, bool) {
        match self {
            Self::Countback | Self::Firsts => (false, true),
            Self::BestValues => (true, true),
            Self::HeadToHead | Self::Won | Self::Points => (true, false),
        }
    }
}
