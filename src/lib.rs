//! evenfield, a league server for golfers who play on indoor simulators.
//!
//! A request is read, decided, computed, stored, answered.

pub mod accounts;
pub mod api;
pub mod cli;
pub mod demo;
pub mod http;
pub mod league;
pub mod log;
pub mod pages;
pub mod startup;
pub mod storage;
pub mod tasks;
pub mod wire;

pub use evenfield_domain as domain;
