//! What a league brings along in mid-season: differentials and values from before it came here.

use crate::change;
use crate::domain::facts::competition::Meeting;
use crate::domain::facts::{CarriedDifferential, CarriedResult, Competitor, Fault, Season};
use crate::domain::ids::{LeagueId, MemberId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::access::IfMatch;
use crate::league::competition::fixture::side_fault;
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::season::changes::{self, Cause};
use crate::league::season::derive;
use crate::league::{Caller, Leagues, Refusal, access, sound};
use crate::storage::carried::{self, Stored};
use crate::storage::documents::{self, SEASONS};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::row_hashes::{Written, wrote};
use crate::storage::{Conn, StorageError, leagues, members};
use serde::Serialize;
use std::sync::Arc;
use uuid::Uuid;

/// Something carried in, with its ids.
#[derive(Debug, Serialize)]
pub struct CarriedView<T> {
    /// Its id.
    pub id: Uuid,
    /// The member or the season that it belongs to.
    #[serde(flatten)]
    pub of: CarriedOf,
    /// What was brought along.
    #[serde(flatten)]
    pub carried: T,
}

/// What something carried in belongs to.
#[derive(Debug, Serialize)]
#[serde(untagged)]
pub enum CarriedOf {
    /// A member's record.
    Member {
        /// The member.
        member_id: MemberId,
    },
    /// A season's table.
    Season {
        /// The season.
        season_id: SeasonId,
    },
}

impl From<Stored<MemberId, CarriedDifferential>> for CarriedView<CarriedDifferential> {
    fn from(Stored { id, of, carried, .. }: Stored<MemberId, CarriedDifferential>) -> Self {
        Self { id, of: CarriedOf::Member { member_id: of }, carried }
    }
}

impl From<Stored<SeasonId, CarriedResult>> for CarriedView<CarriedResult> {
    fn from(Stored { id, of, carried, .. }: Stored<SeasonId, CarriedResult>) -> Self {
        Self { id, of: CarriedOf::Season { season_id: of }, carried }
    }
}

impl Leagues {
    /// Stores a differential that a member brings along.
    ///
    /// # Errors
    /// Anybody but an organizer of the member's league; a member who was erased.
    pub async fn carry_differential(
        &self,
        key: RequestKey,
        member: MemberId,
        carried: CarriedDifferential,
    ) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, member, |conn| {
            let stored = members::get(conn, member).await?.ok_or(Refusal::NotFound)?;
            let league = stored.league;
            let by = access::organizer(conn, key.caller, league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if stored.is_erased {
                return Err(Refusal::conflict(Rule::InvalidTransition, "this player has been erased"));
            }
            let tables = this.tables(conn, league).await?;
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            let stored = Stored { id, of: member, carried, seq, received_at: key.now };
            carried::insert_differential(conn, league, &stored).await?;
            let written = ("carried_differential", wrote("carried_differentials", id));
            let book = this.carried(conn, &key, league, id, written, &stored.carried, Some(member)).await?;
            let cause = Cause { by: by.id, act: "create", kind: "carried_differential", thing: id, reason: None };
            changes::write_down(conn, &book, &tables, cause, key.now).await?;
            let view = CarriedView::from(stored);
            let location = format!("/api/v1/members/{member}/carried-differentials");
            key.keep(conn, created(location, 1, &view)).await
        })
    }

    /// Stores a value that a member brings along into a season.
    ///
    /// # Errors
    /// Anybody but an organizer of the season's league; somebody or a competition of another; a table that has no such rows.
    pub async fn carry_result(
        &self,
        key: RequestKey,
        season: SeasonId,
        carried: CarriedResult,
    ) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, season, |conn| {
            let (document, by) = access::organized_document::<Season>(conn, key.caller, &SEASONS, season.0).await?;
            let league = document.league;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if let Some(member) = carried.member() {
                let member = members::get(conn, member).await?.filter(|member| member.league == league);
                if member.is_none_or(|member| member.is_erased) {
                    return Err(Refusal::fault("/member_id", Rule::UnknownMember, "this league has no such member"));
                }
            }
            let book = this.books.of(conn, league).await?;
            sound(misfits(&book, season, &carried))?;
            let tables = this.tables(conn, league).await?;
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            let stored = Stored { id, of: season, carried, seq, received_at: key.now };
            carried::insert_result(conn, league, &stored).await?;
            let written = ("carried_result", wrote("carried_results", id));
            let book = this.carried(conn, &key, league, id, written, &stored.carried, None).await?;
            documents::show_seasons_anew(conn, [(league, season)]).await?;
            let cause = Cause { by: by.id, act: "create", kind: "carried_result", thing: id, reason: None };
            changes::write_down(conn, &book, &tables, cause, key.now).await?;
            let view = CarriedView::from(stored);
            let location = format!("/api/v1/seasons/{season}/carried-results");
            key.keep(conn, created(location, 1, &view)).await
        })
    }

    /// Removes a differential or a value that was brought along, for a reason that everybody sees.
    ///
    /// # Errors
    /// Anybody but an organizer of the league; a stale version; no reason.
    pub async fn remove_carried(
        &self,
        caller: Caller,
        id: Uuid,
        if_match: IfMatch,
        reason: Option<String>,
    ) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let league = carried::league_of(conn, id).await?.ok_or(Refusal::NotFound)?;
            let by = access::organizer(conn, caller, league).await?;
            if_match.check(1)?;
            if reason.as_deref().is_none_or(|reason| reason.trim().is_empty()) {
                return Err(Refusal::fault("/reason", Rule::ReasonMissing, "say why it goes: `?reason=`"));
            }
            let tables = this.tables(conn, league).await?;
            let differentials = carried::differentials(conn, league).await?;
            let of_member = differentials.iter().find(|found| found.id == id).map(|found| found.of);
            let kind = match of_member {
                Some(_) => {
                    carried::remove_differential(conn, league, id).await?;
                    "carried_differential"
                }
                None => {
                    let of = carried::results(conn, league).await?.into_iter().find(|found| found.id == id);
                    carried::remove_result(conn, league, id).await?;
                    documents::show_seasons_anew(conn, of.map(|found| (league, found.of))).await?;
                    "carried_result"
                }
            };
            let act = Act { by: Some(caller.account), act: "remove", kind, id, content: &[], rows: &[] };
            journal::append(conn, league, act, now).await?;
            books::mark(conn, league).await?;
            let book = this.books.of(conn, league).await?;
            if let Some(member) = of_member {
                derive::member_and_marks(conn, &book, member).await?;
            }
            let cause = Cause { by: by.id, act: "remove", kind, thing: id, reason: reason.as_deref() };
            changes::write_down(conn, &book, &tables, cause, now).await?;
            Ok(())
        })
    }

    /// Writes down what was carried in, and works afresh what hangs on it. Returns the book with it.
    #[expect(clippy::too_many_arguments, reason = "what a journal entry is made of")]
    async fn carried(
        &self,
        conn: &mut Conn,
        key: &RequestKey,
        league: LeagueId,
        id: Uuid,
        (kind, written): (&'static str, Written),
        body: &impl Serialize,
        member: Option<MemberId>,
    ) -> Result<Arc<LeagueBook>, Refusal> {
        let content = serde_json::to_vec(body).expect("facts are plain values with text keys");
        let act = Act { by: Some(key.caller.account), act: "create", kind, id, content: &content, rows: &[written] };
        journal::append(conn, league, act, key.now).await?;
        books::mark(conn, league).await?;
        let book = self.books.of(conn, league).await?;
        if let Some(member) = member {
            derive::member_and_marks(conn, &book, member).await?;
        }
        Ok(book)
    }

    /// Reads the differentials that a member brought along, in the order in which they came in.
    ///
    /// # Errors
    /// A member of a league that the caller is not in.
    pub async fn carried_differentials(
        &self,
        caller: Caller,
        member: MemberId,
    ) -> Result<Vec<CarriedView<CarriedDifferential>>, Refusal> {
        let mut conn = self.database.reader().await?;
        let stored = members::get(&mut conn, member).await?.ok_or(Refusal::NotFound)?;
        access::member(&mut conn, caller, stored.league).await?;
        Ok(differentials_of(&mut conn, stored.league, member).await?)
    }

    /// Reads the values that were brought along into a season, in the order in which they came in.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn carried_results(
        &self,
        caller: Caller,
        season: SeasonId,
    ) -> Result<Vec<CarriedView<CarriedResult>>, Refusal> {
        let mut conn = self.database.reader().await?;
        let (document, _) = access::document::<Season>(&mut conn, caller, &SEASONS, season.0).await?;
        let found = carried::results(&mut conn, document.league).await?;
        Ok(found.into_iter().filter(|found| found.of == season).map(CarriedView::from).collect())
    }
}

