//! The pure core: values in, values out. No database, web, clock, randomness, files, environment or async.

pub mod audit;
pub mod competition;
pub mod exact;
pub mod facts;
pub mod handicap;
pub mod ids;
pub mod packing;
pub mod putting;
pub mod rule;
pub mod scoring;
pub mod season;
pub mod units;
