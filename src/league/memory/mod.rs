//! What is remembered between requests. Each is valid by a mark that is read again, and has a bound.

pub mod books;
pub mod cards;
pub mod fields;
pub mod marks;
pub mod season_figures;
pub mod to_weigh;