/// Finds whether a table has no row for a carried result.
fn misfits(book: &LeagueBook, season: SeasonId, carried: &CarriedResult) -> Vec<Fault> {
    let misfit = |at: &str, rule, detail: &str| vec![Fault::new(at, rule, detail)];
    let id = carried.competition_id.or_else(|| book.book.main_of(season));
    let found = id.and_then(|id| book.book.competitions.get(&id)).filter(|(of, _)| *of == season);
    let Some((_, terms)) = found else {
        return misfit("/competition_id", Rule::UnknownCompetition, "this season has no such competition");
    };
    if matches!(terms.meeting, Meeting::Season {}) {
        let detail = "an eclectic counts holes: no value is carried into it";
        return misfit("/competition_id", Rule::CompetitionMisfit, detail);
    }
    match (terms.ranks_cards(), carried.competitor) {
        (true, Competitor::Member { .. }) => Vec::new(),
        (true, Competitor::Team { .. }) => {
            misfit("/team_id", Rule::CompetitionMisfit, "players compete here: name a member")
        }
        (false, side) => {
            let fault = side_fault(book, season, terms, side);
            fault.map(|(rule, at, detail)| Fault::new(at, rule, detail)).into_iter().collect()
        }
    }
}

/// Reads the differentials that a member brought along, in the order in which they came in.
///
/// # Errors
/// A failed database or an unreadable row.
pub(in crate::league) async fn differentials_of(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
) -> Result<Vec<CarriedView<CarriedDifferential>>, StorageError> {
    let found = carried::differentials(conn, league).await?;
    Ok(found.into_iter().filter(|found| found.of == member).map(CarriedView::from).collect())
}
