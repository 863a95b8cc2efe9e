//! Competitions and their terms.

use crate::domain::facts::counted_events::{self, GREATEST_WEIGHT, LEAST_WEIGHT};
use crate::domain::facts::side::MOST_BALLS;
use crate::domain::facts::staggered;
use crate::domain::facts::tie::Tie;
use crate::domain::units::AllowancePct;
use crate::wire::body::matches;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The most competitions of a season.
pub const MOST: usize = 20;

/// Whole points for results against par, such as `{"-1": 3, "0": 2, "1": 1}`.
fn points_table() -> Schema {
    Schema::ByNumber { keys: (-20, 20), values: (-1000, 1000) }
}

fn points() -> Schema {
    Schema::Real { min: 0.0, max: 1e6, above: false }
}

fn score() -> Schema {
    let by_par = Schema::Word(&["double_par", "net_double_bogey"]);
    let over_par = Schema::Object(vec![field("over_par", Schema::Whole(1, 20))]);
    let maximum = Schema::ByType(vec![by_par, over_par, Schema::Whole(2, 30)]);
    Schema::ByKind(vec![
        ("strokes", vec![]),
        ("points", vec![optional("table", nullable(points_table()))]),
        ("par_bogey", vec![]),
        ("maximum_score", vec![field("maximum", maximum)]),
        ("quota", vec![optional("base", Schema::Whole(0, 200)), optional("table", nullable(points_table()))]),
    ])
}

fn side() -> Schema {
    let most = i64::from(MOST_BALLS);
    let count = Schema::ByType(vec![Schema::Whole(1, most), Schema::ByNumber { keys: (3, 6), values: (1, most) }]);
    let by = Schema::Word(&["hole", "card"]);
    let best = vec![field("of", Schema::Whole(2, most)), field("count", count), optional("by", by)];
    Schema::ByKind(vec![("player", vec![]), ("best", best)])
}

fn meeting() -> Schema {
    Schema::ByKind(vec![
        ("field", vec![]),
        ("match", matches::match_fields()),
        ("hole", vec![optional("carry", Schema::Flag), optional("last", Schema::Word(&["split", "void"]))]),
        ("season", vec![]),
        ("sum", vec![field("of", list(Schema::Id, 1, MOST))]),
    ])
}

fn award() -> Schema {
    Schema::ByKind(vec![
        ("by_score", vec![]),
        ("by_place", vec![field("table", list(points(), 1, 1000)), optional("beyond", points())]),
        ("by_points", vec![]),
    ])
}

/// The fields of a competition.
pub fn competition_fields() -> Vec<Field> {
    let counting = Schema::Object(vec![
        optional("best", nullable(Schema::Whole(1, 1000))),
        optional("drop_worst", Schema::Whole(0, 1000)),
        optional("minimum", Schema::Whole(0, 1000)),
    ]);
    let counted = Schema::Object(vec![
        field("event_ids", list(Schema::Id, 1, counted_events::MOST_TOGETHER)),
        optional("weight", Schema::Real { min: LEAST_WEIGHT, max: GREATEST_WEIGHT, above: false }),
        optional("take", Schema::Word(&["sum", "best"])),
    ]);
    let strokes = Schema::Real { min: -1000.0, max: 1000.0, above: false };
    let start = Schema::Object(vec![
        field("competition_id", Schema::Id),
        field("table", list(strokes, 1, staggered::MOST_STARTS)),
    ]);
    let ranked =
        Schema::Object(vec![optional("flights", list(Schema::Name(40), 0, 50)), optional("by_entry", Schema::Flag)]);
    vec![
        field("name", Schema::Name(80)),
        optional("score", score()),
        optional("basis", Schema::Word(&["net", "gross"])),
        optional("allowance_pct", nullable(Schema::Whole(AllowancePct::MIN, AllowancePct::MAX))),
        optional("side", side()),
        optional("meeting", meeting()),
        optional("award", award()),
        optional("field", ranked),
        optional("teams", nullable(list(Schema::Id, 0, matches::MOST_TEAMS))),
        optional("events", nullable(list(counted, 1, counted_events::MOST_RESULTS))),
        optional("start", nullable(start)),
        optional("counting", counting),
        optional("ties", list(Schema::Word(Tie::WORDS), 0, Tie::WORDS.len())),
        optional("absent", matches::absent()),
        optional("substitutes", matches::substitutes()),
        optional("position", Schema::Whole(1, 1000)),
    ]
}
