//! The derivation: raw facts and policy in, everything derived out.
//!
//! ```text
//! card ──► digest ──► one member's record, event by event ──► figures of each round ──► places ──► season table
//!          (entry.rs)  (record.rs)                            (figures.rs)              (../competition)
//! ```
//!
//! A round's figures hang on that member's rounds in events of earlier dates and on nothing else, so a hand-in
//! re-derives one member and no more; places and tables are made from figures when they are read.

pub mod book;
pub mod entry;
pub mod figures;
pub mod findings;
pub mod life;
pub mod overview;
pub mod putting;
pub mod record;
pub mod side_contest;
pub mod working;

pub use book::{Book, Night};
pub use entry::{CardDigest, Entry, HoleScore, RoundState};
pub use figures::{Figures, Handicap};
pub use life::Life;
pub use record::{DifferentialKind, DifferentialRow, MemberRecord};
