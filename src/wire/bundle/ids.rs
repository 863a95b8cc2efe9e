//! The ids that lines of a bundle carry: their own and their parents'.

use crate::domain::ids::{CompetitionId, EventId, LeagueId, MemberId, RoundId, SeasonId, SetupId, TeamId};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The id of a league, and how far its evidence had come.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeagueIds {
    pub id: LeagueId,
    /// The number of the last fact whose round was in the evidence; left out where no later round waited. The findings of
    /// the bundle are those of the rounds up to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence_seq: Option<i64>,
}

impl LeagueIds {
    /// The ids of a league where no round waits for the evidence.
    pub fn new(id: LeagueId) -> Self {
        Self { id, evidence_seq: None }
    }
}

/// The ids of something that belongs to a league.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfLeague<Id> {
    pub id: Id,
    pub league_id: LeagueId,
}

/// The ids of a member, and whether the person was erased: then nobody claims the record any more.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MemberIds {
    pub id: MemberId,
    pub league_id: LeagueId,
    /// Whether the person was erased; left out where not.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub erased: bool,
}

/// The ids of a set-up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetupIds {
    pub id: SetupId,
    pub league_id: LeagueId,
    /// Its owner; none for a bay of a venue.
    #[serde(default)]
    pub member_id: Option<MemberId>,
}

/// The ids of something that belongs to a season.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfSeason<Id> {
    pub id: Id,
    pub season_id: SeasonId,
}

/// The ids of something that belongs to an event, and for a round the declaration that it met.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfEvent<Id> {
    pub id: Id,
    pub event_id: EventId,
}

/// The ids of something that was said of a round, and who said it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfRound {
    pub id: Uuid,
    pub round_id: RoundId,
    /// Who said it; none where the operator did.
    #[serde(default)]
    pub member_id: Option<MemberId>,
}

/// The ids of a ruling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RulingIds {
    pub id: Uuid,
    /// Who ruled.
    #[serde(default)]
    pub member_id: Option<MemberId>,
}

/// The ids of a query about a round.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct QueryIds {
    pub id: Uuid,
    pub round_id: RoundId,
    /// Who asks.
    pub member_id: MemberId,
}

/// The ids of an answer to a query.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AnswerIds {
    pub id: Uuid,
    pub query_id: Uuid,
    /// Who answers.
    pub member_id: MemberId,
}

/// The member of something carried.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfMember {
    pub id: Uuid,
    pub member_id: MemberId,
}

/// The ids of something said of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfFinding {
    pub id: Uuid,
    pub finding_id: Uuid,
    /// Who said it.
    #[serde(default)]
    pub member_id: Option<MemberId>,
}

/// The ids of a line-up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LineUpIds {
    pub id: Uuid,
    pub event_id: EventId,
    pub team_id: TeamId,
}

/// The ids of something that belongs to a competition.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfCompetition<Id> {
    pub id: Id,
    pub competition_id: CompetitionId,
}

/// The id of something whose body says what it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OwnId {
    pub id: Uuid,
}
