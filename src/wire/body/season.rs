//! Seasons and their policy.

use crate::domain::units::AllowancePct;
use crate::wire::body::league::index;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The ways of scoring.
pub const SCORING: &[&str] = &["gross", "net", "points"];

/// The shape of an award.
pub fn award() -> Schema {
    Schema::ByKind(vec![
        ("by_place", vec![field("table", list(Schema::Whole(0, 1_000_000), 1, 1000))]),
        ("by_score", vec![]),
    ])
}

/// The ways of breaking ties.
pub const EVENT_TIES: &[&str] = &["share", "countback"];

/// The fields of a season.
pub fn season_fields() -> Vec<Field> {
    let counting = Schema::Object(vec![
        optional("best", nullable(Schema::Whole(1, 1000))),
        optional("minimum", Schema::Whole(0, 1000)),
    ]);
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
        field("scoring", Schema::Word(SCORING)),
        field("allowance_pct", Schema::Whole(AllowancePct::MIN, AllowancePct::MAX)),
        field("award", award()),
        field("counting", counting),
        optional("event_ties", Schema::Word(EVENT_TIES)),
        optional("concession_ft", Schema::Real { min: 0.0, max: 30.0, above: false }),
        optional("query_hours", Schema::Whole(0, 24 * 60)),
        optional("flights", list(flight, 0, 50)),
        optional("audit", audit),
    ]
}
