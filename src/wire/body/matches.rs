//! Teams, line-ups, fixtures, and what is said of them.

use crate::domain::facts::fixture::MAX_EXTRA;
use crate::domain::facts::line_up::MAX_PLAYERS;
use crate::domain::facts::match_terms::{MAX_MATCHES, MAX_POINTS};
use crate::domain::facts::team::MAX_MEMBERS;
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The most teams of a season.
pub const MOST_TEAMS: usize = 200;
/// The most fixtures of a competition.
pub const MOST_FIXTURES: usize = 2_000;
/// The most fixtures that one request makes.
pub const MOST_AT_ONCE: usize = 500;
/// The most rounds of a knock-out: enough for the most teams.
const MOST_ROUNDS: usize = MOST_TEAMS.next_power_of_two().ilog2() as usize;
/// The most adjustments of a competition, and the most concessions of a fixture.
pub const MOST_SAID: usize = 500;

fn points() -> Schema {
    Schema::Real { min: 0.0, max: f64::from(MAX_POINTS), above: false }
}

/// The fields of a meeting in matches.
pub fn match_fields() -> Vec<Field> {
    let stakes = ["per_hole", "per_match", "per_nine", "per_total"].map(|name| optional(name, points()));
    let share = || Schema::Word(&["all", "half"]);
    let walk_over = Schema::Object(vec![optional("per_hole", share()), optional("per_total", share())]);
    vec![
        optional("matches", Schema::Whole(1, MAX_MATCHES.into())),
        optional("points", Schema::Object(stakes.to_vec())),
        optional("result", nullable(list(points(), 3, 3))),
        optional("tied", Schema::Word(&["half", "extra_holes"])),
        optional("walk_over", walk_over),
        optional("bye", points()),
    ]
}

/// What happens where a player does not come.
pub fn absent() -> Schema {
    Schema::ByKind(vec![
        ("forfeit", vec![]),
        ("net_par_plus", vec![optional("plus", Schema::Real { min: -5.0, max: 10.0, above: false })]),
        ("own_average", vec![optional("last", Schema::Whole(1, 20))]),
        ("opponent_to_par", vec![]),
    ])
}

/// Who may play in a member's place.
pub fn substitutes() -> Schema {
    Schema::Object(vec![optional("allowed", Schema::Flag), optional("most", nullable(Schema::Whole(0, 100)))])
}

/// The fields of a team.
pub fn team_fields() -> Vec<Field> {
    let member = Schema::Object(vec![
        field("member_id", Schema::Id),
        optional("from", nullable(Schema::Date)),
        optional("until", nullable(Schema::Date)),
    ]);
    let withdrawn =
        Schema::Object(vec![field("from", Schema::Date), field("results", Schema::Word(&["void", "stand"]))]);
    vec![
        field("name", Schema::Name(80)),
        optional("captain", nullable(Schema::Id)),
        optional("members", list(member, 0, MAX_MEMBERS)),
        optional("withdrawn", nullable(withdrawn)),
    ]
}

/// The fields of a line-up.
pub fn line_up_fields() -> Vec<Field> {
    let player = Schema::Object(vec![
        field("member_id", Schema::Id),
        optional("substitute_for", nullable(Schema::Id)),
        optional("absent", Schema::Flag),
    ]);
    vec![field("players", list(player, 1, MAX_PLAYERS)), optional("order", Schema::Word(&["by_handicap", "as_named"]))]
}

/// A member or a team.
pub fn side() -> Schema {
    Schema::ByType(["member_id", "team_id"].map(|id| Schema::Object(vec![field(id, Schema::Id)])).to_vec())
}

fn side_fields() -> Vec<Field> {
    vec![optional("member_id", nullable(Schema::Id)), optional("team_id", nullable(Schema::Id))]
}

pub(super) const SIDES: &[&str] = &["a", "b"];

/// A member, a team, or whoever wins or loses another fixture.
fn contender() -> Schema {
    let ids = ["member_id", "team_id", "winner_of", "loser_of"];
    Schema::ByType(ids.map(|id| Schema::Object(vec![field(id, Schema::Id)])).to_vec())
}

/// The fields of a fixture.
pub fn fixture_fields() -> Vec<Field> {
    let extra = list(nullable(Schema::Whole(1, 30)), 2, 2);
    vec![
        field("event_id", Schema::Id),
        optional("name", nullable(Schema::Name(40))),
        field("a", nullable(contender())),
        field("b", nullable(contender())),
        optional("bay", nullable(Schema::Name(40))),
        optional("slot", nullable(Schema::Name(40))),
        optional("state", nullable(Schema::Word(&["postponed", "walk_over", "void"]))),
        optional("to", nullable(Schema::Word(SIDES))),
        optional("goes_on", nullable(Schema::Word(SIDES))),
        optional("extra", list(extra, 0, MAX_EXTRA)),
        optional("reason", nullable(Schema::Text(1, 2000))),
    ]
}

/// Fixtures as they are made: a list, or what a round robin or a knock-out is made of.
pub fn new_fixtures() -> Schema {
    let place = || list(Schema::Name(40), 0, 50);
    let round_robin = Schema::Object(vec![
        optional("times", Schema::Whole(1, 2)),
        field("events", list(Schema::Id, 1, MOST_AT_ONCE)),
        optional("sides", list(side(), 2, MOST_TEAMS)),
        optional("bays", place()),
        optional("slots", place()),
    ]);
    let knock_out = Schema::Object(vec![
        field("seeds", list(side(), 2, MOST_TEAMS)),
        field("events", list(Schema::Id, 1, MOST_ROUNDS)),
        optional("third_place", Schema::Flag),
        optional("consolation", Schema::Flag),
    ]);
    Schema::ByType(vec![
        list(Schema::Object(fixture_fields()), 1, MOST_AT_ONCE),
        Schema::Object(vec![field("round_robin", round_robin)]),
        Schema::Object(vec![field("knock_out", knock_out)]),
    ])
}

/// The fields of a concession.
pub fn concession_fields() -> Vec<Field> {
    vec![
        optional("match", Schema::Whole(1, MAX_MATCHES.into())),
        optional("hole", nullable(Schema::Whole(1, 18))),
        field("by", Schema::Word(SIDES)),
    ]
}

/// Something of a member or of a team: the fields without the other's.
pub fn of_either(fields: impl Fn() -> Vec<Field>) -> Schema {
    let of = |id| {
        let other = if id == "member_id" { "team_id" } else { "member_id" };
        let mut fields = fields();
        fields.retain(|field| field.name != other);
        fields.iter_mut().filter(|field| field.name == id).for_each(|found| *found = field(id, Schema::Id));
        Schema::Object(fields)
    };
    Schema::ByType(vec![of("member_id"), of("team_id")])
}

/// An adjustment, of a member or a team.
pub fn adjustment() -> Schema {
    of_either(adjustment_fields)
}

/// The fields of an adjustment, of whomever.
pub fn adjustment_fields() -> Vec<Field> {
    let mut fields = side_fields();
    fields.extend([
        field("points", Schema::Real { min: -1000.0, max: 1000.0, above: false }),
        field("reason", Schema::Text(1, 2000)),
        optional("counts", Schema::Word(&["before", "after"])),
        optional("event_id", nullable(Schema::Id)),
    ]);
    fields
}
