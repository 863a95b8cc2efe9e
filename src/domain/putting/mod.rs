//! Putting: what a putt was worth, how hard to strike it, where to aim it and how often it drops.
//!
//! SI inside, golfers' units outside.

pub mod advice;
pub mod band;
pub mod baseline;
pub mod calibration;
pub mod capture;
pub mod causes;
pub mod compact;
pub mod conditions;
pub mod field;
pub mod gained;
pub mod holed;
pub mod holes;
pub mod make;
pub mod pacing;
mod path;
pub mod picture;
pub mod player;
pub mod read;
pub mod report;
pub mod roll;
mod section;
pub mod share;
mod spread;
mod spread_chances;
pub mod startline;
pub mod struck;
pub mod sums;
pub mod table;
pub mod trend;
mod weakness;
mod worth;

pub use super::facts::PuttResult;
pub use sums::PuttingTotals;
