//! Set-ups.

use crate::domain::units::Feet;
use crate::wire::schema::{Field, Schema, field, nullable, optional};

/// The fields of a set-up.
pub fn setup_fields() -> Vec<Field> {
    vec![
        field("label", Schema::Name(80)),
        field("sensor", Schema::Word(&["camera", "radar", "infrared", "other"])),
        optional("shared", Schema::Flag),
        optional("softening_radius_ft", nullable(Schema::Real { min: Feet::MIN, max: Feet::MAX, above: true })),
        optional("notes", Schema::Text(0, 2000)),
    ]
}
