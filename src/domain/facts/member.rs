//! A league and its members.

use super::fault::{Fault, Rules};
use crate::rule::Rule;
use crate::units::Tenths;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

/// A league: the unit that shares nothing with another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct League {
    /// What people call it.
    pub name: String,
    /// The IANA name of the zone in which its dates are counted.
    pub time_zone: String,
}

impl League {
    /// Returns the zone in which its dates are counted.
    ///
    /// # Errors
    /// A name that the embedded time-zone data does not have.
    pub fn zone(&self) -> Result<TimeZone, Fault> {
        let name = &self.time_zone;
        TimeZone::get(name)
            .map_err(|_| Fault::new("/time_zone", Rule::NotAZone, format!("{name} is not an IANA time zone")))
    }
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
    /// The flight that the organizer put the member in; wins in seasons that have one of that name.
    pub flight: Option<String>,
    /// What the member plays off until three differentials are in: provisional, and never part of the low index. It
    /// holds from the last of the days on which an earlier one ended.
    pub starting_handicap: Option<Tenths>,
    /// Whether the member plays in events and stands in no table: somebody who comes for a night.
    #[serde(default)]
    pub guest: bool,
    /// The starting handicaps of before, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty", rename = "earlier_starting_handicaps")]
    pub earlier_starts: Vec<EarlierStart>,
}

/// A starting handicap that holds no more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EarlierStart {
    /// The day from which another one holds.
    pub before: Date,
    /// What it was.
    #[serde(default)]
    pub starting_handicap: Option<Tenths>,
}

impl Member {
    /// Returns the starting handicap of a day.
    pub fn start_on(&self, day: Date) -> Option<Tenths> {
        let earlier = self.earlier_starts.iter().find(|earlier| day < earlier.before);
        earlier.map_or(self.starting_handicap, |earlier| earlier.starting_handicap)
    }

    /// Lays down another starting handicap from a day on; without a day it always held.
    pub fn start_from(&mut self, from: Option<Date>, starting_handicap: Option<Tenths>) {
        let Some(from) = from else {
            self.earlier_starts.clear();
            self.starting_handicap = starting_handicap;
            return;
        };
        // The one of the day before holds until then, whatever was laid down for later days.
        let until_then = self.start_on(from.yesterday().unwrap_or(from));
        self.earlier_starts.retain(|earlier| earlier.before < from);
        self.earlier_starts.push(EarlierStart { before: from, starting_handicap: until_then });
        self.starting_handicap = starting_handicap;
    }
}

impl Rules for League {}

impl Rules for Member {}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_starting_handicap_holds_from_its_day_on() {
        let mut member = Member {
            display_name: "Ada Mudge".into(),
            role: Role::Player,
            flight: None,
            starting_handicap: Some(Tenths(95)),
            guest: false,
            earlier_starts: Vec::new(),
        };
        let on = |member: &Member, day: i8| member.start_on(date(2027, 1, day)).map(|start| start.0);
        member.start_from(Some(date(2027, 1, 10)), Some(Tenths(120)));
        member.start_from(Some(date(2027, 1, 20)), None);
        assert_eq!([9, 10, 19, 20].map(|day| on(&member, day)), [Some(95), Some(120), Some(120), None]);
        // What is laid down from an earlier day on replaces what was for later ones.
        member.start_from(Some(date(2027, 1, 15)), Some(Tenths(-28)));
        assert_eq!([9, 14, 15, 25].map(|day| on(&member, day)), [Some(95), Some(120), Some(-28), Some(-28)]);
        member.start_from(None, Some(Tenths(10)));
        assert_eq!([1, 25].map(|day| on(&member, day)), [Some(10), Some(10)]);
    }
}
