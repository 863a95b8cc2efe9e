//! The shapes of what is answered about findings.

use crate::domain::facts::{Decision, Opinion};
use crate::wire::body::findings;
use crate::wire::body::league::league_index;
use crate::wire::body::shapes::{COUNT, REAL};
use crate::wire::body::views::moves;
use crate::wire::schema::{Schema, field, list, nullable, optional};

/// Something that was said of a finding.
pub fn finding_word() -> Schema {
    Schema::Object(vec![
        field("id", Schema::Id),
        field("member_id", nullable(Schema::Id)),
        field("text", Schema::Text(0, 10_000)),
        optional("opinion", Schema::Word(Opinion::WORDS)),
        optional("due_at", Schema::Instant),
        field("received_at", Schema::Instant),
    ])
}

/// Somebody whom a finding concerns.
pub fn finding_concerned() -> Schema {
    Schema::Object(vec![
        field("member_id", Schema::Id),
        field("told_at", nullable(Schema::Instant)),
        field("told_by", nullable(Schema::Id)),
        field("seen_at", nullable(Schema::Instant)),
        field("has_answered", Schema::Flag),
    ])
}

/// A ruling on a finding.
pub fn finding_ruling() -> Schema {
    let index = || nullable(league_index());
    let index_move = Schema::Object(vec![field("member_id", Schema::Id), field("from", index()), field("to", index())]);
    Schema::Object(vec![
        field("id", nullable(Schema::Id)),
        field("member_id", nullable(Schema::Id)),
        field("decision", Schema::Word(Decision::ON_FINDINGS)),
        field("round_ids", list(Schema::Id, 0, usize::MAX)),
        field("reason", Schema::Text(1, 2000)),
        field("received_at", Schema::Instant),
        optional("moves", moves()),
        optional("handicaps", list(index_move, 0, usize::MAX)),
    ])
}

/// A finding.
pub fn finding() -> Schema {
    let evidence = Schema::Object(vec![
        field("factor_log10", REAL),
        field("threshold_log10", REAL),
        field("now_log10", REAL),
        field("putts", COUNT),
        field("rounds", COUNT),
        field("false_alarm_pct", REAL),
    ]);
    let position = Schema::Object(vec![
        field("member_id", Schema::Id),
        field("from", nullable(COUNT)),
        field("to", nullable(COUNT)),
    ]);
    let effect = Schema::Object(vec![
        field("strokes_per_round", nullable(REAL)),
        field("low", nullable(REAL)),
        field("high", nullable(REAL)),
        optional("positions", list(position, 0, usize::MAX)),
    ]);
    let explained = Schema::Object(vec![
        field("finding_ids", list(Schema::Id, 1, usize::MAX)),
        field("awaits_ruling", Schema::Flag),
        field("rounds", COUNT),
        field("putts", COUNT),
        field("left_rounds", COUNT),
        field("left_log10", REAL),
    ]);
    Schema::Object(vec![
        field("id", Schema::Id),
        field("kind", findings::kinds()),
        field("subject", Schema::Anything),
        field("season_id", Schema::Id),
        field("state", Schema::Word(&["open", "answered", "ruled"])),
        field("opened_at_event_id", Schema::Id),
        field("opened_at", Schema::Instant),
        field("told_at", nullable(Schema::Instant)),
        field("seen_at", nullable(Schema::Instant)),
        field("answer_by", nullable(Schema::Instant)),
        field("rounds", list(Schema::Id, 0, usize::MAX)),
        field("evidence", evidence),
        field("explained_by", nullable(explained)),
        field("summary", Schema::Text(1, 2000)),
        field("reasons", list(Schema::Text(1, 2000), 0, usize::MAX)),
        field("nights", nullable(list(Schema::Date, 0, usize::MAX))),
        field("picture", Schema::Anything),
        field("effect", nullable(effect)),
        field("concerned", list(finding_concerned(), 0, usize::MAX)),
        field("statements", list(finding_word(), 0, usize::MAX)),
        field("requests", list(finding_word(), 0, usize::MAX)),
        field("recusals", list(finding_word(), 0, usize::MAX)),
        field("rulings", list(finding_ruling(), 0, usize::MAX)),
    ])
}
