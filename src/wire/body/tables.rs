//! Tables and boards.

use crate::domain::facts::counted_events;
use crate::wire::body::event;
use crate::wire::body::match_views::fixture;
use crate::wire::body::shapes::{COUNT, REAL, STROKES};
use crate::wire::schema::{Schema, field, list, nullable, optional};

fn cell() -> Schema {
    Schema::Object(vec![
        field("event_id", nullable(Schema::Id)),
        optional("event_ids", list(Schema::Id, 2, counted_events::MOST_TOGETHER)),
        field("value", nullable(REAL)),
        field("counted", Schema::Flag),
        optional("carried", Schema::Text(1, 80)),
    ])
}

/// A row of a table of cards.
pub(super) fn standings_row() -> Schema {
    Schema::Object(vec![
        field("position", nullable(COUNT)),
        field("tied", Schema::Flag),
        field("member_id", Schema::Id),
        field("display_name", Schema::Text(1, 80)),
        field("flight", nullable(Schema::Text(1, 40))),
        field("events_played", COUNT),
        field("events_counted", COUNT),
        field("total", nullable(REAL)),
        optional("start", REAL),
        optional("adjusted", REAL),
        field("results", list(cell(), 0, usize::MAX)),
        field("strokes_gained_putting_per_round", nullable(REAL)),
    ])
}

/// A row of a table of matches.
fn match_row() -> Schema {
    let fixtures = Schema::Object(["played", "won", "tied", "lost"].map(|name| field(name, COUNT)).to_vec());
    Schema::Object(vec![
        field("team_id", nullable(Schema::Id)),
        field("member_id", nullable(Schema::Id)),
        field("display_name", Schema::Text(0, 80)),
        field("position", nullable(COUNT)),
        field("tied", Schema::Flag),
        field("events_played", COUNT),
        field("events_counted", COUNT),
        field("total", nullable(REAL)),
        field("results", list(cell(), 0, usize::MAX)),
        field("fixtures", fixtures),
        field("points_for", REAL),
        field("points_against", REAL),
    ])
}

pub fn standings() -> Schema {
    Schema::Object(vec![
        field("season_id", Schema::Id),
        field("competition_id", Schema::Id),
        field("as_of_event_id", nullable(Schema::Id)),
        field("provisional_until", nullable(Schema::Instant)),
        field("items", list(Schema::ByType(vec![match_row(), standings_row()]), 0, usize::MAX)),
        field("next", nullable(Schema::Cursor)),
        field("event_ids", list(Schema::Id, 0, usize::MAX)),
        field("void_event_ids", list(Schema::Id, 0, usize::MAX)),
    ])
}

const BOARD_STATES: &[&str] =
    &["submitted", "attested", "proposed", "late", "excluded", "withdrawn", "in_play", "entered"];

pub(super) fn board_row() -> Schema {
    Schema::Object(vec![
        field("position", nullable(COUNT)),
        field("tied", Schema::Flag),
        field("member_id", Schema::Id),
        field("display_name", Schema::Text(1, 80)),
        field("flight", nullable(Schema::Text(1, 40))),
        field("holes_played", COUNT),
        field("gross", nullable(STROKES)),
        field("net", nullable(STROKES)),
        field("points", nullable(STROKES)),
        field("playing_handicap", nullable(STROKES)),
        field("score", nullable(REAL)),
        optional("holes", list(nullable(STROKES), 0, 18)),
        field("value", nullable(REAL)),
        field("over_par_so_far", nullable(STROKES)),
        field("slot", nullable(Schema::Text(1, 40))),
        field("bay", nullable(Schema::Text(1, 40))),
        field("state", Schema::Word(BOARD_STATES)),
    ])
}

pub fn board() -> Schema {
    Schema::Object(vec![
        field("event_id", Schema::Id),
        field("competition_id", nullable(Schema::Id)),
        field("version", COUNT),
        field("provisional_until", nullable(Schema::Instant)),
        field("void", nullable(event::void())),
        field("cards_in", COUNT),
        field("still_out", COUNT),
        field("items", list(Schema::ByType(vec![fixture(), board_row()]), 0, usize::MAX)),
        field("next", nullable(Schema::Cursor)),
    ])
}
