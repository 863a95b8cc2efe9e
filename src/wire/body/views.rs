//! The shapes of answers: what was sent, with ids and what was worked out.

use crate::domain::facts::Decision;
use crate::wire::body::league::{self, league_index};
use crate::wire::body::shapes::{COUNT, REAL, STROKES, with_ids};
use crate::wire::body::tables::{board_row, standings_row};
use crate::wire::body::{account, brought, competition, course, event, life, round, season, setup};
use crate::wire::schema::{Field, Schema, field, list, nullable, optional};

/// The most characters that are said of a parameter's name.
pub const MOST_PARAMETER: usize = 100;

/// A page of a collection.
pub fn page(item: Schema) -> Schema {
    Schema::Object(vec![field("items", list(item, 0, 200)), field("next", nullable(Schema::Cursor))])
}

/// An account.
pub fn account() -> Schema {
    Schema::Object(account::account_fields())
}

/// An account with its memberships.
pub fn me() -> Schema {
    let membership = Schema::Object(vec![
        field("league_id", Schema::Id),
        field("member_id", Schema::Id),
        field("role", Schema::Word(league::INVITED_ROLES)),
    ]);
    let mut fields = account::account_fields();
    fields.push(field("memberships", list(membership, 0, usize::MAX)));
    Schema::Object(fields)
}

/// A league.
pub fn league() -> Schema {
    let mut fields = league::league_fields();
    fields.extend([field("role", Schema::Word(league::INVITED_ROLES)), field("member_id", Schema::Id)]);
    with_ids(&["id"], fields)
}

/// An invitation as it is made, with its code.
pub fn invitation() -> Schema {
    let mut fields = open_invitation_fields();
    fields.push(field("code", Schema::Text(26, 26)));
    Schema::Object(fields)
}

/// An invitation that waits to be taken up.
pub fn open_invitation() -> Schema {
    Schema::Object(open_invitation_fields())
}

fn open_invitation_fields() -> Vec<Field> {
    vec![
        field("id", Schema::Id),
        field("role", Schema::Word(league::ALL_INVITED)),
        field("expires_at", Schema::Instant),
        field("member_id", nullable(Schema::Id)),
        field("finding_id", nullable(Schema::Id)),
    ]
}

/// A member.
pub fn member() -> Schema {
    let mut fields = league::member_fields();
    fields.extend([
        field("role", Schema::Word(league::INVITED_ROLES)),
        field("has_account", Schema::Flag),
        league::earlier_starts(),
    ]);
    with_ids(&["id", "league_id"], fields)
}

/// A member that was changed; one that is only looked at comes with what the change would move.
pub fn changed_member() -> Schema {
    let Schema::Object(mut fields) = member() else { return member() };
    let season = Schema::Object(vec![field("season_id", Schema::Id), field("moves", moves())]);
    fields.push(optional("effect", list(season, 0, usize::MAX)));
    Schema::Object(fields)
}

/// What accepting an invitation gives: a member's record, or for a reviewer the finding.
pub fn accepted() -> Schema {
    let mut fields = league::member_fields();
    fields.extend([
        field("role", Schema::Word(league::INVITED_ROLES)),
        field("has_account", Schema::Flag),
        field("id", Schema::Id),
        field("league_id", Schema::Id),
        field("finding_id", Schema::Id),
    ]);
    fields.iter_mut().for_each(|field| field.optional = true);
    Schema::Object(fields)
}

/// A member of a roster; without ids where the roster was only looked at.
pub fn roster_member() -> Schema {
    let mut fields = league::member_fields();
    fields.extend([
        field("role", Schema::Word(league::INVITED_ROLES)),
        optional("id", Schema::Id),
        optional("league_id", Schema::Id),
        optional("has_account", Schema::Flag),
    ]);
    Schema::Object(fields)
}

/// A course.
pub fn course() -> Schema {
    with_ids(&["id", "league_id"], course::course_fields())
}

