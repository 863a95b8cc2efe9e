//! The lines of a bundle: each is a body with its id, its parents' ids and when it came in.

use crate::domain::facts::{
    Adjustment, Answer, CarriedDifferential, CarriedResult, Competition, Conceded, Course, Decision, Event, EventEntry,
    FinalRecord, Fixture, HandicapAct, League, LineUp, Member, Query, Round, Season, Setup, SideContest, Team,
};
use crate::domain::ids::{CompetitionId, CourseId, EventId, FixtureId, MemberId, RoundId, SeasonId, TeamId};
use crate::domain::units::Feet;
use crate::wire::body::league::{self, league_index};
use crate::wire::body::{
    brought, competition, course, event, handicap_act, life, matches, round, season, setup, side_contest,
};
use crate::wire::bundle::finding;
use crate::wire::bundle::finding::{FirstOpinion, Opened, SaidOfFinding};
use crate::wire::bundle::ids::{
    AnswerIds, LeagueIds, LineUpIds, MemberIds, OfCompetition, OfEvent, OfFinding, OfLeague, OfMember, OfRound,
    OfSeason, OwnId, QueryIds, RulingIds, SetupIds,
};
use crate::wire::json::{Node, Unreadable};
use crate::wire::schema::{Field, FieldError, Schema, field, list, nullable, optional};
use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;
use uuid::Uuid;

/// When a raw fact came in: its number in the league and the time. Absent in a bundle: line order, on time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Received {
    /// The league-wide number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seq: Option<i64>,
    /// The time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received_at: Option<Timestamp>,
}

/// An earlier version of something that was edited: when it came in and its body as it was.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EarlierVersion {
    /// The number of the version, from 1.
    pub version: i64,
    /// When it came in.
    #[serde(flatten)]
    pub received: Received,
    /// Why it was replaced, where somebody said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// The body as it was.
    pub body: serde_json::Value,
}

/// A raw fact with its ids, its body and when it came in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sent<Ids, Body> {
    /// Its own id and its parents'.
    #[serde(flatten)]
    pub ids: Ids,
    /// What it says.
    #[serde(flatten)]
    pub body: Body,
    /// When it came in.
    #[serde(flatten)]
    pub received: Received,
    /// Earlier versions of something that was edited, oldest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub versions: Vec<EarlierVersion>,
}

impl<Ids: DeserializeOwned, Body: DeserializeOwned> Sent<Ids, Body> {
    fn read(node: &Node<'_>) -> Result<Self, Unreadable> {
        Ok(Self {
            ids: node.decode()?,
            body: node.decode()?,
            received: node.decode()?,
            versions: node.decode::<Versions>()?.versions,
        })
    }
}

/// How a round came in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CameIn {
    /// The softening radius that was declared on the set-up when the round came in.
    #[serde(default)]
    pub declared_radius_ft: Option<Feet>,
    /// Who sent it, where that is known.
    #[serde(default)]
    pub sent_by: Option<MemberId>,
    /// Another player handed it in.
    #[serde(default)]
    pub proposed: bool,
    /// It came in after closing.
    #[serde(default)]
    pub late: bool,
}

/// A round with how it came in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DeclaredRound {
    /// How it came in.
    #[serde(flatten)]
    pub came_in: CameIn,
    /// The round.
    #[serde(flatten)]
    pub round: Round,
}

/// A round taken back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Withdrawal {
    /// Why.
    #[serde(default)]
    pub reason: Option<String>,
}

/// A ruling on rounds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RuledRounds {
    /// The finding that it answers, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finding_id: Option<Uuid>,
    /// What was decided.
    pub decision: Decision,
    /// Why.
    pub reason: String,
    /// The rounds that it touches.
    pub round_ids: Vec<RoundId>,
    /// The version that a correction replaced.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaced_version: Option<i64>,
}

/// A member's entry in an event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entrant {
    /// The member.
    pub member_id: MemberId,
    /// When and where.
    #[serde(flatten)]
    pub entry: EventEntry,
}

/// Nothing beside the ids.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Nothing {}

