//! A stretch of green.

use crate::units::{Feet, SlopePct};

/// A stretch of green of one slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Its length along the line from ball to hole.
    pub length: Feet,
    /// How much it falls to the right.
    pub side_slope: SlopePct,
    /// How much it climbs towards the hole.
    pub up_slope: SlopePct,
}

impl Section {
    pub(super) fn is_level(&self) -> bool {
        self.side_slope.get() == 0.0 && self.up_slope.get() == 0.0
    }
}
