//! The interface for scripts, `/api/v1`. Files mirror the URL tree; each handler extracts, calls, answers.

pub mod accounts;
pub mod addresses;
pub mod batches;
pub mod brought;
pub mod bundles;
pub mod competitions;
pub mod copies;
pub mod documents;
pub mod events;
pub mod findings;
pub mod holes;
pub mod leagues;
pub mod matches;
pub mod members;
pub mod notices;
pub mod openapi;
pub mod pace;
pub mod passwords;
pub mod practice;
pub mod putting;
pub mod read_only;
pub mod rosters;
pub mod rounds;
pub mod routes;
pub mod seasons;
pub mod tables;