/// One line of a bundle, in the order in which the kinds stand there.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Line {
    /// The league.
    League(Sent<LeagueIds, League>),
    /// A member.
    Member(Sent<MemberIds, Member>),
    /// A set-up.
    Setup(Sent<SetupIds, Setup>),
    /// A course.
    Course(Sent<OfLeague<CourseId>, Course>),
    /// A season.
    Season(Sent<OfLeague<SeasonId>, Season>),
    /// An event.
    Event(Sent<OfSeason<EventId>, Event>),
    /// A competition of a season.
    Competition(Box<Sent<OfSeason<CompetitionId>, Competition>>),
    /// A team of a season.
    Team(Sent<OfSeason<TeamId>, Team>),
    /// A round.
    Round(Box<Sent<OfEvent<RoundId>, DeclaredRound>>),
    /// A differential that a member brought along.
    CarriedDifferential(Sent<OfMember, CarriedDifferential>),
    /// A value that a member brought along.
    CarriedResult(Sent<OfSeason<Uuid>, CarriedResult>),
    /// A waiting card taken in.
    Acceptance(Sent<OfRound, Nothing>),
    /// A member's word that another's round was played as handed in.
    Attestation(Sent<OfRound, Nothing>),
    /// A finding that opened.
    FindingOpened(Box<Sent<OfSeason<Uuid>, Opened>>),
    /// The word of somebody concerned.
    Statement(Sent<OfFinding, SaidOfFinding>),
    /// An organizer's wish for what would settle a finding.
    Request(Sent<OfFinding, SaidOfFinding>),
    /// An organizer stepping aside.
    Recusal(Sent<OfFinding, SaidOfFinding>),
    /// What an organizer thought of a finding before knowing whom it is about.
    FirstOpinion(Sent<OfFinding, FirstOpinion>),
    /// A ruling on rounds.
    Ruling(Sent<RulingIds, RuledRounds>),
    /// A round taken back.
    Withdrawal(Sent<OfRound, Withdrawal>),
    /// Who plays in an event.
    Entry(Sent<OfEvent<Uuid>, Entrant>),
    /// A query about a round.
    Query(Sent<QueryIds, Query>),
    /// An answer to a query.
    Answer(Sent<AnswerIds, Answer>),
    /// Who plays for a team in an event.
    LineUp(Sent<LineUpIds, LineUp>),
    /// Two sides that meet in an event.
    Fixture(Sent<OfCompetition<FixtureId>, Fixture>),
    /// Points that an organizer gave or took.
    Adjustment(Sent<OfCompetition<Uuid>, Adjustment>),
    /// A hole or a match that one side gave to the other.
    Concession(Sent<OwnId, Conceded>),
    /// What an organizer decided about a member's index.
    HandicapAct(Sent<OfMember, DecidedOnIndex>),
    /// A side contest of an event.
    SideContest(Sent<OfEvent<Uuid>, SideContest>),
    /// What a final event keeps.
    EventKept(Box<Sent<OfEvent<Uuid>, FinalRecord>>),
}

impl Line {
    /// Writes the line as JSON, without its line break.
    pub fn to_json(&self) -> String {
        serde_json::to_string(self).expect("facts are plain values with text keys")
    }

    /// Reads a line.
    ///
    /// # Errors
    /// Every field that is wrong, with its pointer.
    pub fn read(text: &[u8]) -> Result<Line, Vec<FieldError>> {
        let whole =
            |code, detail: String| vec![FieldError { pointer: String::new(), detail, code, min: None, max: None }];
        let node = Node::parse(text).map_err(|malformed| whole("malformed", malformed.0))?;
        let errors = LINE.check(&node);
        if !errors.is_empty() {
            return Err(errors);
        }
        Self::decode(&node).map_err(|unreadable| whole("unreadable", unreadable.to_string()))
    }

