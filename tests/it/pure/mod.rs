//! Calculations against published figures and worked lines, parsers, and the invariants of the source.

mod dependencies;
mod invariants;
mod parsers;
mod properties;
mod putting;
mod putting_advice;
mod putting_recovery;
mod putting_report;
mod reports;
mod requirements;
mod vectors;
