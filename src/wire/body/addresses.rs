//! Secret addresses.

use crate::domain::facts::{Leads, Names};
use crate::wire::schema::{Field, Schema, field, nullable, optional};

/// An address that is asked for.
pub fn new_address() -> Schema {
    let [public, calendar] = [Leads::WORDS[0], Leads::WORDS[1]];
    Schema::ByKind(vec![(public, vec![optional("names", Schema::Word(Names::WORDS))]), (calendar, vec![])])
}

fn fields() -> Vec<Field> {
    vec![
        field("id", Schema::Id),
        field("kind", Schema::Word(Leads::WORDS)),
        field("names", nullable(Schema::Word(Names::WORDS))),
        field("member_id", Schema::Id),
        field("created_at", Schema::Instant),
    ]
}

/// An address as it is listed: without where it leads, which is not kept.
pub fn address() -> Schema {
    Schema::Object(fields())
}

/// An address as it is made.
pub fn made() -> Schema {
    let mut fields = fields();
    fields.push(field("path", Schema::Text(1, 100)));
    Schema::Object(fields)
}
