//! What organizers decide about a member's index.

use crate::wire::body::league::index;
use crate::wire::schema::{Field, Schema, field, nullable, optional};

fn of_kind(more: impl Fn() -> Vec<Field>) -> Schema {
    let with = |fields: Vec<Field>| {
        let reason = vec![field("reason", Schema::Text(1, 2000))];
        fields.into_iter().chain(reason).chain(more()).collect::<Vec<Field>>()
    };
    let value = || field("value", index());
    let from = || field("from", Schema::Date);
    let until = || optional("until", nullable(Schema::Date));
    Schema::ByKind(vec![
        ("adjust", with(vec![value(), from()])),
        ("freeze", with(vec![from(), until()])),
        ("cap", with(vec![value(), from(), until()])),
        ("undo", with(vec![field("undoes", Schema::Id)])),
    ])
}

pub fn act() -> Schema {
    of_kind(Vec::new)
}

/// A handicap act as it is shown.
pub fn shown() -> Schema {
    let ids = || vec![field("id", Schema::Id), field("member_id", Schema::Id), field("received_at", Schema::Instant)];
    of_kind(ids)
}
