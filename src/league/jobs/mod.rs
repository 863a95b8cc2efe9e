//! What runs by itself, beside the requests.

pub mod backups;
pub mod boards;
pub mod clearing;
pub mod heads;
pub mod weighing;
