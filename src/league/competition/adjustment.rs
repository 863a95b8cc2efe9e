//! Points that an organizer gives or takes in a table.

use super::fixture::side_fault;
use super::stored::{By, New, create, remove};
use crate::change;
use crate::domain::facts::competition::Meeting;
use crate::domain::facts::{Adjustment, AdjustmentCounts, Competition, Competitor, Fault, Rules};
use crate::domain::ids::{CompetitionId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::COMPETITIONS;
use crate::storage::idempotency::Reply;
use crate::storage::season_facts::Kind;
use crate::storage::{Conn, StorageError};
use crate::wire::body::matches::MOST_SAID;
use serde::Serialize;
use uuid::Uuid;

#[derive(Clone, Debug, Serialize)]
pub struct AdjustmentView {
    pub id: Uuid,
    pub competition_id: CompetitionId,
    #[serde(flatten)]
    pub adjustment: Adjustment,
}

/// Finds whether an adjustment does not fit its competition.
fn misfits(book: &LeagueBook, season: SeasonId, terms: &Competition, adjustment: &Adjustment) -> Vec<Fault> {
    if matches!(terms.meeting, Meeting::Season {}) && adjustment.counts == AdjustmentCounts::Before {
        let detail = "an eclectic counts holes: points are added `after`";
        return vec![Fault::new("/counts", Rule::CompetitionMisfit, detail)];
    }
    if terms.ranks_cards() && matches!(adjustment.competitor, Competitor::Team { .. }) {
        return vec![Fault::new("/team_id", Rule::CompetitionMisfit, "players compete here: name a member")];
    }
    let side = side_fault(book, season, terms, adjustment.competitor);
    side.map(|(rule, at, detail)| Fault::new(at, rule, detail)).into_iter().collect()
}

/// Tells whose points they are.
async fn tell(conn: &mut Conn, book: &LeagueBook, adjustment: &Adjustment, by: By) -> Result<(), StorageError> {
    let to = match adjustment.competitor {
        Competitor::Member { member_id } => vec![member_id],
        Competitor::Team { team_id } => {
            let team = book.book.teams.get(&team_id).map(|(_, team)| team);
            team.into_iter().flat_map(|team| &team.members).map(|member| member.member_id).collect()
        }
    };
    let about = adjustment.event_id.map_or(About::member(book.league), |event| About::event(book.league, event));
    notices::tell(conn, about, Tells::Adjustment, &to, by.member, by.now).await
}

impl Leagues {
    /// Gives or takes points in the table of a competition.
    ///
    /// # Errors
    /// Anybody but an organizer; a side or an event that is none of its; points that compete with holes.
    pub async fn adjust(&self, key: RequestKey, id: CompetitionId, adjustment: Adjustment) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, id, |conn| {
            let found = access::organized_document::<Competition>(conn, key.caller, &COMPETITIONS, id.0).await?;
            let (found, member) = found;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let season = SeasonId(found.parent.unwrap_or_default());
            let book = this.books.of(conn, found.league).await?;
            let mut faults = adjustment.broken();
            faults.extend(misfits(&book, season, &found.body, &adjustment));
            let is_known = |event| book.book.nights.get(&event).is_some_and(|night| night.season == season);
            if !adjustment.event_id.is_none_or(is_known) {
                faults.push(Fault::new("/event_id", Rule::UnknownEvent, "this season has no such event"));
            }
            sound(faults)?;
            if book.book.adjustments.values().filter(|(of, _)| *of == id).count() >= MOST_SAID {
                let detail = format!("a competition has at most {MOST_SAID} adjustments");
                return Err(Refusal::conflict(Rule::TooMany, detail));
            }
            let by = By { caller: key.caller, member: member.id, now: key.now };
            let new =
                New { id: Uuid::now_v7(), season, kind: Kind::Adjustment, of: id.0, event: None, body: &adjustment };
            let made = create(conn, by, &book, new).await?;
            tell(conn, &book, &adjustment, by).await?;
            let view = AdjustmentView { id: made, competition_id: id, adjustment };
            key.keep(conn, created(format!("/api/v1/competitions/{id}/adjustments"), 1, &view)).await
        })
    }

    /// Takes an adjustment back.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version.
    pub async fn remove_adjustment(&self, caller: Caller, id: Uuid, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let (before, member) = access::organized_season_fact(conn, caller, Kind::Adjustment, id).await?;
            if_match.check(before.version)?;
            let book = this.books.of(conn, before.league).await?;
            remove(conn, By { caller, member: member.id, now }, &book, &before).await
        })
    }

    /// Reads the adjustments of a competition, in the order in which they were made.
    ///
    /// # Errors
    /// A competition that is not there or not the caller's to see.
    pub async fn adjustments(&self, caller: Caller, id: CompetitionId) -> Result<Vec<AdjustmentView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::document::<Competition>(&mut conn, caller, &COMPETITIONS, id.0).await?;
        let book = self.books.of(&mut conn, found.league).await?;
        let all = book.book.adjustments.iter().filter(|(_, (of, _))| *of == id);
        let view = |(made, (of, adjustment)): (&Uuid, &(CompetitionId, Adjustment))| AdjustmentView {
            id: *made,
            competition_id: *of,
            adjustment: adjustment.clone(),
        };
        Ok(all.map(view).collect())
    }
}
