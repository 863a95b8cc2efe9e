//! A struck putt as reports take it.

use crate::facts::Putt;
use crate::ids::SetupId;
use crate::units::{Feet, Stimp, StrokesGained};

/// The fewest putts from which a spread or a set-up's ratio is told.
pub const FEWEST_PUTTS: usize = 20;

/// A putt with what belongs to it beyond its own record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// What it was struck on, where that is known.
    pub setup: Option<SetupId>,
    /// The green speed.
    pub stimp: Stimp,
    /// The putt as it was recorded.
    pub putt: Putt,
    /// The distance of the next putt; `None` where there is none.
    pub leave_ft: Option<Feet>,
    pub gain: StrokesGained,
}

/// Rounds half-even to six decimals; zero has no sign.
pub(super) fn rounded(x: f64) -> f64 {
    (x * 1e6).round_ties_even() / 1e6 + 0.0
}
