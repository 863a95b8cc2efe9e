//! What is answered: raw facts with their ids and what was derived from them.

use crate::domain::competition::allowance::Source;
use crate::domain::competition::ball::{ball, shown};
use crate::domain::competition::ranking::{part, places};
use crate::domain::exact::Value;
use crate::domain::facts::beside::{beside_others, none_ranks};
use crate::domain::facts::competition::Meeting;
use crate::domain::facts::{
    Competition, Course, Event, EventState, Fault, League, Member, Outcome, Role, Round, Rules, Season, Setup,
};
use crate::domain::ids::{
    ClientRoundId, CompetitionId, CourseId, EventId, LeagueId, MemberId, RoundId, SeasonId, SetupId,
};
use crate::domain::putting::sums::six_decimals;
use crate::domain::rule::Rule;
use crate::domain::season::{Book, Figures, Night, RoundState};
use crate::domain::units::{AllowancePct, Tenths};
use crate::league::round::marked::MarkedHoles;
use crate::storage::documents::Document;
use crate::storage::leagues::StoredLeague;
use crate::storage::members::StoredMember;
use crate::storage::rounds::RoundRow;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A page of a collection.
#[derive(Debug, Serialize)]
pub struct Page<T> {
    /// The items.
    pub items: Vec<T>,
    /// Where the next page begins; `None`: this is the last.
    pub next: Option<String>,
}

/// A league, and what the caller is in it.
#[derive(Debug, Serialize)]
pub struct LeagueView {
    /// Its id.
    pub id: LeagueId,
    /// What was laid down.
    #[serde(flatten)]
    pub league: League,
    /// The caller's role.
    pub role: Role,
    /// The caller's record.
    pub member_id: MemberId,
}

impl LeagueView {
    /// Shows a league to one of its members.
    pub fn of(stored: &StoredLeague, role: Role, member_id: MemberId) -> Self {
        Self { id: stored.id, league: stored.league.clone(), role, member_id }
    }
}

/// A member.
#[derive(Debug, Serialize)]
pub struct MemberView {
    /// Its id.
    pub id: MemberId,
    /// Its league.
    pub league_id: LeagueId,
    /// What was laid down.
    #[serde(flatten)]
    pub member: Member,
    /// Whether an account claimed the record.
    pub has_account: bool,
    /// Whether the person was erased: such a record is not changed any more. Its name says so to scripts.
    #[serde(skip)]
    pub is_erased: bool,
}

impl From<&StoredMember> for MemberView {
    fn from(stored: &StoredMember) -> Self {
        Self {
            id: stored.id,
            league_id: stored.league,
            member: stored.member.clone(),
            has_account: stored.account.is_some(),
            is_erased: stored.is_erased,
        }
    }
}

/// A course.
#[derive(Debug, Serialize)]
pub struct CourseView {
    /// Its id.
    pub id: CourseId,
    /// Its league.
    pub league_id: LeagueId,
    /// What was laid down.
    #[serde(flatten)]
    pub course: Course,
}

impl From<Document<Course>> for CourseView {
    fn from(stored: Document<Course>) -> Self {
        Self { id: CourseId(stored.id), league_id: stored.league, course: stored.body }
    }
}

/// A set-up.
#[derive(Debug, Serialize)]
pub struct SetupView {
    /// Its id.
    pub id: SetupId,
    /// Its league.
    pub league_id: LeagueId,
    /// Its owner.
    pub member_id: Option<MemberId>,
    /// What was laid down.
    #[serde(flatten)]
    pub setup: Setup,
}

impl From<Document<Setup>> for SetupView {
    fn from(stored: Document<Setup>) -> Self {
        Self {
            id: SetupId(stored.id),
            league_id: stored.league,
            member_id: stored.parent.map(MemberId),
            setup: stored.body,
        }
    }
}

/// A season.
#[derive(Debug, Serialize)]
pub struct SeasonView {
    /// Its id.
    pub id: SeasonId,
    /// Its league.
    pub league_id: LeagueId,
    /// What was laid down.
    #[serde(flatten)]
    pub season: Season,
}

impl From<Document<Season>> for SeasonView {
    fn from(stored: Document<Season>) -> Self {
        Self { id: SeasonId(stored.id), league_id: stored.league, season: stored.body }
    }
}

/// A season as it is made.
#[derive(Clone, Debug, serde::Deserialize)]
pub struct NewSeason {
    #[serde(flatten)]
    pub season: Season,
    #[serde(default)]
    pub competitions: Vec<Competition>,
}

impl NewSeason {
    /// Returns its competitions: one of its own name where none is given.
    pub fn competitions(&self) -> Vec<Competition> {
        match self.competitions.is_empty() {
            true => vec![Competition::usual(self.season.name.clone())],
            false => self.competitions.clone(),
        }
    }
}

