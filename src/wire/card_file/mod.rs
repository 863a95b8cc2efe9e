//! A card from a file: rows of putts or holes in whatever columns a player's set-up writes.
//!
//! Pure: text in, holes and reasons out. [`table`] cuts the text into cells, [`meaning`] says what a column holds and in
//! which unit, [`card`] makes holes of the rows. No export is known by name: the player says what the columns are.

pub mod card;
pub mod cells;
pub mod meaning;
pub mod table;