    fn decode(node: &Node<'_>) -> Result<Line, Unreadable> {
        Ok(match node.get("kind").and_then(Node::as_text).unwrap_or_default() {
            "league" => Line::League(Sent::read(node)?),
            "member" => Line::Member(Sent::read(node)?),
            "setup" => Line::Setup(Sent::read(node)?),
            "course" => Line::Course(Sent::read(node)?),
            "season" => Line::Season(Sent::read(node)?),
            "event" => Line::Event(Sent::read(node)?),
            "competition" => Line::Competition(Box::new(Sent::read(node)?)),
            "team" => Line::Team(Sent::read(node)?),
            "round" => Line::Round(Box::new(Sent {
                ids: node.decode()?,
                body: DeclaredRound { came_in: node.decode()?, round: node.decode()? },
                received: node.decode()?,
                versions: node.decode::<Versions>()?.versions,
            })),
            "carried_differential" => Line::CarriedDifferential(Sent::read(node)?),
            "carried_result" => Line::CarriedResult(Sent::read(node)?),
            "acceptance" => Line::Acceptance(Sent::read(node)?),
            "attestation" => Line::Attestation(Sent::read(node)?),
            "finding_opened" => Line::FindingOpened(Box::new(Sent::read(node)?)),
            "statement" => Line::Statement(Sent::read(node)?),
            "request" => Line::Request(Sent::read(node)?),
            "recusal" => Line::Recusal(Sent::read(node)?),
            "first_opinion" => Line::FirstOpinion(Sent::read(node)?),
            "ruling" => Line::Ruling(Sent::read(node)?),
            "entry" => Line::Entry(Sent::read(node)?),
            "query" => Line::Query(Sent::read(node)?),
            "answer" => Line::Answer(Sent::read(node)?),
            "withdrawal" => Line::Withdrawal(Sent::read(node)?),
            "line_up" => Line::LineUp(Sent::read(node)?),
            "fixture" => Line::Fixture(Sent::read(node)?),
            "adjustment" => Line::Adjustment(Sent::read(node)?),
            "concession" => Line::Concession(Sent::read(node)?),
            "handicap_act" => Line::HandicapAct(Sent::read(node)?),
            "side_contest" => Line::SideContest(Sent::read(node)?),
            _ => Line::EventKept(Box::new(Sent::read(node)?)),
        })
    }
}

/// What an organizer decided about a member's index; it has a kind of its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DecidedOnIndex {
    pub act: HandicapAct,
}

#[derive(Deserialize)]
struct Versions {
    #[serde(default)]
    versions: Vec<EarlierVersion>,
}

