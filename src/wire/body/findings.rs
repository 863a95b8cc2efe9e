//! Findings: what is sent about them.

use crate::domain::audit;
use crate::domain::facts::{Decision, Opinion};
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};
use std::sync::LazyLock;

/// The kinds of findings.
pub fn kinds() -> Schema {
    static NAMES: LazyLock<Vec<&str>> = LazyLock::new(|| audit::KINDS.iter().map(|kind| kind.name).collect());
    Schema::Word(&NAMES)
}

/// The fields of a ruling on a finding.
pub fn finding_ruling_fields() -> Vec<Field> {
    vec![
        field("decision", Schema::Word(Decision::ON_FINDINGS)),
        optional("round_ids", list(Schema::Id, 0, 10_000)),
        field("reason", Schema::Text(1, 2000)),
    ]
}

/// The fields of a statement.
pub fn statement_fields() -> Vec<Field> {
    vec![field("text", Schema::Text(1, 10_000))]
}

/// The fields of a wish for what would settle a finding.
pub fn request_fields() -> Vec<Field> {
    vec![field("text", Schema::Text(1, 2000)), optional("due_at", nullable(Schema::Instant))]
}

/// The fields of a first opinion.
pub fn opinion_fields() -> Vec<Field> {
    vec![field("opinion", Schema::Word(Opinion::WORDS)), field("text", Schema::Text(1, 2000))]
}

/// The fields of an organizer's word that somebody concerned was told.
pub fn told_fields() -> Vec<Field> {
    vec![field("member_id", Schema::Id)]
}
