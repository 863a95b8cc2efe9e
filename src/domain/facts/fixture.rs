//! A fixture: two sides that meet in an event.

use super::fault::{Fault, Rules};
use crate::domain::competition::match_play::Side;
use crate::domain::ids::{EventId, MemberId, TeamId};
use crate::domain::rule::Rule;
use crate::domain::units::Strokes;
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
    /// The side named first; `None`: the other has a bye.
    pub a: Option<Competitor>,
    /// The side named second.
    pub b: Option<Competitor>,
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
    /// Returns who competes on a side.
    pub fn on(&self, side: Side) -> Option<Competitor> {
        match side {
            Side::A => self.a,
            Side::B => self.b,
        }
    }

    /// Returns the side on which somebody competes.
    pub fn side_of(&self, competitor: Competitor) -> Option<Side> {
        [Side::A, Side::B].into_iter().find(|side| self.on(*side) == Some(competitor))
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