/// The shape of a line.
pub static LINE: LazyLock<Schema> = LazyLock::new(|| {
    let kind = |name: &'static str, ids: Vec<Field>, body: Vec<Field>| {
        let version = Schema::Object(vec![
            field("version", Schema::Whole(1, i64::MAX)),
            optional("seq", Schema::Whole(0, i64::MAX)),
            optional("received_at", Schema::Instant),
            optional("reason", nullable(Schema::Text(0, 2000))),
            field("body", Schema::Anything),
        ]);
        let around = vec![
            optional("seq", Schema::Whole(0, i64::MAX)),
            optional("received_at", Schema::Instant),
            optional("versions", list(version, 0, usize::MAX)),
        ];
        (name, ids.into_iter().chain(body).chain(around).collect::<Vec<Field>>())
    };
    let id = |name| field(name, Schema::Id);
    let said_ids = || vec![id("id"), id("finding_id"), optional("member_id", nullable(Schema::Id))];
    let mut member = league::member_fields();
    member.push(field("role", Schema::Word(&["player", "scorer", "organizer"])));
    member.push(league::earlier_starts());
    let mut round = round::round_fields();
    round.retain(|field| field.name != "member_id");
    Schema::ByKind(vec![
        kind("league", vec![id("id"), optional("evidence_seq", Schema::Whole(0, i64::MAX))], league::league_fields()),
        kind("member", vec![id("id"), id("league_id"), optional("erased", Schema::Flag)], member),
        kind(
            "setup",
            vec![id("id"), id("league_id"), optional("member_id", nullable(Schema::Id))],
            setup::setup_fields(),
        ),
        kind("course", vec![id("id"), id("league_id")], course::course_fields()),
        kind("season", vec![id("id"), id("league_id")], season::season_fields()),
        kind("event", vec![id("id"), id("season_id")], event::event_fields()),
        kind("competition", vec![id("id"), id("season_id")], competition::competition_fields()),
        kind("team", vec![id("id"), id("season_id")], matches::team_fields()),
        kind(
            "round",
            vec![
                id("id"),
                id("event_id"),
                id("member_id"),
                optional("declared_radius_ft", nullable(Schema::Real { min: Feet::MIN, max: Feet::MAX, above: true })),
                optional("sent_by", nullable(Schema::Id)),
                optional("proposed", Schema::Flag),
                optional("late", Schema::Flag),
            ],
            round,
        ),
        kind("finding_opened", vec![id("id"), id("season_id")], finding::opened_fields()),
        kind("statement", said_ids(), finding::said_fields()),
        kind("request", said_ids(), finding::said_fields()),
        kind("recusal", said_ids(), finding::said_fields()),
        kind("first_opinion", said_ids(), finding::noted_opinion_fields()),
        kind("acceptance", vec![id("id"), id("round_id"), optional("member_id", nullable(Schema::Id))], vec![]),
        kind("attestation", vec![id("id"), id("round_id"), id("member_id")], vec![]),
        kind(
            "ruling",
            vec![id("id"), optional("member_id", nullable(Schema::Id))],
            vec![
                field("decision", Schema::Word(Decision::WORDS)),
                field("reason", Schema::Text(0, 2000)),
                field("round_ids", list(Schema::Id, 0, 10_000)),
                optional("finding_id", nullable(Schema::Id)),
                optional("replaced_version", nullable(Schema::Whole(1, i64::MAX))),
            ],
        ),
        kind(
            "withdrawal",
            vec![id("id"), id("round_id"), optional("member_id", nullable(Schema::Id))],
            vec![optional("reason", nullable(Schema::Text(0, 2000)))],
        ),
        kind("entry", vec![id("id"), id("event_id"), id("member_id")], life::event_entry_fields()),
        kind("query", vec![id("id"), id("round_id"), id("member_id")], life::query_fields()),
        kind("answer", vec![id("id"), id("query_id"), id("member_id")], life::answer_fields()),
        kind("carried_differential", vec![id("id"), id("member_id")], brought::differential_fields()),
        kind("handicap_act", vec![id("id"), id("member_id")], vec![field("act", handicap_act::act())]),
        kind("carried_result", vec![id("id"), id("season_id")], brought::result_fields()),
        kind("line_up", vec![id("id"), id("event_id"), id("team_id")], matches::line_up_fields()),
        kind("fixture", vec![id("id"), id("competition_id")], matches::fixture_fields()),
        kind("adjustment", vec![id("id"), id("competition_id")], matches::adjustment_fields()),
        kind("concession", vec![id("id"), id("fixture_id")], matches::concession_fields()),
        kind("side_contest", vec![id("id"), id("event_id")], side_contest::contest_fields()),
        kind("event_kept", vec![id("id"), id("event_id")], kept_fields()),
    ])
});

fn kept_fields() -> Vec<Field> {
    let member = || {
        Schema::Object(vec![
            field("member_id", Schema::Id),
            field("flight", nullable(Schema::Name(40))),
            field("league_index", nullable(league_index())),
            field("played_off", nullable(league::index())),
        ])
    };
    let mut kept = competition::competition_fields();
    kept.push(field("competition_id", Schema::Id));
    let mut fields = event::event_fields();
    fields.retain(|field| field.name == "playing_conditions");
    fields.iter_mut().for_each(|field| field.optional = false);
    fields.push(field("tees", list(Schema::Named("Tee", &course::TEE), 1, 1000)));
    fields.push(field("competitions", list(Schema::Object(kept), 0, competition::MOST)));
    fields.push(field("members", list(member(), 0, 1_000_000)));
    fields.push(optional("absent", list(member(), 0, 1_000_000)));
    let side = || nullable(matches::side());
    let fixture = vec![field("fixture_id", Schema::Id), field("a", side()), field("b", side())];
    fields.push(optional("fixtures", list(Schema::Object(fixture), 0, matches::MOST_FIXTURES * competition::MOST)));
    fields
}
