//! What is answered about findings.

use crate::domain::facts::{Decision, Opinion};
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::season::findings::FindingReport;
use crate::domain::units::Tenths;
use crate::league::season::changes::Move;
use crate::storage::findings::{Ruled, Word};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// A finding as it is answered.
#[derive(Debug, Serialize)]
pub struct FindingView {
    /// What a report shows of it.
    #[serde(flatten)]
    pub report: FindingReport,
    /// When it opened.
    pub opened_at: Timestamp,
    /// When everyone concerned had been told; for a member when it was told.
    pub told_at: Option<Timestamp>,
    /// When everyone concerned had looked; for a member when it looked.
    pub seen_at: Option<Timestamp>,
    /// Until when those concerned may be waited for.
    pub answer_by: Option<Timestamp>,
    /// Whom it concerns.
    pub concerned: Vec<ConcernedView>,
    /// What they said.
    pub statements: Vec<WordView>,
    /// What organizers wish for.
    pub requests: Vec<WordView>,
    /// Who stepped aside.
    pub recusals: Vec<WordView>,
    /// What was ruled.
    pub rulings: Vec<RulingView>,
}

/// Somebody whom a finding concerns.
#[derive(Debug, Serialize)]
pub struct ConcernedView {
    /// The member.
    pub member_id: MemberId,
    /// When it was told.
    pub told_at: Option<Timestamp>,
    /// Who told it, where a notice could not.
    pub told_by: Option<MemberId>,
    /// When it looked.
    pub seen_at: Option<Timestamp>,
    /// Whether it said something.
    pub has_answered: bool,
}

/// Something that was said of a finding.
#[derive(Debug, Serialize)]
pub struct WordView {
    /// Its id.
    pub id: Uuid,
    /// Who said it.
    pub member_id: Option<MemberId>,
    /// The words.
    pub text: String,
    /// What a first opinion holds; in what its holder takes away alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opinion: Option<Opinion>,
    /// Until when an answer is wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due_at: Option<Timestamp>,
    /// When it came in.
    pub received_at: Timestamp,
}

impl From<Word> for WordView {
    fn from(said: Word) -> Self {
        let Word { id, member, text, opinion, due_at, received_at, .. } = said;
        Self { id, member_id: member, text, opinion, due_at, received_at }
    }
}

/// A ruling on a finding.
#[derive(Debug, Serialize)]
pub struct RulingView {
    /// Its id; null where nothing was done.
    pub id: Option<Uuid>,
    /// Who ruled; null: a reviewer from outside.
    pub member_id: Option<MemberId>,
    /// What was decided.
    pub decision: Decision,
    /// The rounds that it touches.
    pub round_ids: Vec<RoundId>,
    /// Why.
    pub reason: String,
    /// When.
    pub received_at: Timestamp,
    /// The rows of the season's table that it moves; for the answer to it alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moves: Option<Vec<Move>>,
    /// The league indexes that it moves; for the answer to it alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub handicaps: Option<Vec<IndexMove>>,
}

/// A league index that a ruling moves.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IndexMove {
    /// Whose it is.
    pub member_id: MemberId,
    /// What it was; none below three differentials.
    pub from: Option<Tenths>,
    /// What it is.
    pub to: Option<Tenths>,
}

impl From<Ruled> for RulingView {
    fn from(ruled: Ruled) -> Self {
        let Ruled { id, member, decision, rounds, reason, received_at, .. } = ruled;
        let (moves, handicaps) = (None, None);
        Self { id: Some(id), member_id: member, decision, round_ids: rounds, reason, received_at, moves, handicaps }
    }
}
