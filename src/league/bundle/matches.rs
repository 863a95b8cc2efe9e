//! Teams, matches and side contests in a bundle.

use crate::domain::ids::{CompetitionId, EventId, FixtureId, LeagueId, SeasonId, TeamId};
use crate::storage::season_facts::{Kind, SeasonFact};
use crate::storage::{Conn, StorageError, season_facts};
use crate::wire::bundle::ids::{LineUpIds, OfCompetition, OfEvent, OfSeason, OwnId};
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
) -> Result<Vec<SeasonFact>, StorageError> {
    let all = season_facts::list(conn, league).await?;
    let mut found: Vec<SeasonFact> = Vec::new();
    for kind in kinds {
        found.extend(all.iter().filter(|fact| fact.kind == *kind).cloned());
    }
    Ok(found)
}

/// Makes the line of a stored fact.
///
/// # Errors
/// A body that is not of its kind, or a line-up without an event.
pub(super) fn line(fact: &SeasonFact, versions: Vec<EarlierVersion>) -> Result<Line, StorageError> {
    let received = Received { seq: Some(fact.seq), received_at: Some(fact.received_at) };
    let of_competition = CompetitionId(fact.of);
    Ok(match fact.kind {
        Kind::Team => {
            let ids = OfSeason { id: TeamId(fact.id), season_id: fact.season };
            Line::Team(Sent { ids, body: fact.body()?, received, versions })
        }
        Kind::LineUp => {
            let missing = || {
                let detail = format!("{}: a line-up is of an event", fact.id);
                StorageError::Corrupt { table: "season_facts", column: "event_id", detail }
            };
            let event_id = fact.event.ok_or_else(missing)?;
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
        Kind::SideContest => {
            let ids = OfEvent { id: fact.id, event_id: EventId(fact.of) };
            Line::SideContest(Sent { ids, body: fact.body()?, received, versions })
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
    /// Takes a line apart that belongs to what tells its season.
    fn new<I, B: Serialize>(kind: Kind, sent: &'l Sent<I, B>, id: Uuid, of: Uuid) -> Self {
        let text = serde_json::to_string(&sent.body).expect("facts are plain values with text keys");
        Self { kind, id, of, event: None, season_from: of, text, received: &sent.received, versions: &sent.versions }
    }

    /// Takes a line apart; `None` for any other kind of line.
    pub fn of(line: &'l Line) -> Option<Self> {
        Some(match line {
            Line::Team(sent) => Self::new(Kind::Team, sent, sent.ids.id.0, sent.ids.season_id.0),
            Line::LineUp(sent) => {
                let event = sent.ids.event_id;
                let coming = Self::new(Kind::LineUp, sent, sent.ids.id, sent.ids.team_id.0);
                Self { event: Some(event), season_from: event.0, ..coming }
            }
            Line::Fixture(sent) => Self::new(Kind::Fixture, sent, sent.ids.id.0, sent.ids.competition_id.0),
            Line::Adjustment(sent) => Self::new(Kind::Adjustment, sent, sent.ids.id, sent.ids.competition_id.0),
            Line::Concession(sent) => Self::new(Kind::Concession, sent, sent.ids.id, sent.body.fixture_id.0),
            Line::SideContest(sent) => Self::new(Kind::SideContest, sent, sent.ids.id, sent.ids.event_id.0),
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
    ) -> SeasonFact {
        let Self { kind, id, of, event, text, .. } = self;
        SeasonFact { league, id, season, kind, of, event, version, seq, received_at, text }
    }
}
