//! An event: one league night.

use super::competition::Competition;
use super::course::Tee;
use super::fault::{Fault, Rules};
use super::fixture::Competitor;
use crate::ids::{CompetitionId, FixtureId, MemberId, TeeId};
use crate::rule::Rule;
use crate::units::{HoleCount, HoleNumber, PlayingConditions, Stimp, Tenths};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Where an event stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EventState {
    /// Before its opening.
    Scheduled,
    /// Rounds are handed in.
    Open,
    /// No more rounds from players.
    Closed,
    /// The results stand.
    Final,
}

/// Who plays from a tee other than the event's own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TeeAssignment {
    /// The tee.
    pub tee_id: TeeId,
    /// The member who plays from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub member_id: Option<MemberId>,
    /// The flight that plays from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flight: Option<String>,
}

/// Why an event counts in no competition, and what its cards still count for. Putting and evidence keep them anyway.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Void {
    pub reason: String,
    /// Whether its cards count for the league index.
    pub handicap: bool,
}

/// A league night: what is played, when, on how quick a green.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// What people call it.
    pub name: String,
    /// The tee that everybody without an assignment plays from.
    pub tee_id: TeeId,
    /// Assignments of other tees.
    #[serde(default)]
    pub tees: Vec<TeeAssignment>,
    /// The green speed.
    pub stimp_ft: Stimp,
    /// When it opens.
    pub opens_at: Timestamp,
    /// When it closes.
    pub closes_at: Timestamp,
    /// How many holes are played.
    pub holes: HoleCount,
    /// The first of them.
    #[serde(default = "hole_one")]
    pub first_hole: HoleNumber,
    /// The day's adjustment.
    #[serde(default = "no_adjustment")]
    pub playing_conditions: PlayingConditions,
    /// The state, where it was set by hand; otherwise the times decide.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<EventState>,
    /// Why no competition counts it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub void: Option<Void>,
}

fn hole_one() -> HoleNumber {
    HoleNumber::new(1).expect("1 is a hole number")
}

fn no_adjustment() -> PlayingConditions {
    PlayingConditions::new(0).expect("0 is a legal adjustment")
}

/// What a final event keeps of its terms and its field, so that its results stand whatever is edited later.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FinalRecord {
    /// The tees that were played, as they were.
    pub tees: Vec<Tee>,
    /// The day's adjustment.
    pub playing_conditions: PlayingConditions,
    /// The season's competitions.
    pub competitions: Vec<KeptCompetition>,
    /// Each player's standing in the field.
    pub members: Vec<FinalMember>,
    /// Those who were to play in a match and have no card.
    #[serde(default)]
    pub absent: Vec<FinalMember>,
    /// Who stood on the sides of fixtures that others decided.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fixtures: Vec<FinalFixture>,
}

/// Who stood on the sides of a fixture; `None`: nobody was known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FinalFixture {
    pub fixture_id: FixtureId,
    pub a: Option<Competitor>,
    pub b: Option<Competitor>,
}

/// A competition as it was when an event became final.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptCompetition {
    pub competition_id: CompetitionId,
    #[serde(flatten)]
    pub terms: Competition,
}

/// One player's standing in the field of a final event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FinalMember {
    /// The player.
    pub member_id: MemberId,
    /// The flight.
    pub flight: Option<String>,
    /// The league index, where there was one.
    pub league_index: Option<Tenths>,
    /// The index that was played off; `None` for a player without any.
    pub played_off: Option<Tenths>,
}

impl Event {
    /// Returns where the event stands at `now`: as set by hand, else by its times.
    pub fn state_at(&self, now: Timestamp) -> EventState {
        self.state.unwrap_or(if now < self.opens_at {
            EventState::Scheduled
        } else if now < self.closes_at {
            EventState::Open
        } else {
            EventState::Closed
        })
    }

    /// Returns whether its results stand.
    pub fn is_final(&self) -> bool {
        self.state == Some(EventState::Final)
    }

    /// Returns whether no competition counts it.
    pub fn is_void(&self) -> bool {
        self.void.is_some()
    }

    /// Returns whether its cards count for the league index.
    pub fn counts_for_index(&self) -> bool {
        self.void.as_ref().is_none_or(|void| void.handicap)
    }

    /// Returns whether nothing but its being void differs from `other`.
    pub fn differs_in_void_alone(&self, other: &Self) -> bool {
        self.void != other.void && Self { void: None, ..self.clone() } == Self { void: None, ..other.clone() }
    }

    /// Returns the tee that a player of that flight plays from: by name, else by flight, else the event's own.
    pub fn tee_of(&self, member: MemberId, flight: Option<&str>) -> TeeId {
        let by_member = self.tees.iter().find(|tee| tee.member_id == Some(member));
        let by_flight = || self.tees.iter().find(|tee| tee.flight.is_some() && tee.flight.as_deref() == flight);
        by_member.or_else(by_flight).map_or(self.tee_id, |assignment| assignment.tee_id)
    }

    /// Returns every tee that is played in the event, the event's own first.
    pub fn tee_ids(&self) -> Vec<TeeId> {
        let mut tees = vec![self.tee_id];
        for assignment in &self.tees {
            if !tees.contains(&assignment.tee_id) {
                tees.push(assignment.tee_id);
            }
        }
        tees
    }

    /// Finds what no single field shows.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if self.closes_at <= self.opens_at {
            faults.push(Fault::new("/closes_at", Rule::TimeOrder, "the closing time must be after the opening time"));
        }
        for (t, assignment) in self.tees.iter().enumerate() {
            if assignment.member_id.is_some() == assignment.flight.is_some() {
                let detail = "a tee is assigned to a member or to a flight, one of the two";
                faults.push(Fault::new(format!("/tees/{t}"), Rule::TeeAssignment, detail));
            }
            let same =
                |other: &TeeAssignment| other.member_id == assignment.member_id && other.flight == assignment.flight;
            if self.tees[..t].iter().any(same) {
                faults.push(Fault::new(format!("/tees/{t}"), Rule::TeeAssignment, "this player or flight has a tee"));
            }
        }
        if !matches!(self.first_hole.get(), 1 | 10)
            || (self.holes == HoleCount::Eighteen && self.first_hole.get() == 10)
        {
            let detail = "the first hole is 1, or 10 for nine holes of an 18-hole tee";
            faults.push(Fault::new("/first_hole", Rule::FirstHole, detail));
        }
        faults
    }
}

impl Rules for Event {
    fn broken(&self) -> Vec<Fault> {
        self.faults()
    }
}
