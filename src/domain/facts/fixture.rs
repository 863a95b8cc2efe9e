//! A fixture: two sides that meet in an event.

use super::fault::{Fault, Rules};
use crate::competition::match_play::Side;
use crate::ids::{EventId, FixtureId, MemberId, TeamId};
use crate::rule::Rule;
use crate::units::Strokes;
use serde::{Deserialize, Serialize};

/// The most extra holes that a fixture may have.
pub const MAX_EXTRA: usize = 18;

/// Who has a row in a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Competitor {
    Member { member_id: MemberId },
    Team { team_id: TeamId },
}

/// Who is to stand on a side of a fixture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Contender {
    Named(Competitor),
    /// Whoever goes on from another fixture.
    WinnerOf {
        winner_of: FixtureId,
    },
    /// Whoever does not go on from it.
    LoserOf {
        loser_of: FixtureId,
    },
}

impl Contender {
    pub fn named(self) -> Option<Competitor> {
        if let Self::Named(competitor) = self { Some(competitor) } else { None }
    }

    /// Returns the fixture that decides who it is; `None`: somebody is named.
    pub fn waits_for(self) -> Option<FixtureId> {
        match self {
            Self::Named(_) => None,
            Self::WinnerOf { winner_of } => Some(winner_of),
            Self::LoserOf { loser_of } => Some(loser_of),
        }
    }
}

/// One of the two sides of a fixture, as JSON says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SideWord {
    A,
    B,
}

impl From<Side> for SideWord {
    fn from(side: Side) -> Self {
        match side {
            Side::A => Self::A,
            Side::B => Self::B,
        }
    }
}

impl From<SideWord> for Side {
    fn from(word: SideWord) -> Self {
        match word {
            SideWord::A => Self::A,
            SideWord::B => Self::B,
        }
    }
}

/// What an organizer says about a fixture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FixtureSaid {
    /// It is not played in its event.
    Postponed,
    /// One side has it without playing.
    WalkOver,
    /// It counts for nothing.
    Void,
}

/// Two sides that meet in an event.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fixture {
    pub event_id: EventId,
    /// What people call it, such as the final; `None`: by its sides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The side named first; `None`: the other has a bye.
    pub a: Option<Contender>,
    /// The side named second.
    pub b: Option<Contender>,
    #[serde(default)]
    pub bay: Option<String>,
    /// The time slot, in the league's own words.
    #[serde(default)]
    pub slot: Option<String>,
    /// What an organizer says; `None`: the cards decide.
    #[serde(default)]
    pub state: Option<FixtureSaid>,
    /// The side that has a walk-over.
    #[serde(default)]
    pub to: Option<SideWord>,
    /// The side that goes on where the cards do not decide: by lot, or as the better seed.
    #[serde(default)]
    pub goes_on: Option<SideWord>,
    /// Gross scores on extra holes, from the first hole in order.
    #[serde(default)]
    pub extra: Vec<[Option<Strokes>; 2]>,
    /// Why `state` or `goes_on` is said.
    #[serde(default)]
    pub reason: Option<String>,
}

impl Fixture {
    /// Makes a fixture of which nothing is said yet.
    pub fn new(event_id: EventId, a: Option<Contender>, b: Option<Contender>) -> Self {
        Self {
            event_id,
            name: None,
            a,
            b,
            bay: None,
            slot: None,
            state: None,
            to: None,
            goes_on: None,
            extra: Vec::new(),
            reason: None,
        }
    }

    pub fn sides(&self) -> [Option<Contender>; 2] {
        [self.a, self.b]
    }

    /// Returns whether a side names somebody.
    pub fn names(&self, competitor: Competitor) -> bool {
        self.sides().contains(&Some(Contender::Named(competitor)))
    }

    /// Returns the fixtures that decide who stands on its sides.
    pub fn waits_for(&self) -> impl Iterator<Item = FixtureId> + use<> {
        self.sides().into_iter().flatten().filter_map(Contender::waits_for)
    }
}

impl Rules for Fixture {
    fn broken(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        match (self.a, self.b) {
            (None, None) => faults.push(Fault::new("/b", Rule::Fixture, "a bye is one side's; both are missing")),
            (Some(a), Some(b)) if a == b => {
                faults.push(Fault::new("/b", Rule::Fixture, "nobody meets itself: name another side"));
            }
            _ => {}
        }
        if self.to.is_some() != (self.state == Some(FixtureSaid::WalkOver)) {
            let detail = "`to` names the side that has a walk-over, and goes with `state` `walk_over`";
            faults.push(Fault::new("/to", Rule::Fixture, detail));
        }
        let is_bye = self.a.is_none() || self.b.is_none();
        if is_bye && (self.state.is_some() || self.goes_on.is_some() || !self.extra.is_empty()) {
            faults.push(Fault::new("/state", Rule::Fixture, "there is nothing to decide in a bye"));
        }
        let says = self.state.is_some() || self.goes_on.is_some();
        if says && self.reason.as_deref().is_none_or(|reason| reason.trim().is_empty()) {
            faults.push(Fault::new("/reason", Rule::ReasonMissing, "what an organizer decides has a reason"));
        }
        faults
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;
    use uuid::Uuid;

    fn check(changes: serde_json::Value, expect: &[(&str, Rule)]) {
        let id = |n| Uuid::from_u128(n).to_string();
        let mut sent = json!({"event_id": id(1), "a": {"team_id": id(2)}, "b": {"team_id": id(3)}});
        for (key, value) in changes.as_object().unwrap() {
            sent[key] = value.clone();
        }
        let fixture: Fixture = serde_json::from_value(sent).unwrap();
        let found = fixture.broken();
        let found: Vec<_> = found.iter().map(|fault| (fault.pointer.as_str(), fault.rule)).collect();
        assert_eq!(found, expect);
    }

    #[test]
    fn a_fixture_has_two_sides_or_one_and_a_bye() {
        let team = json!({"team_id": Uuid::from_u128(2).to_string()});
        check(json!({}), &[]);
        check(json!({"b": null}), &[]);
        check(json!({"a": null, "b": null}), &[("/b", Rule::Fixture)]);
        check(json!({"b": team}), &[("/b", Rule::Fixture)]);
        check(json!({"b": null, "extra": [[4, 5]]}), &[("/state", Rule::Fixture)]);
    }

    #[test]
    fn what_an_organizer_decides_has_a_side_and_a_reason() {
        check(json!({"state": "walk_over", "to": "a", "reason": "no bay"}), &[]);
        check(json!({"state": "walk_over", "reason": "no bay"}), &[("/to", Rule::Fixture)]);
        check(json!({"to": "b"}), &[("/to", Rule::Fixture)]);
        check(json!({"state": "postponed", "reason": " "}), &[("/reason", Rule::ReasonMissing)]);
        check(json!({"goes_on": "b"}), &[("/reason", Rule::ReasonMissing)]);
    }
}