/// A set-up.
pub fn setup() -> Schema {
    let mut fields = setup::setup_fields();
    fields.push(field("member_id", nullable(Schema::Id)));
    with_ids(&["id", "league_id"], fields)
}

/// A season.
pub fn season() -> Schema {
    with_ids(&["id", "league_id"], season::season_fields())
}

/// A season that was just made.
pub fn new_season() -> Schema {
    let mut fields = season::season_fields();
    fields.push(field("competitions", list(competition(), 1, competition::MOST)));
    with_ids(&["id", "league_id"], fields)
}

/// A competition.
pub fn competition() -> Schema {
    let computed = Schema::Object(vec![
        field("allowance_pct", Schema::Whole(0, 200)),
        field("allowance_source", nullable(Schema::Text(1, 100))),
        field("notes", list(Schema::Text(1, 300), 0, 10)),
    ]);
    let mut fields = competition::competition_fields();
    fields.push(field("computed", computed));
    with_ids(&["id", "season_id"], fields)
}

/// The terms of a competition in sentences.
pub fn terms() -> Schema {
    let term = Schema::Object(vec![
        field("head", Schema::Text(1, 40)),
        field("text", Schema::Text(1, 20_000)),
        field("source", Schema::Text(1, 200)),
    ]);
    list(term, 1, 20)
}

/// An event.
pub fn event() -> Schema {
    let mut fields = event::event_fields();
    fields.push(field("state_by_hand", Schema::Flag));
    with_ids(&["id", "season_id"], fields)
}

const ROUND_STATES: &[&str] = &["submitted", "attested", "proposed", "late", "excluded", "withdrawn"];

fn figures() -> Vec<Field> {
    let in_competition = Schema::Object(vec![
        field("competition_id", Schema::Id),
        field("playing_handicap", STROKES),
        field("score", nullable(REAL)),
        field("place", nullable(COUNT)),
        field("value", nullable(REAL)),
    ]);
    let putting = Schema::Object(vec![
        field("strokes_gained", nullable(REAL)),
        field("expected_putts", nullable(REAL)),
        field("recorded_holes", COUNT),
    ]);
    vec![
        field("gross", nullable(STROKES)),
        field("adjusted_gross", nullable(STROKES)),
        field("course_handicap", nullable(STROKES)),
        field("playing_handicap", nullable(STROKES)),
        field("net", nullable(STROKES)),
        field("points", nullable(STROKES)),
        field("score_differential", nullable(Schema::Tenths(-3000, 10_000))),
        field("putts", nullable(COUNT)),
        field("putting", putting),
        field("competitions", list(in_competition, 0, competition::MOST)),
        field("event_id", Schema::Id),
        field("state", Schema::Word(ROUND_STATES)),
        field("received_at", Schema::Instant),
    ]
}

/// A round with its card.
pub fn round() -> Schema {
    let mut fields = round::round_fields();
    fields.retain(|field| field.name != "holes");
    fields.extend(figures());
    fields.extend([
        field("holes", list(Schema::Named("MarkedHole", &round::MARKED_HOLE), 0, 18)),
        field("version", COUNT),
        field("declared_radius_ft", nullable(Schema::Real { min: 0.0, max: 200.0, above: true })),
    ]);
    with_ids(&["id"], fields)
}

pub(super) fn moves() -> Schema {
    let standing = || Schema::Object(vec![field("position", nullable(COUNT)), field("total", nullable(REAL))]);
    let moved =
        Schema::Object(vec![field("member_id", Schema::Id), field("from", standing()), field("to", standing())]);
    list(moved, 0, usize::MAX)
}

