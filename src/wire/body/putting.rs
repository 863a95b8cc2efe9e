//! Putting reports and baselines, as they are answered.

use crate::domain::putting::advice::{Certainty, Focus};
use crate::wire::schema::{Field, Schema, field, list, nullable};
use std::ops::RangeInclusive;
use std::sync::LazyLock;

const REAL: Schema = Schema::Real { min: -1e9, max: 1e9, above: false };
const COUNT: Schema = Schema::Whole(0, i64::MAX);

fn reals(names: &[&'static str]) -> impl Iterator<Item = Field> {
    names.iter().map(|name| field(name, REAL))
}

static REPORT: LazyLock<Schema> = LazyLock::new(|| Schema::Object(report_fields()));

fn start_line() -> Schema {
    let mut line = vec![field("putts", COUNT), field("within_half_deg_inside_5_ft_pct", nullable(REAL))];
    line.extend(reals(&["bias_deg", "sd_deg", "sd_low_deg", "sd_high_deg", "within_1_deg_pct"]));
    nullable(Schema::Object(line))
}

fn pace() -> Schema {
    let mut pace = vec![field("putts", COUNT)];
    pace.extend(reals(&["bias_pct", "sd_pct", "sd_low_pct", "sd_high_pct"]));
    nullable(Schema::Object(pace))
}

fn or_none(names: &[&'static str]) -> impl Iterator<Item = Field> {
    names.iter().map(|name| field(name, nullable(REAL)))
}

fn counts(names: &[&'static str]) -> impl Iterator<Item = Field> {
    names.iter().map(|name| field(name, COUNT))
}

fn first_putts() -> Schema {
    let some = || {
        let mut some = vec![field("holes_total", COUNT), field("expected_total", REAL)];
        some.extend(or_none(&["low_pct", "high_pct"]));
        Schema::Object(some)
    };
    let mut left = vec![field("putts", COUNT)];
    left.extend(reals(&["median_ft", "inside_3_ft_pct", "inside_3_ft_low_pct", "inside_3_ft_high_pct"]));
    left.extend(or_none(&["median_low_ft", "median_high_ft", "nine_in_ten_ft"]));
    let mut row: Vec<Field> = reals(&["from_ft", "to_ft"]).collect();
    row.push(field("holes", COUNT));
    row.extend([field("one_putt", some()), field("three_putt", some()), field("left", nullable(Schema::Object(left)))]);
    Schema::Object(row)
}

fn misses() -> Schema {
    let places = ["putts", "left_short", "left_long", "right_short", "right_long", "unrecorded"];
    let shares = ["left_pct", "left_low_pct", "left_high_pct", "short_pct", "short_low_pct", "short_high_pct"];
    Schema::Object(counts(&places).chain(or_none(&shares)).collect())
}

fn condition() -> Schema {
    let figures = counts(&["putts", "made"]).chain(reals(&["expected_made", "strokes_gained_total"]));
    Schema::Object(figures.chain(or_none(&["low_total", "high_total"])).collect())
}

/// The fields of a putting report.
pub fn report_fields() -> Vec<Field> {
    let mut band = vec![field("putts", COUNT), field("made", COUNT)];
    band.extend(reals(&["from_ft", "to_ft", "expected_made", "strokes_gained_total"]));
    let known = ["made_pct", "made_low_pct", "made_high_pct", "low_total", "high_total"];
    let a_round = ["strokes_gained_per_round", "low_per_round", "high_per_round"];
    band.extend(known.into_iter().chain(a_round).map(|name| field(name, nullable(REAL))));
    let lost = || Schema::Object(reals(&["lost_per_round", "low", "high"]).collect());
    let causes = ["line", "pace", "both", "read", "unknown"].map(|name| field(name, lost())).into();
    let mut setup = vec![field("setup_id", Schema::Id), field("putts", COUNT)];
    setup.extend(reals(&["speed_ratio", "low", "high"]));
    let mut advice = vec![field("focus", nullable(Schema::Word(Focus::WORDS)))];
    let figures = ["from_ft", "to_ft", "worth_per_round", "low", "high"];
    advice.extend(figures.map(|name| field(name, nullable(REAL))));
    advice.push(field("certainty", Schema::Word(Certainty::WORDS)));
    advice.push(field("probability", Schema::Real { min: 0.0, max: 1.0, above: false }));
    advice.push(field("needs_putts", nullable(COUNT)));
    let mut slopes = ["uphill", "level", "downhill"].map(|name| field(name, condition())).to_vec();
    slopes.push(field("unrecorded", COUNT));
    let greens = ["slow", "usual", "quick"].map(|name| field(name, condition())).into();
    vec![
        field("member_id", Schema::Id),
        field("rounds", COUNT),
        field("putts", nullable(COUNT)),
        field("conceded", Schema::Object(vec![field("putts", COUNT), field("strokes_gained_total", REAL)])),
        field("holes", COUNT),
        field("recorded_holes", COUNT),
        field("baseline", Schema::Word(crate::domain::putting::baseline::Yardstick::WORDS)),
        field("strokes_gained_total", REAL),
        field("strokes_gained_per_round", nullable(REAL)),
        field("feet_holed_total", REAL),
        field("longest_holed_ft", nullable(REAL)),
        field("first_putts", first_putts()),
        field("first_putts_by_distance", list(first_putts(), 9, 9)),
        field("misses", misses()),
        field("slopes", Schema::Object(slopes)),
        field("greens", Schema::Object(greens)),
        field("bands", list(Schema::Object(band), 9, 9)),
        field("start_line", start_line()),
        field("pace", pace()),
        field("causes", nullable(Schema::Object(causes))),
        field("setups", list(Schema::Object(setup), 0, usize::MAX)),
        field("advice", Schema::Object(advice)),
    ]
}

/// A putting report.
pub fn report() -> Schema {
    Schema::Named("PuttingReport", &REPORT)
}

/// A member's putting night by night.
pub fn trend() -> Schema {
    let mut night = vec![field("event_id", Schema::Id), field("date", Schema::Date), field("recorded_holes", COUNT)];
    night.push(field("putts", nullable(COUNT)));
    night.extend(or_none(&["strokes_gained_per_round", "low_per_round", "high_per_round"]));
    night.extend([field("start_line", start_line()), field("pace", pace())]);
    let mut change = vec![field("since", Schema::Date), field("may_be_luck", Schema::Flag)];
    change.extend(reals(&["strokes_gained_per_round", "low_per_round", "high_per_round"]));
    Schema::Object(vec![
        field("member_id", Schema::Id),
        field("baseline", Schema::Word(crate::domain::putting::baseline::Yardstick::WORDS)),
        field("items", list(Schema::Object(night), 0, usize::MAX)),
        field("change", nullable(Schema::Object(change))),
        field("next", nullable(Schema::Text(1, 400))),
    ])
}

/// The putting of a season's players.
pub fn table() -> Schema {
    let mut row = vec![
        field("display_name", Schema::Text(0, 80)),
        field("position", nullable(COUNT)),
        field("member_id", Schema::Id),
        field("rounds", COUNT),
        field("recorded_holes", COUNT),
    ];
    row.extend(reals(&["strokes_gained_total", "strokes_gained_per_round"]));
    row.extend(or_none(&["low_per_round", "high_per_round"]));
    Schema::Object(vec![
        field("season_id", Schema::Id),
        field("baseline", Schema::Word(crate::domain::putting::baseline::Yardstick::WORDS)),
        field("fewest_holes", fewest_holes()),
        field("items", list(Schema::Object(row), 0, usize::MAX)),
        field("next", nullable(Schema::Text(1, 400))),
    ])
}

/// From how many recorded holes on somebody can be ranked: a hundred rounds at most.
pub const FEWEST_HOLES: RangeInclusive<u32> = 1..=1_800;
/// From how many recorded holes on somebody is ranked where nobody says: two rounds.
pub const USUAL_HOLES: u32 = 36;

pub fn fewest_holes() -> Schema {
    Schema::Whole((*FEWEST_HOLES.start()).into(), (*FEWEST_HOLES.end()).into())
}

/// Reports against both baselines.
pub fn compared() -> Schema {
    Schema::Object(vec![field("season_id", Schema::Id), field("tour", report()), field("field", report())])
}

/// The field's baseline.
pub fn field_table() -> Schema {
    let expected = ["distance_ft", "expected_putts", "low", "high", "one_putt", "one_putt_low", "one_putt_high"];
    let row = reals(&expected).chain(reals(&["tour_expected_putts", "tour_one_putt"]));
    Schema::Object(vec![
        field("season_id", Schema::Id),
        field("baseline", Schema::Word(&["field"])),
        field("rounds", COUNT),
        field("putts", COUNT),
        field("items", list(Schema::Object(row.collect()), 1, 1000)),
        field("next", nullable(Schema::Text(1, 400))),
    ])
}
