//! What is said of a round after it came in, and who plays.

use crate::domain::facts::Decision;
use crate::wire::body::competition;
use crate::wire::body::round::CARD_HOLE;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

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
    "signed_in",
    "password_changed",
    "void",
    "void_undone",
    "handicap_act",
    "line_up",
    "fixture",
    "concession",
    "adjustment",
];

/// The fields of when and where a member plays, and in what.
pub fn event_entry_fields() -> Vec<Field> {
    vec![
        optional("slot", nullable(Schema::Name(40))),
        optional("bay", nullable(Schema::Name(40))),
        optional("competitions", list(Schema::Id, 0, competition::MOST)),
    ]
}

/// The fields of an entry; `member_id` may be left out for an own one.
pub fn entry_fields() -> Vec<Field> {
    let mut fields = vec![optional("member_id", nullable(Schema::Id))];
    fields.extend(event_entry_fields());
    fields
}

/// The fields of a card in play; `member_id` may be left out for an own one.
pub fn card_in_play_fields() -> Vec<Field> {
    vec![
        optional("member_id", nullable(Schema::Id)),
        field("holes", list(Schema::Named("CardHole", &CARD_HOLE), 0, 18)),
    ]
}

/// The fields of a query.
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
        optional("round", nullable(Schema::Object(crate::wire::body::round::round_fields()))),
        field("reason", Schema::Text(1, 2000)),
    ]
}
