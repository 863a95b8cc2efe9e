//! What a league brings along.

use crate::wire::body::matches;
use crate::wire::schema::{Field, Schema, field, nullable, optional};

/// The fields of a carried differential.
pub fn differential_fields() -> Vec<Field> {
    vec![
        field("played_on", Schema::Date),
        field("differential", Schema::Tenths(-300, 1500)),
        field("source", Schema::Text(1, 400)),
    ]
}

/// A carried result, of a member or a team.
pub fn result() -> Schema {
    matches::of_either(result_fields)
}

/// The fields of a carried result, of whomever.
pub fn result_fields() -> Vec<Field> {
    vec![
        optional("member_id", nullable(Schema::Id)),
        optional("team_id", nullable(Schema::Id)),
        optional("competition_id", nullable(Schema::Id)),
        field("label", Schema::Name(80)),
        field("value", Schema::Real { min: -1e6, max: 1e6, above: false }),
        field("source", Schema::Text(1, 400)),
    ]
}
