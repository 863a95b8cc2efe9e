//! evenfield, a league server for golfers who play on indoor simulators.
//!
//! A request is read, decided, computed, stored, answered.

pub mod bodies;
pub mod bundle;
pub mod cli;
pub mod domain;
pub mod json;
pub mod schema;
pub mod storage;
