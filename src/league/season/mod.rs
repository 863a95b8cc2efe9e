//! Seasons: laid down, derived, and what moved their tables.

pub(super) mod around;
pub mod changes;
pub mod copy;
pub mod derive;
pub mod lay_down;
mod mark;
pub mod remove;
