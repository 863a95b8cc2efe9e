//! A set-up: the equipment that rounds are putted on.

use super::fault::Rules;
use crate::units::Feet;
use serde::{Deserialize, Serialize};

/// What the launch sensor measures with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sensor {
    /// Cameras.
    Camera,
    /// Radar.
    Radar,
    /// Infrared beams.
    Infrared,
    /// Anything else.
    Other,
}

/// A set-up and what is declared about how it treats short putts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Setup {
    /// What people call it.
    pub label: String,
    /// What its sensor measures with.
    pub sensor: Sensor,
    /// Whether any member may use it.
    #[serde(default)]
    pub shared: bool,
    /// The distance inside which it softens the launch direction of putts, where that is known.
    #[serde(default)]
    pub softening_radius_ft: Option<Feet>,
    /// Anything else worth knowing.
    #[serde(default)]
    pub notes: String,
}

impl Rules for Setup {}
