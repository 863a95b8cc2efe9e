//! Courses with their tees.

use crate::domain::units::{Par, SlopeRating, StrokeIndex, Tenths};
use crate::wire::schema::{Field, Schema, field, list, optional};
use std::sync::LazyLock;

fn rating() -> Schema {
    Schema::Tenths(Tenths::MIN_RATING.0, Tenths::MAX_RATING.0)
}

/// A tee.
pub static TEE: LazyLock<Schema> = LazyLock::new(|| {
    let hole = Schema::Object(vec![
        field("number", Schema::Whole(1, 18)),
        field("par", Schema::Whole(Par::MIN, Par::MAX)),
        field("stroke_index", Schema::Whole(StrokeIndex::MIN, StrokeIndex::MAX)),
    ]);
    let nine = Schema::Object(vec![
        field("first_hole", Schema::Numbers(&[1, 10])),
        field("course_rating", rating()),
        field("slope_rating", Schema::Whole(SlopeRating::MIN, SlopeRating::MAX)),
    ]);
    Schema::Object(vec![
        optional("id", Schema::Id),
        field("name", Schema::Name(40)),
        field("course_rating", rating()),
        field("slope_rating", Schema::Whole(SlopeRating::MIN, SlopeRating::MAX)),
        field("holes", list(hole, 1, 18)),
        optional("nines", list(nine, 0, 2)),
    ])
});

/// The fields of a course.
pub fn course_fields() -> Vec<Field> {
    vec![field("name", Schema::Name(80)), field("tees", list(Schema::Named("Tee", &TEE), 1, 20))]
}
