//! Competitions of a season.

pub mod lay_down;
