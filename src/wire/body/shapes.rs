//! Shapes that many answers share.

use crate::wire::schema::{Field, Schema, field};

pub(super) const REAL: Schema = Schema::Real { min: -1e9, max: 1e9, above: false };
pub(super) const COUNT: Schema = Schema::Whole(0, i64::MAX);
pub(super) const STROKES: Schema = Schema::Whole(-1000, 10_000);

/// An object with these ids before its fields.
pub(super) fn with_ids(ids: &[&'static str], fields: Vec<Field>) -> Schema {
    let ids = ids.iter().map(|id| field(id, Schema::Id));
    Schema::Object(ids.chain(fields).collect())
}
