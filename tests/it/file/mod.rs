//! What concerns a file of SQLite alone.

mod doctor;
mod evidence_writes;
mod kept_heads;
mod verify_columns;
