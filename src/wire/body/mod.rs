//! The bodies of the interface and of a bundle: the shape of each, one file a resource.

pub mod account;
pub mod addresses;
pub mod brought;
pub mod competition;
pub mod copies;
pub mod course;
pub mod event;
pub mod finding_views;
pub mod findings;
pub mod handicap_act;
pub mod league;
pub mod life;
pub mod match_views;
pub mod matches;
pub mod practice;
pub mod putting;
pub mod round;
pub mod season;
pub mod setup;
mod shapes;
pub mod side_contest;
pub mod tables;
pub mod views;
