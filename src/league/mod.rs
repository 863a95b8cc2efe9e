//! What people do, one file an act: permission, load, domain, save. Only here are steps put in order.

pub mod access;
pub mod account;
pub mod addresses;
pub mod attempts;
pub mod bundle;
pub mod caller;
pub mod competition;
pub mod context;
pub mod courses;
pub mod event;
pub mod finding;
pub mod jobs;
pub mod keys;
pub mod leagues;
pub mod member;
pub mod memory;
pub mod reading;
pub mod refusal;
pub mod round;
pub mod season;
pub mod setups;
pub mod verify;
pub mod views;

pub use caller::Caller;
pub use context::{Clock, Leagues};
pub use refusal::{Refusal, sound};

/// Changes the store: an async block that is given `conn` and may refuse. The scope is what it works on: the id of
/// anything in the league, or a [`Scope`](crate::storage::Scope).
#[macro_export]
macro_rules! change {
    ($leagues:expr, $scope:expr, |$conn:ident| $body:expr) => {
        $leagues.writer.change($scope, move |$conn| Box::pin(async move { $body })).await
    };
}
