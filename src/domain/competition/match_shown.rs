//! Fixtures and tables of matches as they are shown.

use super::balls::{Ball, MatchHoleSeen, MatchSeen};
use super::fixture::{MatchEnd, Points};
use super::match_table::{Fixtures, MatchRow};
use super::meetings::FixtureSeen;
use super::table::{ResultCell, StandingsRow};
use crate::exact::Value;
use crate::facts::{Competitor, Contender, Fixture, SideWord};
use crate::ids::{CompetitionId, EventId, FixtureId, MemberId, TeamId};
use crate::season::book::Book;
use serde::Serialize;

/// A member or a team, by name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SideShown {
    pub member_id: Option<MemberId>,
    pub team_id: Option<TeamId>,
    /// Who it is, or how that is decided.
    pub display_name: String,
    /// The fixture whose winner it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub winner_of: Option<FixtureId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loser_of: Option<FixtureId>,
}

impl SideShown {
    /// Shows a side of a fixture: `is` who stands on it, as far as that is known.
    fn of_contender(book: &Book, contender: Contender, is: Option<Competitor>) -> Self {
        let (winner_of, loser_of) = match contender {
            Contender::Named(_) => (None, None),
            Contender::WinnerOf { winner_of } => (Some(winner_of), None),
            Contender::LoserOf { loser_of } => (None, Some(loser_of)),
        };
        let known = is.map(|is| Self::of(book, is));
        let waits = || {
            let decides = winner_of.or(loser_of).and_then(|id| book.fixtures.get(&id)).map(|(_, fixture)| fixture);
            let event =
                || book.nights.get(&decides?.event_id).map(|night| format!("a fixture of {}", night.event.name));
            let name = decides.and_then(|fixture| fixture.name.clone()).or_else(event);
            let word = if winner_of.is_some() { "Winner" } else { "Loser" };
            let display_name = format!("{word} of {}", name.as_deref().unwrap_or("another fixture"));
            Self { member_id: None, team_id: None, display_name, winner_of, loser_of }
        };
        Self { winner_of, loser_of, ..known.unwrap_or_else(waits) }
    }

    pub fn of(book: &Book, side: Competitor) -> Self {
        let (member_id, team_id, name) = match side {
            Competitor::Member { member_id } => {
                (Some(member_id), None, book.members.get(&member_id).map(|member| &member.display_name))
            }
            Competitor::Team { team_id } => (None, Some(team_id), book.teams.get(&team_id).map(|(_, team)| &team.name)),
        };
        Self { member_id, team_id, display_name: name.cloned().unwrap_or_default(), winner_of: None, loser_of: None }
    }
}

/// The points of both sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct PointsShown {
    pub a: Value,
    pub b: Value,
}

impl From<Points> for PointsShown {
    fn from(points: Points) -> Self {
        Self { a: Value(points.a), b: Value(points.b) }
    }
}

/// A player of a match.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlayerShown {
    /// `None`: the team has nobody for this match.
    pub member_id: Option<MemberId>,
    pub display_name: String,
    /// The member whose place the player takes.
    pub substitute_for: Option<MemberId>,
    pub presence: &'static str,
    pub playing_handicap: Option<i32>,
    /// Strokes given in this match, hole by hole.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub received: Vec<i32>,
    /// Strokes taken, hole by hole.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub gross: Vec<Option<u8>>,
}

/// A hole of a match.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HoleShown {
    pub number: u8,
    /// What competes for the side named first.
    pub a: Option<Value>,
    pub b: Option<Value>,
    pub winner: Option<SideWord>,
    pub played: bool,
    pub conceded_by: Option<SideWord>,
}

/// A match as it ended or stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MatchShown {
    pub a: Vec<PlayerShown>,
    pub b: Vec<PlayerShown>,
    /// As players write it, such as `3&2`, `1 up`, `tied`, `in progress`.
    pub result: String,
    pub winner: Option<SideWord>,
    /// Holes that counted so far.
    pub through: usize,
    /// Holes that side A is ahead; negative when B leads.
    pub lead: i32,
    pub points: PointsShown,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holes: Vec<HoleShown>,
}

/// A fixture as it stands: a row of a board, or with its holes a page of its own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FixtureShown {
    pub fixture_id: FixtureId,
    pub competition_id: CompetitionId,
    pub event_id: EventId,
    pub name: Option<String>,
    /// `None`: the other side has a bye.
    pub a: Option<SideShown>,
    pub b: Option<SideShown>,
    pub bay: Option<String>,
    pub slot: Option<String>,
    pub state: &'static str,
    /// The side that has a walk-over.
    pub to: Option<SideWord>,
    /// The side that goes on.
    pub goes_on: Option<SideWord>,
    /// The side that an organizer named to go on.
    #[serde(skip)]
    pub goes_on_by_word: Option<SideWord>,
    pub reason: Option<String>,
    /// Gross scores on extra holes.
    pub extra: Vec<[Option<u8>; 2]>,
    pub matches: Vec<MatchShown>,
    pub points: Option<PointsShown>,
    /// Those of the lower total.
    pub total: Option<PointsShown>,
}

