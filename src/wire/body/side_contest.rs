//! Side contests.

use crate::domain::facts::side_contest::FromCards;
use crate::wire::body::shapes::with_ids;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The most side contests of an event.
pub const MOST_CONTESTS: usize = 20;
/// The most values that are noted in one.
pub const MOST_NOTED: usize = 500;

const BETTER: &[&str] = &["lower", "higher"];

fn value() -> Schema {
    Schema::Real { min: 0.0, max: 1e6, above: false }
}

/// The fields of a value that is noted.
pub fn noted_fields() -> Vec<Field> {
    vec![field("member_id", Schema::Id), field("value", value())]
}

/// The fields of a side contest.
pub fn contest_fields() -> Vec<Field> {
    vec![
        field("name", Schema::Name(80)),
        optional("hole", nullable(Schema::Whole(1, 18))),
        optional("unit", nullable(Schema::Name(20))),
        optional("better", nullable(Schema::Word(BETTER))),
        optional("from_cards", nullable(Schema::Word(FromCards::WORDS))),
        optional("entries", list(Schema::Object(noted_fields()), 0, MOST_NOTED)),
    ]
}

/// A side contest as it stands.
pub fn contest() -> Schema {
    let row = Schema::Object(vec![
        field("place", Schema::Whole(1, i64::MAX)),
        field("member_id", Schema::Id),
        field("value", value()),
        field("display_name", Schema::Text(0, 80)),
    ]);
    let mut fields = contest_fields();
    fields.push(field("results", list(row, 0, usize::MAX)));
    with_ids(&["id", "event_id"], fields)
}
