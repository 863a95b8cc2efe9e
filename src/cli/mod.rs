//! The commands, one file each.

pub mod backups;
pub mod bundles;
pub mod calc;
pub mod database;
pub mod demo;
mod demo_acts;
pub mod invite;
pub mod report;
pub mod reset_password;
pub mod rotate_key;
pub mod serve;
pub mod verify;
