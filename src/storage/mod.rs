//! What can be stored, in domain words. Each statement stands in its own file under `sql/`.

pub mod accounts;
pub mod backup;
pub mod backup_file;
pub mod db;
pub mod documents;
mod error;
pub mod evidence;
pub mod file_columns;
pub mod findings;
pub mod heads;
pub mod idempotency;
pub mod journal;
mod lanes;
pub mod lasting;
pub mod leagues;
pub mod members;
pub mod mounts;
pub mod news;
pub mod postgres;
pub mod practice;
pub mod private;
pub mod putts;
pub mod results;
pub mod rounds;
pub mod scope;
pub mod secrets;
pub mod shown;
pub mod sqlite;
pub mod together;
pub mod weighing;
mod wide;
pub mod writer;

pub use db::{Conn, Database, Store};
pub use error::StorageError;
pub use scope::Scope;
pub use writer::Writer;
