//! A league as a bundle: its lines, and the league that they add up to.

pub mod assemble;
pub mod finding;
pub mod ids;
pub mod line;
