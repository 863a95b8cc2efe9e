//! Accounts: registering, signing in, passwords, the browsers of somebody.

pub mod browser;
pub mod password;
pub mod register;
pub mod session;
pub mod view;
