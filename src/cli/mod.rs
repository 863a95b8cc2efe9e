//! The commands, one file each.

pub mod calc;
pub mod report;