impl FixtureShown {
    /// Shows a fixture, `with_holes` or without.
    pub fn of(
        book: &Book,
        competition_id: CompetitionId,
        fixture: &Fixture,
        seen: &FixtureSeen,
        with_holes: bool,
    ) -> Self {
        let matches = seen.matches.iter().map(|(seen, end)| MatchShown::of(book, seen, end, with_holes));
        Self {
            fixture_id: seen.id,
            competition_id,
            event_id: seen.event,
            name: fixture.name.clone(),
            a: fixture.a.map(|side| SideShown::of_contender(book, side, seen.a)),
            b: fixture.b.map(|side| SideShown::of_contender(book, side, seen.b)),
            bay: fixture.bay.clone(),
            slot: fixture.slot.clone(),
            state: seen.state.word(),
            to: fixture.to,
            goes_on: seen.goes_on.map(SideWord::from),
            goes_on_by_word: fixture.goes_on,
            reason: fixture.reason.clone(),
            extra: fixture.extra.iter().map(|hole| hole.map(|strokes| strokes.map(|strokes| strokes.get()))).collect(),
            matches: matches.collect(),
            points: seen.points.map(PointsShown::from),
            total: seen.points.map(|_| seen.total.into()),
        }
    }
}

impl MatchShown {
    fn of(book: &Book, seen: &MatchSeen, end: &MatchEnd, with_holes: bool) -> Self {
        let players = |balls: &[Ball]| balls.iter().map(|ball| PlayerShown::of(book, ball, with_holes)).collect();
        Self {
            a: players(&seen.a),
            b: players(&seen.b),
            result: end.ended.to_string(),
            winner: end.winner.map(SideWord::from),
            through: end.through,
            lead: end.lead,
            points: end.points.into(),
            holes: if with_holes { seen.holes.iter().map(HoleShown::of).collect() } else { Vec::new() },
        }
    }
}

impl PlayerShown {
    fn of(book: &Book, ball: &Ball, with_holes: bool) -> Self {
        let name = ball.seat.member.and_then(|member| book.members.get(&member));
        Self {
            member_id: ball.seat.member,
            display_name: name.map(|member| member.display_name.clone()).unwrap_or_default(),
            substitute_for: ball.seat.substitute_for,
            presence: ball.presence.word(),
            playing_handicap: ball.playing_handicap,
            received: if with_holes { ball.received.clone() } else { Vec::new() },
            gross: if with_holes { ball.gross.clone() } else { Vec::new() },
        }
    }
}

impl HoleShown {
    fn of(seen: &MatchHoleSeen) -> Self {
        Self {
            number: seen.number.get(),
            a: seen.a.map(Value),
            b: seen.b.map(Value),
            winner: seen.winner.map(SideWord::from),
            played: seen.is_played,
            conceded_by: seen.conceded_by.map(SideWord::from),
        }
    }
}

/// A row of a table of matches.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MatchTableRow {
    /// `None`: not ranked.
    pub position: Option<u32>,
    /// Whether others share it.
    pub tied: bool,
    #[serde(flatten)]
    pub side: SideShown,
    /// Events in which a fixture was played.
    pub events_played: u32,
    /// Values that count.
    pub events_counted: u32,
    pub total: Option<Value>,
    /// In the order of events.
    pub results: Vec<ResultCell>,
    pub fixtures: Fixtures,
    pub points_for: Value,
    pub points_against: Value,
}

impl MatchTableRow {
    pub fn of(book: &Book, row: MatchRow) -> Self {
        let cell = |result: super::match_table::EventValue| ResultCell {
            event_id: result.event,
            event_ids: Vec::new(),
            value: Some(Value(result.value)),
            counted: result.counted,
            carried: result.label,
            place: None,
        };
        Self {
            position: row.position,
            tied: row.tied,
            side: SideShown::of(book, row.competitor),
            events_played: row.events_played,
            events_counted: row.events_counted,
            total: row.total.map(Value),
            results: row.results.into_iter().map(cell).collect(),
            fixtures: row.fixtures,
            points_for: Value(row.points_for),
            points_against: Value(row.points_against),
        }
    }
}

/// The rows of a table: of cards, or of matches.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum TableRows {
    Cards(Vec<StandingsRow>),
    Matches(Vec<MatchTableRow>),
}

impl TableRows {
    /// Returns the rows of a table of cards; none of any other.
    pub fn cards(&self) -> &[StandingsRow] {
        if let Self::Cards(rows) = self { rows } else { &[] }
    }

    /// Returns the rows of a table of matches; none of any other.
    pub fn matches(&self) -> &[MatchTableRow] {
        if let Self::Matches(rows) = self { rows } else { &[] }
    }

    /// Returns the values of all rows.
    pub fn cells(&self) -> impl Iterator<Item = &ResultCell> {
        let of_cards = self.cards().iter().flat_map(|row| &row.results);
        of_cards.chain(self.matches().iter().flat_map(|row| &row.results))
    }
}
