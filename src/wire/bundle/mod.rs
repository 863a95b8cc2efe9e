//! A league as a bundle: its lines, and the league that they add up to.

pub mod assemble;
mod assemble_matches;
pub mod finding;
pub mod ids;
pub mod line;
