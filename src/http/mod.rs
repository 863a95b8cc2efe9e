//! What both faces share, the interface for scripts and the pages: how requests are read and answered.

pub mod address;
pub mod answer;
pub mod app;
pub mod body;
pub mod canonical;
pub mod connection;
pub mod downloads;
pub mod hosts;
pub mod incoming;
pub mod intake;
pub mod keys;
pub mod kinds;
pub mod measures;
pub mod offload;
pub mod operator;
pub mod paging;
pub mod problem;
pub mod proxies;
pub mod quota;
pub mod rendered;
pub mod roster;
pub mod routes;
pub mod tag;
pub mod watch;
pub mod who;
