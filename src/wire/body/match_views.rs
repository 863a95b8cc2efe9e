//! Answers about teams and fixtures.

use crate::domain::facts::fixture::MAX_EXTRA;
use crate::domain::facts::line_up::MAX_PLAYERS;
use crate::domain::facts::match_terms::MAX_MATCHES;
use crate::wire::body::matches::{SIDES, adjustment_fields, concession_fields, line_up_fields, team_fields};
use crate::wire::body::shapes::{COUNT, REAL, STROKES, with_ids};
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

const STATES: &[&str] = &["planned", "in_play", "played", "postponed", "walk_over", "void"];

pub fn team() -> Schema {
    with_ids(&["id", "season_id"], team_fields())
}

pub fn line_up() -> Schema {
    with_ids(&["id", "event_id", "team_id"], line_up_fields())
}

pub fn concession() -> Schema {
    with_ids(&["id", "fixture_id"], concession_fields())
}

pub fn adjustment() -> Schema {
    with_ids(&["id", "competition_id"], adjustment_fields())
}

/// The fields that name a side.
fn side_shown() -> Vec<Field> {
    vec![
        field("member_id", nullable(Schema::Id)),
        field("team_id", nullable(Schema::Id)),
        field("display_name", Schema::Text(0, 120)),
        optional("winner_of", Schema::Id),
        optional("loser_of", Schema::Id),
    ]
}

fn both(value: impl Fn() -> Schema) -> Schema {
    Schema::Object(vec![field("a", value()), field("b", value())])
}

/// A fixture as it stands.
pub fn fixture() -> Schema {
    let words = &["expected", "plays", "absent", "stand_in", "disqualified"];
    let player = || {
        Schema::Object(vec![
            field("member_id", nullable(Schema::Id)),
            field("display_name", Schema::Text(0, 80)),
            field("substitute_for", nullable(Schema::Id)),
            field("presence", Schema::Word(words)),
            field("playing_handicap", nullable(STROKES)),
            optional("received", list(STROKES, 0, 18)),
            optional("gross", list(nullable(STROKES), 0, 18)),
        ])
    };
    let winner = || nullable(Schema::Word(SIDES));
    let hole = Schema::Object(vec![
        field("number", Schema::Whole(1, 18)),
        field("a", nullable(REAL)),
        field("b", nullable(REAL)),
        field("winner", winner()),
        field("played", Schema::Flag),
        field("conceded_by", winner()),
    ]);
    let of_match = Schema::Object(vec![
        field("a", list(player(), 0, MAX_PLAYERS)),
        field("b", list(player(), 0, MAX_PLAYERS)),
        field("result", Schema::Text(1, 40)),
        field("winner", winner()),
        field("through", COUNT),
        field("lead", STROKES),
        field("points", both(|| REAL)),
        optional("holes", list(hole, 0, 18)),
    ]);
    let extra = list(nullable(STROKES), 2, 2);
    let side = || nullable(Schema::Object(side_shown()));
    let fields = vec![
        field("name", nullable(Schema::Text(1, 40))),
        field("a", side()),
        field("b", side()),
        field("bay", nullable(Schema::Text(1, 40))),
        field("slot", nullable(Schema::Text(1, 40))),
        field("state", Schema::Word(STATES)),
        field("to", winner()),
        field("goes_on", winner()),
        field("reason", nullable(Schema::Text(1, 2000))),
        field("extra", list(extra, 0, MAX_EXTRA)),
        field("matches", list(of_match, 0, MAX_MATCHES.into())),
        field("points", nullable(both(|| REAL))),
        field("total", nullable(both(|| REAL))),
    ];
    with_ids(&["fixture_id", "competition_id", "event_id"], fields)
}
