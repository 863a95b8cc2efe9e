//! A side contest of an event, such as nearest the hole: noted by people, or read from the cards.

use super::fault::{Fault, Rules};
use crate::competition::better::Better;
use crate::exact::Value;
use crate::ids::MemberId;
use crate::rule::Rule;
use crate::units::HoleNumber;
use serde::{Deserialize, Serialize};

/// What is read from the cards.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FromCards {
    /// The fewest putts.
    Putts,
    /// The longest putt that was holed.
    LongestHoled,
    /// The most holes under par.
    UnderPar,
}

impl FromCards {
    pub const WORDS: &'static [&'static str] = &["putts", "longest_holed", "under_par"];

    /// Returns the unit of its values, and which of them are ranked first.
    pub fn read_as(self) -> (&'static str, Better) {
        match self {
            FromCards::Putts => ("putts", Better::Lower),
            FromCards::LongestHoled => ("ft", Better::Higher),
            FromCards::UnderPar => ("holes", Better::Higher),
        }
    }
}

/// A value that was noted for a member.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Noted {
    pub member_id: MemberId,
    pub value: Value,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SideContest {
    pub name: String,
    /// The hole that it is played on; `None`: all of them, or any.
    #[serde(default)]
    pub hole: Option<HoleNumber>,
    /// The unit of its values, unless they come from the cards.
    #[serde(default)]
    pub unit: Option<String>,
    /// Which values are ranked first, unless they come from the cards.
    #[serde(default)]
    pub better: Option<Better>,
    #[serde(default)]
    pub from_cards: Option<FromCards>,
    /// One a member; none where the values come from the cards.
    #[serde(default)]
    pub entries: Vec<Noted>,
}

impl SideContest {
    /// Returns the unit of its values.
    pub fn unit(&self) -> &str {
        self.from_cards.map_or(self.unit.as_deref().unwrap_or_default(), |from| from.read_as().0)
    }

    /// Returns which values are ranked first.
    pub fn better(&self) -> Better {
        self.from_cards.map_or(self.better.unwrap_or(Better::Lower), |from| from.read_as().1)
    }
}

impl Rules for SideContest {
    fn broken(&self) -> Vec<Fault> {
        let fault = |at: &str, detail: &str| Fault::new(at, Rule::SideContest, detail);
        let mut faults = Vec::new();
        match self.from_cards {
            Some(_) => {
                let detail = "what is read from the cards has its own";
                faults.extend(self.unit.iter().map(|_| fault("/unit", detail)));
                faults.extend(self.better.iter().map(|_| fault("/better", detail)));
                if !self.entries.is_empty() {
                    faults.push(fault("/entries", "the values come from the cards"));
                }
            }
            None => {
                if self.unit.is_none() {
                    faults.push(fault("/unit", "values that people note need a unit, such as ft"));
                }
                if self.better.is_none() {
                    faults.push(fault("/better", "say whether lower or higher values are ranked first"));
                }
            }
        }
        for (n, noted) in self.entries.iter().enumerate() {
            if self.entries[..n].iter().any(|other| other.member_id == noted.member_id) {
                faults.push(fault(&format!("/entries/{n}/member_id"), "a member has one value"));
            }
        }
        faults
    }
}
