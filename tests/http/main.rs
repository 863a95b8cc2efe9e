//! The real server over HTTP: who may do what, what is refused and how, what a golfer reads.

mod authorization;
mod harness;
mod story;
