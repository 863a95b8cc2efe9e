//! The real server over HTTP: who may do what, what is refused and how, what a golfer reads.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod authorization;
mod harness;
mod story;