impl Rules for NewSeason {
    fn broken(&self) -> Vec<Fault> {
        let of_one = |(n, terms): (usize, &Competition)| {
            let none = BTreeMap::new();
            let beside =
                beside_others(CompetitionId(Uuid::nil()), terms, &self.season.flights, (|_| false, |_| false), &none);
            let faults = terms.faults().into_iter().chain(beside);
            let at = |fault: Fault| Fault { pointer: format!("/competitions/{n}{}", fault.pointer), ..fault };
            faults.map(at).collect::<Vec<_>>()
        };
        let of_competitions = self.competitions.iter().enumerate().flat_map(of_one);
        let mut faults: Vec<Fault> = self.season.faults().into_iter().chain(of_competitions).collect();
        if !self.competitions.is_empty() && none_ranks(&self.competitions) {
            let detail = "a season has at least one competition that ranks cards";
            faults.push(Fault::new("/competitions", Rule::LastCompetition, detail));
        }
        faults
    }
}

/// A season that was just made, with its competitions.
#[derive(Debug, Serialize)]
pub struct NewSeasonView {
    #[serde(flatten)]
    pub season: SeasonView,
    pub competitions: Vec<CompetitionView>,
}

#[derive(Debug, Serialize)]
pub struct CompetitionView {
    pub id: CompetitionId,
    pub season_id: SeasonId,
    /// What was laid down.
    #[serde(flatten)]
    pub terms: Competition,
    pub computed: ComputedTerms,
}

/// What follows from the terms of a competition.
#[derive(Debug, Serialize)]
pub struct ComputedTerms {
    /// The share of the course handicap that is granted.
    pub allowance_pct: AllowancePct,
    /// Who says so where the terms do not.
    pub allowance_source: Option<&'static str>,
    /// What may surprise.
    pub notes: Vec<&'static str>,
}

impl CompetitionView {
    pub fn of(id: CompetitionId, season_id: SeasonId, terms: Competition) -> Self {
        let (allowance_pct, source) = terms.allowance();
        let computed =
            ComputedTerms { allowance_pct, allowance_source: source.map(Source::name), notes: terms.notes() };
        Self { id, season_id, terms, computed }
    }
}

impl From<Document<Competition>> for CompetitionView {
    fn from(stored: Document<Competition>) -> Self {
        Self::of(CompetitionId(stored.id), SeasonId(stored.parent.unwrap_or_default()), stored.body)
    }
}

/// An event.
#[derive(Clone, Debug, Serialize)]
pub struct EventView {
    /// Its id.
    pub id: EventId,
    /// Its season.
    pub season_id: SeasonId,
    /// What was laid down; its state as it is now.
    #[serde(flatten)]
    pub event: Event,
    /// Whether the state was set by hand.
    pub state_by_hand: bool,
    /// The number of its version; scripts find it in the `ETag`.
    #[serde(skip)]
    pub version: i64,
}

impl EventView {
    /// Shows an event as it stands at `now`.
    pub fn of(stored: Document<Event>, now: Timestamp) -> Self {
        let state = stored.body.state_at(now);
        Self {
            id: EventId(stored.id),
            season_id: SeasonId(stored.parent.unwrap_or_default()),
            state_by_hand: stored.body.state.is_some(),
            version: stored.version,
            event: Event { state: Some(state), ..stored.body },
        }
    }
}

/// A round with what was worked out from it.
#[derive(Debug, Serialize)]
pub struct RoundView {
    /// Its id.
    pub id: RoundId,
    /// Its event.
    pub event_id: EventId,
    /// The sender's id for it.
    pub client_round_id: ClientRoundId,
    /// Whose it is.
    pub member_id: MemberId,
    /// What it was putted on.
    pub setup_id: Option<SetupId>,
    /// The day on which it was played.
    pub played_on: Date,
    /// How it ended.
    pub outcome: Outcome,
    /// Where it stands.
    pub state: RoundState,
    /// The number of its version.
    pub version: i64,
    /// When it first came in.
    pub received_at: Timestamp,
    /// When the card became what it is.
    #[serde(skip)]
    pub version_at: Timestamp,
    /// What was declared on the set-up when it came in.
    pub declared_radius_ft: Option<f64>,
    /// What was worked out; all of it null where the round does not count.
    #[serde(flatten)]
    pub figures: FiguresView,
    /// Its holes.
    pub holes: MarkedHoles,
}

/// The figures of a round as they are answered.
#[derive(Debug, Default, Serialize)]
pub struct FiguresView {
    /// All strokes.
    pub gross: Option<i32>,
    /// The strokes after every hole's limit.
    pub adjusted_gross: Option<i32>,
    /// The course strokes.
    pub course_handicap: Option<i32>,
    /// The playing strokes.
    pub playing_handicap: Option<i32>,
    /// The gross less the playing strokes.
    pub net: Option<i32>,
    /// Stableford points.
    pub points: Option<i32>,
    /// The round differential.
    pub score_differential: Option<Tenths>,
    /// All putts.
    pub putts: Option<u32>,
    /// Strokes gained putting.
    pub putting: PuttingView,
    /// The card in each competition.
    pub competitions: Vec<CardInCompetition>,
}

