//! What crosses a border, as it is written: JSON, the shapes of bodies, bundles, CSV files of cards, calendars.

pub mod body;
pub mod bundle;
pub mod calendar;
pub mod card_file;
pub mod json;
pub mod putts_csv;
pub mod schema;
