//! A league and its members.

use crate::domain::units::Tenths;
use serde::{Deserialize, Serialize};

/// A league: the unit that shares nothing with another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct League {
    /// What people call it.
    pub name: String,
    /// The IANA name of the zone in which its dates are counted.
    pub time_zone: String,
}

/// What a member may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Plays, and hands in for itself.
    Player,
    /// A player who also hands in and corrects for anyone.
    Scorer,
    /// Runs the league.
    Organizer,
}

impl Role {
    /// Returns whether cards of others are handed in and changed in this role.
    pub fn keeps_scores(self) -> bool {
        self != Role::Player
    }

    /// Returns the word for the role.
    pub fn word(self) -> &'static str {
        match self {
            Role::Player => "player",
            Role::Scorer => "scorer",
            Role::Organizer => "organizer",
        }
    }

    /// Reads the word for a role.
    pub fn from_word(word: &str) -> Option<Self> {
        [Role::Player, Role::Scorer, Role::Organizer].into_iter().find(|role| role.word() == word)
    }
}

/// A member of a league, with or without an account.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Member {
    /// The name that the league sees.
    pub display_name: String,
    /// What the member may do.
    pub role: Role,
    /// The division that the organizer put the member in; wins in seasons that have one of that name.
    pub division: Option<String>,
    /// What the member plays off until three differentials are in: provisional, and never part of the low index.
    pub starting_handicap: Option<Tenths>,
}
