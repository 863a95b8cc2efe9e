//! Which of two values wins.

use serde::{Deserialize, Serialize};
use std::cmp::Ordering;

/// Which of two values is the better one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Better {
    /// Points: the higher value.
    Higher,
    /// Strokes: the lower value.
    Lower,
}

impl Better {
    /// Compares two values; the better one is less and so sorts first.
    pub fn compare<T: Ord>(self, a: &T, b: &T) -> Ordering {
        match self {
            Better::Higher => b.cmp(a),
            Better::Lower => a.cmp(b),
        }
    }
}
