//! Putting reports and baselines, as they are answered.

use crate::wire::schema::{Field, Schema, field, list, nullable};
use std::sync::LazyLock;

const REAL: Schema = Schema::Real { min: -1e9, max: 1e9, above: false };
const COUNT: Schema = Schema::Whole(0, i64::MAX);

fn reals(names: &[&'static str]) -> impl Iterator<Item = Field> {
    names.iter().map(|name| field(name, REAL))
}

static REPORT: LazyLock<Schema> = LazyLock::new(|| Schema::Object(report_fields()));

/// The fields of a putting report.
pub fn report_fields() -> Vec<Field> {
    let mut band = vec![field("putts", COUNT), field("made", COUNT)];
    band.extend(reals(&["from_ft", "to_ft", "expected_made", "strokes_gained"]));
    band.extend([field("low", nullable(REAL)), field("high", nullable(REAL))]);
    let mut line = vec![field("putts", COUNT), field("within_half_deg_inside_5_ft_pct", nullable(REAL))];
    line.extend(reals(&["bias_deg", "sd_deg", "sd_low_deg", "sd_high_deg", "within_1_deg_pct"]));
    let mut pace = vec![field("putts", COUNT)];
    pace.extend(reals(&["bias_pct", "sd_pct", "sd_low_pct", "sd_high_pct"]));
    let causes = reals(&["line", "pace", "both", "read", "unknown"]).collect();
    let mut setup = vec![field("setup_id", Schema::Id), field("putts", COUNT)];
    setup.extend(reals(&["speed_ratio", "low", "high"]));
    let mut practice = vec![field("focus", Schema::Word(&["line", "pace", "read"]))];
    practice.extend(reals(&["from_ft", "to_ft", "strokes_per_round", "low", "high"]));
    vec![
        field("member_id", Schema::Id),
        field("rounds", COUNT),
        field("putts", nullable(COUNT)),
        field("conceded", Schema::Object(vec![field("putts", COUNT), field("strokes_gained", REAL)])),
        field("holes", COUNT),
        field("recorded_holes", COUNT),
        field("baseline", Schema::Word(crate::domain::putting::baseline::Yardstick::WORDS)),
        field("strokes_gained_per_round", nullable(REAL)),
        field("bands", list(Schema::Object(band), 9, 9)),
        field("start_line", nullable(Schema::Object(line))),
        field("pace", nullable(Schema::Object(pace))),
        field("causes", nullable(Schema::Object(causes))),
        field("setups", list(Schema::Object(setup), 0, usize::MAX)),
        field("practice", list(Schema::Object(practice), 0, 2)),
    ]
}

/// A putting report.
pub fn report() -> Schema {
    Schema::Named("PuttingReport", &REPORT)
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
