//! One id type each, so that a round's id is never taken for a member's.

use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

macro_rules! id {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result { self.0.fmt(f) }
        }

        impl From<Uuid> for $name {
            fn from(id: Uuid) -> Self { Self(id) }
        }
    )*};
}

id!(
    /// A league.
    LeagueId,
    /// A member of one league.
    MemberId,
    /// A set-up: the equipment that rounds are putted on.
    SetupId,
    /// A course.
    CourseId,
    /// A tee of a course.
    TeeId,
    /// A season.
    SeasonId,
    /// An event: one league night.
    EventId,
    /// A competition of a season.
    CompetitionId,
    /// A team of a season.
    TeamId,
    /// A fixture: two sides that meet in an event.
    FixtureId,
    /// A round: one member's card in one event.
    RoundId,
    /// The id that a sender makes once for a round, so that it is never stored twice.
    ClientRoundId,
    /// An account: a person who can sign in.
    AccountId,
);
