//! Teams and matches in a bundle.

use crate::domain::ids::{CompetitionId, EventId, FixtureId, LeagueId, SeasonId, TeamId};
use crate::storage::match_facts::{Kind, MatchFact};
use crate::storage::{Conn, StorageError, match_facts};
use crate::wire::bundle::ids::{LineUpIds, OfCompetition, OfSeason, OwnId};
use crate::wire::bundle::line::{EarlierVersion, Line, Received, Sent};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// Reads what is stored of some kinds: kind by kind, in the order of their numbers.
///
/// # Errors
/// A failed database or an unreadable row.
pub(super) async fn of_kinds(
    conn: &mut Conn,
    league: LeagueId,
    kinds: &[Kind],
) -> Result<Vec<MatchFact>, StorageError> {
    let all = match_facts::list(conn, league).await?;
    let mut found: Vec<MatchFact> = Vec::new();
    for kind in kinds {
        found.extend(all.iter().filter(|fact| fact.kind == *kind).cloned());
    }
    Ok(found)
}

/// Makes the line of a stored fact.
///
/// # Errors
/// A body that is not of its kind.
pub(super) fn line(fact: &MatchFact, versions: Vec<EarlierVersion>) -> Result<Line, StorageError> {
    let received = Received { seq: Some(fact.seq), received_at: Some(fact.received_at) };
    let of_competition = CompetitionId(fact.of);
    Ok(match fact.kind {
        Kind::Team => {
            let ids = OfSeason { id: TeamId(fact.id), season_id: fact.season };
            Line::Team(Sent { ids, body: fact.body()?, received, versions })
        }
        Kind::LineUp => {
            let event_id = fact.event.unwrap_or(EventId(Uuid::nil()));
            let ids = LineUpIds { id: fact.id, event_id, team_id: TeamId(fact.of) };
            Line::LineUp(Sent { ids, body: fact.body()?, received, versions })
        }
        Kind::Fixture => {
            let ids = OfCompetition { id: FixtureId(fact.id), competition_id: of_competition };
            Line::Fixture(Sent { ids, body: fact.body()?, received, versions })
        }
        Kind::Adjustment => {
            let ids = OfCompetition { id: fact.id, competition_id: of_competition };
            Line::Adjustment(Sent { ids, body: fact.body()?, received, versions })
        }
        Kind::Concession => {
            Line::Concession(Sent { ids: OwnId { id: fact.id }, body: fact.body()?, received, versions })
        }
    })
}

/// A line of teams or matches on its way into a store.
pub(super) struct Coming<'l> {
    pub kind: Kind,
    pub id: Uuid,
    /// What it belongs to.
    pub of: Uuid,
    pub event: Option<EventId>,
    /// What tells the season: a season, an event, a competition or a fixture.
    pub season_from: Uuid,
    pub text: String,
    pub received: &'l Received,
    pub versions: &'l [EarlierVersion],
}

impl<'l> Coming<'l> {
    /// Takes a line apart; `None` for any other kind of line.
    pub fn of(line: &'l Line) -> Option<Self> {
        fn text(body: &impl Serialize) -> String {
            serde_json::to_string(body).expect("facts are plain values with text keys")
        }
        Some(match line {
            Line::Team(Sent { ids, body, received, versions }) => Self {
                kind: Kind::Team,
                id: ids.id.0,
                of: ids.season_id.0,
                event: None,
                season_from: ids.season_id.0,
                text: text(body),
                received,
                versions,
            },
            Line::LineUp(Sent { ids, body, received, versions }) => Self {
                kind: Kind::LineUp,
                id: ids.id,
                of: ids.team_id.0,
                event: Some(ids.event_id),
                season_from: ids.event_id.0,
                text: text(body),
                received,
                versions,
            },
            Line::Fixture(Sent { ids, body, received, versions }) => Self {
                kind: Kind::Fixture,
                id: ids.id.0,
                of: ids.competition_id.0,
                event: None,
                season_from: ids.competition_id.0,
                text: text(body),
                received,
                versions,
            },
            Line::Adjustment(Sent { ids, body, received, versions }) => Self {
                kind: Kind::Adjustment,
                id: ids.id,
                of: ids.competition_id.0,
                event: None,
                season_from: ids.competition_id.0,
                text: text(body),
                received,
                versions,
            },
            Line::Concession(Sent { ids, body, received, versions }) => Self {
                kind: Kind::Concession,
                id: ids.id,
                of: body.fixture_id.0,
                event: None,
                season_from: body.fixture_id.0,
                text: text(body),
                received,
                versions,
            },
            _ => return None,
        })
    }

    /// Makes the fact that is stored.
    pub fn fact(
        self,
        league: LeagueId,
        season: SeasonId,
        version: i64,
        (seq, received_at): (i64, Timestamp),
    ) -> MatchFact {
        let Self { kind, id, of, event, text, .. } = self;
        MatchFact { league, id, season, kind, of, event, version, seq, received_at, text }
    }
}
