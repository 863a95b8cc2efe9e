//! Teams of a season.

use super::stored::{By, New, create, remove, replace};
use crate::change;
use crate::domain::facts::team::in_two_teams;
use crate::domain::facts::{Competitor, Fault, Rules, Season, Team, WithdrawnResults};
use crate::domain::ids::{SeasonId, TeamId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::LeagueBook;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::SEASONS;
use crate::storage::idempotency::Reply;
use crate::storage::season_facts::Kind;
use crate::wire::body::matches::MOST_TEAMS;
use serde::Serialize;
use uuid::Uuid;

/// A team of a season.
#[derive(Clone, Debug, Serialize)]
pub struct TeamView {
    pub id: TeamId,
    pub season_id: SeasonId,
    #[serde(flatten)]
    pub team: Team,
}

/// Finds whether a team fits itself, the league and the other teams of its season.
fn faults(book: &LeagueBook, season: SeasonId, own: Option<TeamId>, team: &Team) -> Vec<Fault> {
    let mut faults = team.broken();
    for (m, member) in team.members.iter().enumerate() {
        if !book.book.members.contains_key(&member.member_id) {
            let at = format!("/members/{m}/member_id");
            faults.push(Fault::new(at, Rule::UnknownMember, "this league has no such member"));
        }
    }
    let others = || book.book.teams_of(season).filter(|(id, _)| Some(*id) != own).map(|(_, other)| other);
    if others().any(|other| other.name == team.name) {
        faults.push(Fault::new("/name", Rule::NameTaken, "another team of the season has this name"));
    }
    faults.extend(in_two_teams(team, others()));
    faults
}

/// Returns the final events of a season in which a team has a fixture, by its name or as another decided.
fn finals(book: &LeagueBook, season: SeasonId, team: TeamId) -> impl Iterator<Item = &Night> {
    let side = Competitor::Team { team_id: team };
    let nights = book.book.nights_of(season).into_iter().filter(|night| night.event.is_final());
    nights.filter(move |night| {
        let kept = night.kept.iter().flat_map(|kept| &kept.fixtures).any(|kept| [kept.a, kept.b].contains(&Some(side)));
        kept || book.book.fixtures_in(night.id).any(|(.., fixture)| fixture.names(side))
    })
}

/// Passes unless the results of a final event rest on what changes. A withdrawal that voids all fixtures may come later.
fn keeps_finals(book: &LeagueBook, season: SeasonId, id: TeamId, before: &Team, after: &Team) -> Result<(), Refusal> {
    for night in finals(book, season, id) {
        let day = night.date;
        if before.roster(day) != after.roster(day) {
            let detail = format!("an event of {day} is final: who was in the team on that day stands");
            return Err(Refusal::conflict(Rule::TeamSettled, detail));
        }
        let stands = |team: &Team| {
            team.withdrawn.is_some_and(|gone| gone.results == WithdrawnResults::Stand && gone.from <= day)
        };
        if stands(before) != stands(after) {
            let detail = format!("an event of {day} is final: the team withdraws from a later day, or all is void");
            return Err(Refusal::conflict(Rule::TeamSettled, detail));
        }
    }
    Ok(())
}

impl Leagues {
    /// Adds a team to a season.
    ///
    /// # Errors
    /// Anybody but an organizer; a team that does not fit itself, the league or the other teams.
    pub async fn create_team(&self, key: RequestKey, season: SeasonId, team: Team) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, season, |conn| {
            let (policy, member) = access::organized_document::<Season>(conn, key.caller, &SEASONS, season.0).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let book = this.books.of(conn, policy.league).await?;
            if book.book.teams_of(season).count() >= MOST_TEAMS {
                return Err(Refusal::conflict(Rule::TooMany, format!("a season has at most {MOST_TEAMS} teams")));
            }
            sound(faults(&book, season, None, &team))?;
            let by = By { caller: key.caller, member: member.id, now: key.now };
            let new = New { id: Uuid::now_v7(), season, kind: Kind::Team, of: season.0, event: None, body: &team };
            let id = create(conn, by, &book, new).await?;
            let view = TeamView { id: TeamId(id), season_id: season, team };
            key.keep(conn, created(format!("/api/v1/teams/{id}"), 1, &view)).await
        })
    }

    /// Changes a team.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a team that does not fit; what a final event rests on.
    pub async fn change_team(
        &self,
        caller: Caller,
        id: TeamId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<Team, Refusal> + Clone + Send + 'static,
    ) -> Result<(TeamView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let (before, member) = access::organized_season_fact(conn, caller, Kind::Team, id.0).await?;
            if_match.check(before.version)?;
            let team = patched(&before.text)?;
            let book = this.books.of(conn, before.league).await?;
            sound(faults(&book, before.season, Some(id), &team))?;
            keeps_finals(&book, before.season, id, &before.body()?, &team)?;
            let by = By { caller, member: member.id, now };
            let version = replace(conn, by, &book, &before, &team).await?;
            Ok((TeamView { id, season_id: before.season, team }, version))
        })
    }

    /// Removes a team that nothing names.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a team that a fixture, a line-up, an adjustment or a competition names.
    pub async fn remove_team(&self, caller: Caller, id: TeamId, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let (before, member) = access::organized_season_fact(conn, caller, Kind::Team, id.0).await?;
            if_match.check(before.version)?;
            let book = this.books.of(conn, before.league).await?;
            let side = Competitor::Team { team_id: id };
            let in_fixture = book.book.fixtures.values().any(|(_, fixture)| fixture.names(side));
            let in_line_up = book.book.line_ups.keys().any(|(_, team)| *team == id);
            let adjusted = book.book.adjustments.values().any(|(_, adjustment)| adjustment.competitor == side);
            let carried = book.book.carried_results.values().flatten().any(|carried| carried.competitor == side);
            let of = book.book.competitions_of(before.season);
            let named = of.iter().any(|(_, terms)| terms.teams.as_ref().is_some_and(|teams| teams.contains(&id)));
            if in_fixture || in_line_up || adjusted || carried || named {
                let detail = "a fixture, a line-up, an adjustment, a carried result or a competition names this team: a team \
                              that plays no more is `withdrawn`";
                return Err(Refusal::conflict(Rule::HasFixtures, detail));
            }
            remove(conn, By { caller, member: member.id, now }, &book, &before).await
        })
    }

    /// Reads a team.
    ///
    /// # Errors
    /// A team that is not there or not the caller's to see.
    pub async fn team(&self, caller: Caller, id: TeamId) -> Result<(TeamView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::season_fact(&mut conn, caller, Kind::Team, id.0).await?;
        Ok((TeamView { id, season_id: found.season, team: found.body()? }, found.version))
    }

    /// Reads a season's teams after an id.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn teams(
        &self,
        caller: Caller,
        season: SeasonId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<TeamView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::document::<Season>(&mut conn, caller, &SEASONS, season.0).await?;
        let book = self.books.of(&mut conn, found.league).await?;
        let teams = book.book.teams_of(season).filter(|(id, _)| id.0 > after);
        let teams = teams.take(usize::try_from(limit).unwrap_or(usize::MAX));
        Ok(teams.map(|(id, team)| TeamView { id, season_id: season, team: team.clone() }).collect())
    }
}
