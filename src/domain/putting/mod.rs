//! Putting: what a putt was worth, how hard to strike it, where to aim it and how often it drops.
//!
//! SI inside, golfers' units outside.

pub mod baseline;
pub mod capture;
pub mod gained;
pub mod make;
mod path;
pub mod read;
pub mod report;
pub mod roll;
pub mod sums;

pub use super::facts::PuttResult;
pub use sums::PuttingSums;
