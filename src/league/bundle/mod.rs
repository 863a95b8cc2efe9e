//! A whole league as a bundle: out and in.

pub mod export;
pub mod import;
mod matches;
