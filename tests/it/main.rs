//! The integration tests, in one program so that the library is linked once. Their folders say where they run: `stored`
//! asks a database and runs on both. The others run once: `edge` looks at what is settled before a database is asked,
//! `pages` at what a browser is sent, `file` at a file of SQLite, `pure` at calculations and the source itself.

mod edge;
mod file;
mod pages;
mod pure;
mod stored;
#[path = "../support/mod.rs"]
mod support;
