//! Events: laid down and made final, who plays in them, and what a player fills in.

pub mod board;
pub mod copy;
pub mod enter;
pub mod entry_sheet;
pub mod lay_down;
mod void;
