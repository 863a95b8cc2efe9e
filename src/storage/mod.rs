//! What can be stored, in domain words. Each statement stands in its own file under `sql/`.

pub mod accounts;
pub mod db;
pub mod documents;
pub mod evidence;
pub mod findings;
pub mod idempotency;
pub mod journal;
pub mod leagues;
pub mod members;
pub mod practice;
pub mod putts;
pub mod results;
pub mod rounds;
pub mod together;
pub mod weighing;
pub mod writer;

pub use db::{Conn, Database, StorageError};
pub use writer::Writer;
