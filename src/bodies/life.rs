//! What is said of a round after it came in, and who plays.

use super::round::CARD_HOLE;
use crate::domain::facts::Decision;
use crate::schema::{Field, Schema, field, list, nullable, optional};

/// What notices tell.
pub const NOTICE_KINDS: &[&str] = &[
    "round_proposed",
    "round_late",
    "round_accepted",
    "round_corrected",
    "round_withdrawn",
    "ruling",
    "query",
    "answer",
    "finding",
];

/// The fields of when and where a member plays.
pub fn start_place_fields() -> Vec<Field> {
    vec![optional("slot", nullable(Schema::Text(1, 40))), optional("bay", nullable(Schema::Text(1, 40)))]
}

/// The fields of an entry; `member_id` may be left out for an own one.
pub fn entry_fields() -> Vec<Field> {
    let mut fields = vec![optional("member_id", nullable(Schema::Id))];
    fields.extend(start_place_fields());
    fields
}

/// The fields of a card in play; `member_id` may be left out for an own one.
pub fn card_in_play_fields() -> Vec<Field> {
    vec![
        optional("member_id", nullable(Schema::Id)),
        field("holes", list(Schema::Named("CardHole", &CARD_HOLE), 0, 18)),
    ]
}

/// The fields of a doubt.
pub fn query_fields() -> Vec<Field> {
    vec![optional("pointer", nullable(Schema::Text(0, 200))), field("text", Schema::Text(1, 2000))]
}

/// The fields of an answer.
pub fn answer_fields() -> Vec<Field> {
    vec![field("text", Schema::Text(1, 2000))]
}

/// The fields of a ruling on a round.
pub fn ruling_fields() -> Vec<Field> {
    vec![
        field("decision", Schema::Word(Decision::ON_ROUNDS)),
        optional("round", nullable(Schema::Object(super::round::round_fields()))),
        field("reason", Schema::Text(1, 2000)),
    ]
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
        field("finding_kind", Schema::Word(FINDING_KINDS)),
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

/// The kinds of findings.
pub const FINDING_KINDS: &[&str] = &[
    "softened_line",
    "narrow_short_line",
    "holed_off_line",
    "short_range_excess",
    "unreachable_pace",
    "chosen_records",
    "repeated_round",
    "sensor_misread",
];

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

/// The fields of an organizer's word that somebody concerned was told.
pub fn told_fields() -> Vec<Field> {
    vec![field("member_id", Schema::Id)]
}
