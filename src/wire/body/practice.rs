//! Practice.

use crate::domain::facts::practice::MOST_PRACTISED;
use crate::domain::units::{Feet, Stimp};
use crate::wire::body::putting::report_fields;
use crate::wire::body::round::putt_fields;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};
use std::sync::LazyLock;

static PRACTISED_PUTT: LazyLock<Schema> = LazyLock::new(|| {
    let mut fields = putt_fields(&["holed", "missed"]);
    fields.push(optional("leave_ft", nullable(Schema::Real { min: Feet::MIN, max: Feet::MAX, above: true })));
    Schema::Object(fields)
});

fn practice_fields() -> Vec<Field> {
    vec![
        optional("setup_id", nullable(Schema::Id)),
        field("played_on", Schema::Date),
        field("stimp_ft", Schema::Real { min: Stimp::MIN, max: Stimp::MAX, above: false }),
        field("putts", list(Schema::Named("PractisedPutt", &PRACTISED_PUTT), 1, MOST_PRACTISED)),
    ]
}

/// A block of practice as it is handed in.
pub fn body() -> Schema {
    Schema::Object(practice_fields())
}

/// A block of practice as it is answered.
pub fn view() -> Schema {
    let mut fields =
        vec![field("id", Schema::Id), field("member_id", Schema::Id), field("received_at", Schema::Instant)];
    fields.extend(practice_fields());
    Schema::Object(fields)
}

/// What practice says.
pub fn report() -> Schema {
    let mut fields = vec![field("blocks", Schema::Whole(0, i64::MAX))];
    fields.extend(report_fields());
    Schema::Object(fields)
}
