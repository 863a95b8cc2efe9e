//! Events.

use crate::domain::units::{PlayingConditions, Stimp};
use crate::schema::{Field, Schema, field, list, nullable, optional};

/// The states that an event can be in.
pub const STATES: &[&str] = &["scheduled", "open", "closed", "final"];

/// The fields of an event.
pub fn event_fields() -> Vec<Field> {
    let assignment = Schema::Object(vec![
        field("tee_id", Schema::Id),
        optional("member_id", Schema::Id),
        optional("division", Schema::Text(1, 40)),
    ]);
    vec![
        field("name", Schema::Text(1, 80)),
        field("tee_id", Schema::Id),
        optional("tees", list(assignment, 0, 1000)),
        field("stimp_ft", Schema::Real { min: Stimp::MIN, max: Stimp::MAX, above: false }),
        field("opens_at", Schema::Instant),
        field("closes_at", Schema::Instant),
        field("holes", Schema::Numbers(&[9, 18])),
        optional("first_hole", Schema::Numbers(&[1, 10])),
        optional("playing_conditions", Schema::Whole(PlayingConditions::MIN, PlayingConditions::MAX)),
        optional("state", nullable(Schema::Word(STATES))),
    ]
}
