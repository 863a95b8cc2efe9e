//! Events and seasons copied to later days.

use crate::wire::body::views;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// What both say: a name, how many days later, and the days that are left out.
fn fields() -> Vec<Field> {
    vec![
        optional("name", nullable(Schema::Name(80))),
        field("days", Schema::Whole(1, 1_500)),
        optional("skip", list(Schema::Date, 0, 200)),
    ]
}

/// How an event is copied.
pub fn of_event() -> Schema {
    let mut fields = fields();
    fields.push(optional("times", Schema::Whole(1, 60)));
    Schema::Object(fields)
}

/// How a season is copied.
pub fn of_season() -> Schema {
    let mut fields = fields();
    fields.push(optional("events", Schema::Flag));
    Schema::Object(fields)
}

/// A season that was copied.
pub fn copied_season() -> Schema {
    let Schema::Object(mut fields) = views::new_season() else { return views::new_season() };
    fields.push(field("events", list(views::event(), 0, usize::MAX)));
    Schema::Object(fields)
}
