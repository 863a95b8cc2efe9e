//! TODO

pub mod body;
pub mod bundle;
pub mod card_file;
pub mod json;
pub mod schema;
