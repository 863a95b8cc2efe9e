//! Events.

use crate::domain::facts::side::MOST_BALLS;
use crate::domain::units::{PlayingConditions, Stimp};
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The states that an event can be in.
pub const STATES: &[&str] = &["scheduled", "open", "closed", "final"];

/// Why an event counts in no competition.
pub fn void() -> Schema {
    Schema::Object(vec![field("reason", Schema::Text(1, 2000)), field("handicap", Schema::Flag)])
}

/// The fields of an event.
pub fn event_fields() -> Vec<Field> {
    let assignment = Schema::Object(vec![
        field("tee_id", Schema::Id),
        optional("member_id", Schema::Id),
        optional("flight", Schema::Name(40)),
    ]);
    vec![
        field("name", Schema::Name(80)),
        field("tee_id", Schema::Id),
        optional("tees", list(assignment, 0, 1000)),
        field("stimp_ft", Schema::Real { min: Stimp::MIN, max: Stimp::MAX, above: false }),
        field("opens_at", Schema::Instant),
        field("closes_at", Schema::Instant),
        field("holes", Schema::Numbers(&[9, 18])),
        optional("first_hole", Schema::Numbers(&[1, 10])),
        optional("playing_conditions", Schema::Whole(PlayingConditions::MIN, PlayingConditions::MAX)),
        optional("state", nullable(Schema::Word(STATES))),
        optional("void", nullable(void())),
    ]
}

/// All that a card is filled in with.
pub fn entry_sheet() -> Schema {
    let count = Schema::Whole(-60, 200);
    let hole = Schema::Object(vec![
        field("number", Schema::Whole(1, 18)),
        field("par", Schema::Whole(3, 6)),
        field("stroke_index", Schema::Whole(1, 18)),
        field("strokes_received", count.clone()),
    ]);
    let on_holes = || list(Schema::Whole(-100, 100), 0, 18);
    let own_match = Schema::Object(vec![
        field("fixture_id", Schema::Id),
        field("opponents", list(Schema::Text(0, 120), 0, usize::from(MOST_BALLS))),
        field("received", on_holes()),
    ]);
    let strokes = Schema::Object(vec![
        field("competition_id", Schema::Id),
        field("playing_handicap", Schema::Whole(-1000, 1000)),
        field("holes", on_holes()),
        field("matches", list(own_match, 0, super::matches::MOST_FIXTURES)),
    ]);
    let setup = Schema::Object(vec![field("id", Schema::Id), field("label", Schema::Text(1, 200))]);
    Schema::Object(vec![
        field("event_id", Schema::Id),
        field("name", Schema::Name(200)),
        field("closes_at", Schema::Instant),
        field("concession_ft", Schema::Real { min: 0.0, max: 200.0, above: false }),
        field("member_id", Schema::Id),
        field("today", Schema::Date),
        field("playing_strokes", count),
        field("holes", list(hole, 0, 18)),
        field("strokes", list(strokes, 0, super::competition::MOST)),
        field("setups", list(setup, 0, usize::MAX)),
        field("round_id", nullable(Schema::Id)),
    ])
}
