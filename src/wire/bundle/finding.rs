//! What a bundle carries of findings.

use crate::domain::audit;
use crate::domain::audit::ledger::{About, OpenedFact};
use crate::domain::facts::Opinion;
use crate::domain::ids::{EventId, MemberId, SetupId};
use crate::wire::body::findings::kinds;
use crate::wire::bundle::ids::OfSeason;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A finding that opened: the evidence that crossed and whom it concerns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Opened {
    /// The kind of finding.
    pub finding_kind: String,
    /// The player whom it is about.
    #[serde(default)]
    pub member_id: Option<MemberId>,
    /// The set-up that it is about.
    #[serde(default)]
    pub setup_id: Option<SetupId>,
    /// How often evidence had begun anew before it.
    #[serde(default)]
    pub restart: u32,
    /// The event whose round made it cross.
    pub opened_at_event_id: EventId,
    /// The evidence, as a power of ten.
    pub factor_log10: f64,
    /// What it crossed, as a power of ten.
    pub threshold_log10: f64,
    /// Whom it concerns.
    #[serde(default)]
    pub concerned: Vec<Told>,
}

impl Opened {
    /// Writes down what was opened, and whom it concerns.
    pub fn of(opened: &OpenedFact, concerned: Vec<Told>) -> Self {
        let OpenedFact { kind, about, restart, event, factor_log10, threshold_log10, .. } = opened;
        let (member_id, setup_id) = about.ids();
        Self {
            finding_kind: kind.name.to_owned(),
            member_id,
            setup_id,
            restart: *restart,
            opened_at_event_id: *event,
            factor_log10: *factor_log10,
            threshold_log10: *threshold_log10,
            concerned,
        }
    }

    /// Reads what was opened under these ids; `None` for an unknown kind, or about nobody.
    pub fn fact(&self, ids: OfSeason<Uuid>) -> Option<OpenedFact> {
        Some(OpenedFact {
            id: ids.id,
            season: ids.season_id,
            kind: audit::kind(&self.finding_kind)?,
            about: About::of(self.member_id, self.setup_id)?,
            restart: self.restart,
            event: self.opened_at_event_id,
            factor_log10: self.factor_log10,
            threshold_log10: self.threshold_log10,
        })
    }
}

/// Somebody whom a finding concerns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// The member.
    pub member_id: MemberId,
    /// When it was told.
    #[serde(default)]
    pub told_at: Option<Timestamp>,
    /// Who told it, where a notice could not.
    #[serde(default)]
    pub told_by: Option<MemberId>,
}

/// What somebody said of a finding.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SaidOfFinding {
    /// The words.
    #[serde(default)]
    pub text: String,
    /// Until when a request wants an answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due_at: Option<Timestamp>,
}

/// An organizer's first opinion on a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FirstOpinion {
    /// What it holds.
    pub opinion: Opinion,
    /// Reason, in a sentence.
    #[serde(default)]
    pub text: String,
}

/// The fields of a finding that opened, in a bundle.
pub fn opened_fields() -> Vec<Field> {
    let power = || Schema::Real { min: -1e6, max: 1e6, above: false };
    let told = Schema::Object(vec![
        field("member_id", Schema::Id),
        optional("told_at", nullable(Schema::Instant)),
        optional("told_by", nullable(Schema::Id)),
    ]);
    vec![
        field("finding_kind", kinds()),
        optional("member_id", nullable(Schema::Id)),
        optional("setup_id", nullable(Schema::Id)),
        optional("restart", Schema::Whole(0, 1000)),
        field("opened_at_event_id", Schema::Id),
        field("factor_log10", power()),
        field("threshold_log10", power()),
        optional("concerned", list(told, 0, 100_000)),
    ]
}

/// The fields of what was said of a finding, in a bundle.
pub fn said_fields() -> Vec<Field> {
    vec![optional("text", Schema::Text(0, 10_000)), optional("due_at", nullable(Schema::Instant))]
}

/// The fields of a first opinion, in a bundle.
pub fn noted_opinion_fields() -> Vec<Field> {
    vec![field("opinion", Schema::Word(Opinion::WORDS)), optional("text", Schema::Text(0, 2000))]
}
