//! Rounds with their putts.

use crate::domain::facts::round::MAX_PUTTS;
use crate::domain::units::{Degrees, Feet, Inches, Mph, Strokes};
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};
use std::sync::LazyLock;

/// A putt.
pub static PUTT: LazyLock<Schema> = LazyLock::new(|| Schema::Object(putt_fields(&["holed", "missed", "conceded"])));

/// The fields of a putt that may end in these ways.
pub fn putt_fields(results: &'static [&'static str]) -> Vec<Field> {
    let line = || nullable(Schema::Real { min: Degrees::MIN, max: Degrees::MAX, above: false });
    vec![
        field("distance_ft", Schema::Real { min: Feet::MIN, max: Feet::MAX, above: true }),
        optional("elevation_in", nullable(Schema::Real { min: Inches::MIN, max: Inches::MAX, above: false })),
        optional("ball_speed_mph", nullable(Schema::Real { min: Mph::MIN, max: Mph::MAX, above: true })),
        optional("start_line_deg", line()),
        optional("played_line_deg", line()),
        field("result", Schema::Word(results)),
    ]
}

/// A hole of a card.
pub static CARD_HOLE: LazyLock<Schema> = LazyLock::new(|| Schema::Object(hole_fields()));

/// The fields of a hole.
pub fn hole_fields() -> Vec<Field> {
    card_hole_fields(Schema::Named("Putt", &PUTT))
}

/// A putt as it is answered: marked if softening was declared for it.
static MARKED_PUTT: LazyLock<Schema> = LazyLock::new(|| {
    let mut fields = putt_fields(&["holed", "missed", "conceded"]);
    fields.push(optional("softened", Schema::Flag));
    Schema::Object(fields)
});

/// A hole of a card as it is answered.
pub static MARKED_HOLE: LazyLock<Schema> =
    LazyLock::new(|| Schema::Object(card_hole_fields(Schema::Named("MarkedPutt", &MARKED_PUTT))));

fn card_hole_fields(putt: Schema) -> Vec<Field> {
    vec![
        field("number", Schema::Whole(1, 18)),
        optional("strokes", nullable(Schema::Whole(Strokes::MIN, Strokes::MAX))),
        optional("picked_up", Schema::Flag),
        optional("not_played", Schema::Flag),
        optional("putts", nullable(list(putt, 0, MAX_PUTTS))),
        optional("putt_count", nullable(Schema::Whole(0, MAX_PUTTS as i64))),
    ]
}

/// The fields of a round; `member_id` may be left out by a player who hands in an own card.
pub fn round_fields() -> Vec<Field> {
    vec![
        field("client_round_id", Schema::Id),
        optional("member_id", Schema::Id),
        optional("setup_id", nullable(Schema::Id)),
        field("played_on", Schema::Date),
        optional("outcome", Schema::Word(&["complete", "no_return", "disqualified"])),
        field("holes", list(Schema::Named("CardHole", &CARD_HOLE), 0, 18)),
    ]
}
