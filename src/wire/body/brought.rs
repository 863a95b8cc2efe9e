//! What a league brings along.

use crate::wire::schema::{Field, Schema, field};

/// The fields of a carried differential.
pub fn differential_fields() -> Vec<Field> {
    vec![
        field("played_on", Schema::Date),
        field("differential", Schema::Tenths(-300, 1500)),
        field("source", Schema::Text(1, 400)),
    ]
}

/// The fields of a carried result.
pub fn result_fields() -> Vec<Field> {
    vec![
        field("member_id", Schema::Id),
        field("label", Schema::Name(80)),
        field("value", Schema::Real { min: -1e6, max: 1e6, above: false }),
        field("source", Schema::Text(1, 400)),
    ]
}