/// A ruling on a round, with what it does.
pub fn ruling() -> Schema {
    let effect = Schema::Object(vec![
        field("moves", moves()),
        field("board", list(board_row(), 0, usize::MAX)),
        field("standings", list(standings_row(), 0, usize::MAX)),
    ]);
    Schema::Object(vec![
        field("id", nullable(Schema::Id)),
        field("round_id", Schema::Id),
        field("member_id", Schema::Id),
        field("decision", Schema::Word(Decision::WORDS)),
        field("reason", Schema::Text(1, 2000)),
        field("state", Schema::Word(ROUND_STATES)),
        field("effect", effect),
    ])
}

/// Something that was done to a round.
pub fn happening() -> Schema {
    let difference = Schema::Object(vec![
        field("pointer", Schema::Text(0, 200)),
        field("from", Schema::Anything),
        field("to", Schema::Anything),
    ]);
    let acts = &["handed_in", "corrected", "accepted", "attested", "withdrawn", "excluded", "reinstated"];
    Schema::Object(vec![
        field("act", Schema::Word(acts)),
        field("at", Schema::Instant),
        field("member_id", nullable(Schema::Id)),
        field("reason", nullable(Schema::Text(0, 2000))),
        field("changes", list(difference, 0, usize::MAX)),
    ])
}

/// The working of a result.
pub fn working() -> Schema {
    let value = Schema::Object(vec![field("name", Schema::Text(1, 60)), field("value", Schema::Anything)]);
    let step = Schema::Object(vec![
        field("name", Schema::Text(1, 60)),
        field("rule", Schema::Text(1, 400)),
        field("formula", Schema::Text(1, 400)),
        field("values", list(value, 0, usize::MAX)),
        field("result", Schema::Anything),
    ]);
    Schema::Object(vec![
        field("round_id", Schema::Id),
        field("event_id", Schema::Id),
        field("competition_id", nullable(Schema::Id)),
        field("member_id", Schema::Id),
        field("holes", list(Schema::Whole(1, 18), 0, 18)),
        field("steps", list(step, 0, usize::MAX)),
        field("notes", list(Schema::Text(1, 400), 0, usize::MAX)),
    ])
}

/// What moved a season's table.
pub fn standings_change() -> Schema {
    Schema::Object(vec![
        field("id", Schema::Id),
        field("at", Schema::Instant),
        field("member_id", nullable(Schema::Id)),
        field("act", Schema::Text(1, 40)),
        field("kind", Schema::Text(1, 40)),
        field("thing_id", Schema::Id),
        field("reason", nullable(Schema::Text(0, 2000))),
        field("moves", moves()),
    ])
}

/// An answer to a query.
pub fn answer() -> Schema {
    let mut fields = life::answer_fields();
    fields.push(field("received_at", Schema::Instant));
    with_ids(&["id", "query_id", "member_id"], fields)
}

/// A query with its answers.
pub fn query() -> Schema {
    let mut fields = life::query_fields();
    fields.extend([field("received_at", Schema::Instant), field("answers", list(answer(), 0, usize::MAX))]);
    with_ids(&["id", "round_id", "member_id"], fields)
}

/// A member's entry in an event.
pub fn entry() -> Schema {
    let mut fields = life::event_entry_fields();
    fields.push(field("received_at", Schema::Instant));
    with_ids(&["id", "event_id", "member_id"], fields)
}

/// A card in play.
pub fn card_in_play() -> Schema {
    let mut fields = life::card_in_play_fields();
    fields.retain(|field| field.name != "member_id");
    fields.push(field("updated_at", Schema::Instant));
    with_ids(&["event_id", "member_id"], fields)
}

/// A notice.
pub fn notice() -> Schema {
    Schema::Object(vec![
        field("id", Schema::Id),
        field("league_id", nullable(Schema::Id)),
        field("member_id", nullable(Schema::Id)),
        field("kind", Schema::Word(life::NOTICE_KINDS)),
        field("round_id", nullable(Schema::Id)),
        field("query_id", nullable(Schema::Id)),
        field("finding_id", nullable(Schema::Id)),
        field("event_id", nullable(Schema::Id)),
        field("device", nullable(account::device())),
        field("at", Schema::Instant),
        field("seen_at", nullable(Schema::Instant)),
    ])
}

