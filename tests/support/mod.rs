//! What several tests share.

pub mod arithmetic;
pub mod browsing;
pub mod harness;
pub mod serving;
pub mod simulated;
pub mod store;
pub mod story;