/// A round's strokes gained putting.
#[derive(Debug, Default, Serialize)]
pub struct PuttingView {
    /// Strokes gained for 18 recorded holes.
    pub strokes_gained: Option<f64>,
    /// Expected putts over the recorded holes.
    pub expected_putts: Option<f64>,
    /// Holes whose putts were recorded.
    pub recorded_holes: u32,
}

impl FiguresView {
    /// Shows a round's figures; nothing of one that does not count.
    pub fn of(book: &Book, figures: Option<&Figures>) -> Self {
        let Some(figures) = figures else { return Self::default() };
        let putting = figures.putting;
        let night = book.nights.get(&figures.event);
        let shown = night.and_then(|night| shown(book, night, &book.main_terms(night), figures));
        Self {
            gross: figures.gross,
            adjusted_gross: figures.adjusted_gross,
            course_handicap: Some(figures.course_handicap),
            playing_handicap: shown.map(|shown| shown.playing_handicap),
            net: shown.and_then(|shown| shown.net),
            points: shown.and_then(|shown| shown.points),
            score_differential: figures.differential_tenths(),
            putts: figures.card.putts,
            putting: PuttingView {
                strokes_gained: putting.gained_per_round(),
                expected_putts: (putting.recorded_holes > 0).then(|| six_decimals(putting.expected.into(), 1)),
                recorded_holes: putting.recorded_holes,
            },
            competitions: night.map(|night| CardInCompetition::of_card(book, night, figures)).unwrap_or_default(),
        }
    }

    /// Shows a round's figures with its places and values among the other cards of its event.
    pub fn among<'a>(book: &Book, round: RoundId, field: impl Iterator<Item = &'a Figures> + Clone) -> Self {
        let own = field.clone().find(|figures| figures.round == round);
        let mut shown = Self::of(book, own);
        let Some(night) = own.and_then(|own| book.nights.get(&own.event)) else { return shown };
        for competition in &mut shown.competitions {
            let placed = places(book, night, competition.competition_id, field.clone());
            if let Some(placed) = placed.iter().find(|placed| placed.figures.round == round) {
                (competition.place, competition.value) = (placed.place, placed.value.map(Value));
            }
        }
        shown
    }
}

/// A card in one competition.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CardInCompetition {
    pub competition_id: CompetitionId,
    pub playing_handicap: i32,
    /// What the card scored; `None` without a result.
    pub score: Option<Value>,
    /// The place among the cards of the event; told where one round is asked for.
    pub place: Option<u32>,
    /// What that is worth.
    pub value: Option<Value>,
}

impl CardInCompetition {
    /// Puts a card into every competition that it counts in.
    fn of_card(book: &Book, night: &Night, figures: &Figures) -> Vec<Self> {
        let in_one = |(competition_id, _): (CompetitionId, &Competition)| {
            let terms = book.terms(night, competition_id).filter(|terms| terms.counts_event(night.id))?;
            part(terms, figures.flight.as_deref())?;
            let ball = ball(book, night, terms, figures)?;
            let has_score = matches!(terms.meeting, Meeting::Field {});
            Some(Self {
                competition_id,
                playing_handicap: ball.given.playing_handicap,
                score: ball.score.filter(|_| has_score).map(Value),
                place: None,
                value: None,
            })
        };
        book.competitions_of(night.season).into_iter().filter_map(in_one).collect()
    }
}

impl RoundView {
    /// Shows a round.
    pub fn of(row: &RoundRow, round: Round, figures: FiguresView) -> Self {
        Self {
            id: row.id,
            event_id: row.event,
            client_round_id: row.client_round_id,
            member_id: row.member,
            setup_id: row.setup,
            played_on: row.played_on,
            outcome: row.outcome,
            state: row.state,
            version: row.version,
            received_at: row.received_at,
            version_at: row.version_at,
            declared_radius_ft: row.declared_radius_ft,
            figures,
            holes: MarkedHoles::of(round.holes, row.declared_radius_ft),
        }
    }
}

/// A round in a list: its card apart.
#[derive(Debug, Serialize)]
pub struct RoundListed {
    /// Its id.
    pub id: RoundId,
    /// Its event.
    pub event_id: EventId,
    /// Whose it is.
    pub member_id: MemberId,
    /// Where it stands.
    pub state: RoundState,
    /// How it ended.
    pub outcome: Outcome,
    /// The day on which it was played.
    pub played_on: Date,
    /// When it came in.
    pub received_at: Timestamp,
    /// What was worked out.
    #[serde(flatten)]
    pub figures: FiguresView,
}

impl RoundListed {
    /// Shows a round without its card.
    pub fn of(row: &RoundRow, figures: FiguresView) -> Self {
        Self {
            id: row.id,
            event_id: row.event,
            member_id: row.member,
            state: row.state,
            outcome: row.outcome,
            played_on: row.played_on,
            received_at: row.received_at,
            figures,
        }
    }
}

/// The state of an event in one word, for messages.
pub fn state_word(state: EventState) -> &'static str {
    match state {
        EventState::Scheduled => "is not open yet",
        EventState::Open => "is open",
        EventState::Closed => "is closed",
        EventState::Final => "is final",
    }
}
