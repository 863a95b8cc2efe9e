//! A hole or a match that one side gave to the other.

use super::fault::Rules;
use super::fixture::SideWord;
use crate::ids::FixtureId;
use crate::units::HoleNumber;
use serde::{Deserialize, Serialize};

/// A hole or a whole match that one side gave to the other.
///
/// # Source
/// Rules of Golf, Rule 3.2b.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Conceded {
    pub fixture_id: FixtureId,
    /// The match of the fixture, from 1.
    #[serde(rename = "match", default = "first")]
    pub match_number: u8,
    /// The hole's number on the card; `None`: the match.
    #[serde(default)]
    pub hole: Option<HoleNumber>,
    /// The side that gives it away.
    pub by: SideWord,
}

/// The same of a fixture that is named elsewhere.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct SaidOfFixture {
    #[serde(rename = "match", default = "first")]
    match_number: u8,
    #[serde(default)]
    hole: Option<HoleNumber>,
    by: SideWord,
}

impl SaidOfFixture {
    pub fn in_fixture(self, fixture_id: FixtureId) -> Conceded {
        let Self { match_number, hole, by } = self;
        Conceded { fixture_id, match_number, hole, by }
    }
}

fn first() -> u8 {
    1
}

impl Rules for Conceded {}
