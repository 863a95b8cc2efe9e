//! League index arithmetic by publicly described rules; never an official handicap.
//!
//! A plus index ("+2.0") is the negative number -2.0 throughout.

pub mod average;
pub mod caps;
pub mod course;
pub mod differential;
pub mod exceptional;
pub mod index;
pub mod playing;
pub mod record;
