//! Leagues, invitations and members.

use crate::domain::units::Tenths;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The roles that an invitation can give.
pub const INVITED_ROLES: &[&str] = &["player", "scorer", "organizer"];

/// Those, and somebody from outside who rules on one finding.
pub const ALL_INVITED: &[&str] = &["player", "scorer", "organizer", "reviewer"];

/// The fields of a league.
pub fn league_fields() -> Vec<Field> {
    vec![field("name", Schema::Name(80)), field("time_zone", Schema::Zone)]
}

/// An invitation.
pub fn invitation() -> Schema {
    Schema::Object(vec![
        field("role", Schema::Word(ALL_INVITED)),
        optional("finding_id", Schema::Id),
        optional("expires_in_h", Schema::Whole(1, 24 * 90)),
        optional("member_id", Schema::Id),
    ])
}

/// The shape of a starting handicap or an index.
pub fn index() -> Schema {
    Schema::Tenths(Tenths::MIN_INDEX.0, Tenths::MAX_INDEX.0)
}

/// The shape of a league index as it is worked out: it has no least value.
pub fn league_index() -> Schema {
    Schema::Tenths(-10_000, Tenths::MAX_INDEX.0)
}

/// The starting handicaps of before, each with the day from which another one holds.
pub fn earlier_starts() -> Field {
    let earlier = Schema::Object(vec![field("before", Schema::Date), optional("starting_handicap", nullable(index()))]);
    optional("earlier_starting_handicaps", list(earlier, 0, 1000))
}

/// The fields of a member that an organizer gives.
pub fn member_fields() -> Vec<Field> {
    vec![
        field("display_name", Schema::Name(80)),
        optional("flight", nullable(Schema::Name(40))),
        optional("starting_handicap", nullable(index())),
        optional("guest", Schema::Flag),
    ]
}

pub fn changed_member() -> Schema {
    let mut fields = member_fields();
    fields.push(optional("role", Schema::Word(INVITED_ROLES)));
    Schema::Object(fields)
}
