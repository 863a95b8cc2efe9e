//! TODO

pub mod assemble;
pub mod line;