/// A round without its card.
pub fn round_listed() -> Schema {
    let mut fields = figures();
    fields.extend([
        field("member_id", Schema::Id),
        field("outcome", Schema::Word(&["complete", "no_return", "disqualified"])),
        field("played_on", Schema::Date),
    ]);
    with_ids(&["id"], fields)
}

/// An entry of the journal.
pub fn journal_entry() -> Schema {
    Schema::Object(vec![
        field("n", COUNT),
        field("at", Schema::Instant),
        field("account_id", nullable(Schema::Id)),
        field("act", Schema::Text(1, 40)),
        field("kind", Schema::Text(1, 40)),
        field("id", Schema::Id),
        field("content", Schema::Text(64, 64)),
        field("hash", Schema::Text(64, 64)),
        optional("reason", Schema::Text(64, 64)),
        optional("rows", list(Schema::Text(1, 300), 1, 10_000)),
    ])
}

/// A signed head of a journal.
pub fn signed_head() -> Schema {
    Schema::Object(vec![
        field("league_id", Schema::Id),
        field("n", COUNT),
        field("hash", Schema::Text(64, 64)),
        field("at", Schema::Instant),
        field("key", Schema::Text(64, 64)),
        field("signature", Schema::Text(128, 128)),
    ])
}

/// A line of a batch's answer.
pub fn batch_line() -> Schema {
    Schema::Object(vec![
        field("line", COUNT),
        field("status", Schema::Whole(200, 599)),
        optional("round_id", Schema::Id),
        optional("problem", problem()),
    ])
}

/// A problem.
pub fn problem() -> Schema {
    let wrong = Schema::Object(vec![
        field("pointer", Schema::Text(0, 400)),
        field("detail", Schema::Text(1, 2000)),
        field("code", Schema::Text(1, 60)),
        field("type", Schema::Text(1, 100)),
        optional("min", REAL),
        optional("max", REAL),
    ]);
    Schema::Object(vec![
        field("type", Schema::Text(1, 100)),
        field("title", Schema::Text(1, 100)),
        field("status", Schema::Whole(400, 599)),
        field("detail", Schema::Text(1, 2000)),
        optional("instance", Schema::Text(1, 100)),
        optional("parameter", Schema::Text(0, MOST_PARAMETER)),
        optional("errors", list(wrong, 1, 100)),
    ])
}

/// A league index with its differentials.
pub fn handicap() -> Schema {
    let row = Schema::Object(vec![
        field("event_id", nullable(Schema::Id)),
        field("played_on", Schema::Date),
        field("value", Schema::Tenths(-3000, 10_000)),
        field("kind", Schema::Word(&["round", "pair", "carried"])),
        field("counts", Schema::Flag),
        field("reduction", Schema::Tenths(-3000, 3000)),
    ]);
    Schema::Object(vec![
        field("member_id", Schema::Id),
        field("league_index", nullable(league_index())),
        field("differentials", list(row, 0, usize::MAX)),
    ])
}

/// A collection that is answered whole.
pub fn whole_list(item: Schema) -> Schema {
    Schema::Object(vec![field("items", list(item, 0, usize::MAX)), field("next", nullable(Schema::Cursor))])
}

/// A carried differential.
pub fn carried_differential() -> Schema {
    with_ids(&["id", "member_id"], brought::differential_fields())
}

/// A carried result.
pub fn carried_result() -> Schema {
    with_ids(&["id", "season_id"], brought::result_fields())
}

/// A pace table.
pub fn pace() -> Schema {
    let row =
        Schema::Object(vec![field("distance_ft", REAL), field("ball_speed_mph", REAL), field("plays_like_ft", REAL)]);
    Schema::Object(vec![
        field("stimp_ft", REAL),
        field("past_hole_in", REAL),
        field("items", list(row, 1, 1000)),
        field("next", nullable(Schema::Cursor)),
    ])
}
