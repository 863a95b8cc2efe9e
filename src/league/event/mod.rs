//! Events: laid down and made final, who plays in them, what a player fills in, side contests.

pub mod board;
pub mod copy;
pub mod enter;
pub mod entry_sheet;
pub mod lay_down;
pub mod side_contest;
mod void;
