//! The real server over HTTP: a league night worked by hand, and what is refused on the way.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod harness;
#[path = "../serving/mod.rs"]
mod serving;
#[path = "../store/mod.rs"]
mod store;
mod story;
