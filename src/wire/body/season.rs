//! Seasons and their policy.

use crate::domain::facts::handicap_policy::{MOST_LATEST, MOST_LIMIT};
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
    let share = |most| Schema::Whole(1, i64::from(most));
    let of_kind = |more: Vec<Field>| {
        let common = vec![
            optional("frozen_from", nullable(Schema::Id)),
            optional("limit", nullable(Schema::Whole(0, i64::from(MOST_LIMIT)))),
            optional("nines", Schema::Word(&["pair", "double"])),
        ];
        more.into_iter().chain(common).collect::<Vec<Field>>()
    };
    let average =
        vec![field("last", share(MOST_LATEST)), field("best", share(MOST_LATEST)), field("pct", Schema::Whole(0, 200))];
    let handicap = Schema::ByKind(vec![
        ("computed", of_kind(vec![])),
        ("declared", of_kind(vec![])),
        ("average", of_kind(average)),
    ]);
    vec![
        field("name", Schema::Name(80)),
        field("starts_on", Schema::Date),
        field("ends_on", Schema::Date),
        optional("concession_ft", Schema::Real { min: 0.0, max: 30.0, above: false }),
        optional("query_hours", Schema::Whole(0, 24 * 60)),
        optional("handicap", handicap),
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
