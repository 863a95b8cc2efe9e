//! The season: places, values, what counts, ties.

pub mod table;
