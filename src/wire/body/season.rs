//! Seasons and their policy.

use crate::wire::body::competition;
use crate::wire::body::league::index;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The fields of a season.
pub fn season_fields() -> Vec<Field> {
    let flight = Schema::Object(vec![field("name", Schema::Name(40)), optional("handicap_max", nullable(index()))]);
    let audit = Schema::Object(vec![
        optional("false_alarm_pct", Schema::Real { min: 0.0, max: 50.0, above: true }),
        optional("field_size", Schema::Whole(1, 1_000_000)),
        optional("answer_days", Schema::Whole(1, 90)),
        optional("softened_putts", Schema::Word(&["count", "leave_out"])),
    ]);
    vec![
        field("name", Schema::Name(80)),
        field("starts_on", Schema::Date),
        field("ends_on", Schema::Date),
        optional("concession_ft", Schema::Real { min: 0.0, max: 30.0, above: false }),
        optional("query_hours", Schema::Whole(0, 24 * 60)),
        optional("flights", list(flight, 0, 50)),
        optional("audit", audit),
    ]
}

/// A season as it is made: its competitions may come with it.
pub fn new_season() -> Schema {
    let mut fields = season_fields();
    fields
        .push(optional("competitions", list(Schema::Object(competition::competition_fields()), 1, competition::MOST)));
    Schema::Object(fields)
}
