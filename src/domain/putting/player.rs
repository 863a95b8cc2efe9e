//! What a player's own putts say: line, pace, why putts were missed and what the set-ups record.

use super::calibration::SetupRatio;
use super::causes::Causes;
use super::pacing::{PaceSpread, Rolled};
use super::startline::StartLine;
use super::struck::Struck;
use crate::facts::PuttResult;
use crate::ids::SetupId;
use serde::Serialize;
use std::collections::BTreeMap;

/// A player's putting beyond the distance bands; fields are named as in the putting report.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PlayerPutting {
    /// How straight the ball starts; `None` below 20 putts with a measured line.
    pub start_line: Option<StartLine>,
    /// How well putts are paced; `None` below 20 putts with a recorded speed.
    pub pace: Option<PaceSpread>,
    /// Strokes lost on misses by cause; `None` below ten.
    pub causes: Option<Causes>,
    /// What each set-up records of a ball's speed, by its id; without those that too few putts tell about.
    pub setups: Vec<SetupRatio>,
}

impl PlayerPutting {
    /// Works out the report from a player's putts and the number of recorded holes they were struck on.
    ///
    /// Conceded putts are left out. Recorded speeds are divided by their set-up's fitted ratio, where there is one, and
    /// by 1 otherwise.
    ///
    /// # Shape
    /// `putts` by round, hole and putt: the floats are summed in that order, so that the same putts always give the
    /// same digits.
    ///
    /// # Units
    /// Every figure is rounded half-even to six decimals.
    pub fn of(putts: &[Struck], recorded_holes: u32) -> Self {
        let struck: Vec<Struck> =
            putts.iter().filter(|putt| putt.putt.result != PuttResult::Conceded).copied().collect();
        let setups = fitted(&struck);
        let ratio = |putt: &Struck| ratio_of(&setups, putt);
        let errors = struck.iter().filter_map(|putt| Some(Rolled::of(putt)?.error(ratio(putt)))).collect();
        Self {
            start_line: StartLine::of(&struck),
            pace: PaceSpread::of(errors),
            causes: Causes::of(&struck, ratio, recorded_holes),
            setups,
        }
    }
}

/// Returns by what a putt's recorded speed is divided.
pub(super) fn ratio_of(setups: &[SetupRatio], putt: &Struck) -> f64 {
    let found = setups.iter().find(|setup| Some(setup.setup_id) == putt.setup);
    found.map_or(1.0, |setup| setup.speed_ratio)
}

fn fitted(struck: &[Struck]) -> Vec<SetupRatio> {
    let mut by_setup: BTreeMap<SetupId, Vec<&Struck>> = BTreeMap::new();
    for putt in struck {
        if let Some(setup) = putt.setup {
            by_setup.entry(setup).or_default().push(putt);
        }
    }
    by_setup.into_iter().filter_map(|(setup, putts)| SetupRatio::of(setup, &putts)).collect()
}
