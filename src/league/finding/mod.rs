//! Fair play: the evidence, the findings that it opens, and what is said and ruled about them.

pub mod desk;
pub mod evidence;
pub mod read;
pub mod records;
pub mod rule;
pub mod views;
