//! What members bring along from before the league came here.

use super::db::Conn;
use super::error::StorageError;
use crate::domain::facts::{CarriedDifferential, CarriedResult, Competitor};
use crate::domain::ids::{LeagueId, MemberId, SeasonId};
use crate::domain::units::Tenths;
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// Something that was brought along, as stored.
#[derive(Clone, Debug)]
pub struct Stored<Of, T> {
    pub id: Uuid,
    /// What it belongs to.
    pub of: Of,
    /// What it says.
    pub carried: T,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

/// Stores a member's differential.
///
/// # Errors
/// A failed database.
pub async fn insert_differential(
    conn: &mut Conn,
    league: LeagueId,
    stored: &Stored<MemberId, CarriedDifferential>,
) -> Result<(), StorageError> {
    let Stored { id, of, carried: CarriedDifferential { played_on, differential, source }, seq, received_at } = stored;
    let values = values![league, *id, *of, *played_on, differential.0, source, *seq, *received_at];
    conn.run(sql!("carried_differential_insert"), values).await?;
    Ok(())
}

/// Stores a member's value in a season.
///
/// # Errors
/// A failed database.
pub async fn insert_result(
    conn: &mut Conn,
    league: LeagueId,
    stored: &Stored<SeasonId, CarriedResult>,
) -> Result<(), StorageError> {
    let Stored { id, of, carried, seq, received_at } = stored;
    let CarriedResult { competitor, competition_id, label, value, source } = carried;
    let (member, team) = match competitor {
        Competitor::Member { member_id } => (Some(*member_id), None),
        Competitor::Team { team_id } => (None, Some(*team_id)),
    };
    let values = values![league, *id, *of, member, team, *competition_id, label, *value, source, *seq, *received_at];
    conn.run(sql!("carried_result_insert"), values).await?;
    Ok(())
}

/// Reads a league's differentials in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn differentials(
    conn: &mut Conn,
    league: LeagueId,
) -> Result<Vec<Stored<MemberId, CarriedDifferential>>, StorageError> {
    let mut found = Vec::new();
    for row in conn.rows(sql!("carried_differential_list"), values![league]).await? {
        let carried = CarriedDifferential {
            played_on: row.parsed("carried_differentials", "played_on")?,
            differential: Tenths(row.get::<i64>("differential")? as i32),
            source: row.get("source")?,
        };
        let received_at = row.parsed("carried_differentials", "received_at")?;
        let (id, of, seq) = (row.get("id")?, row.id("member_id")?, row.get("seq")?);
        found.push(Stored { id, of, carried, seq, received_at });
    }
    Ok(found)
}

/// Removes a differential that was brought along.
///
/// # Errors
/// A failed database.
pub async fn remove_differential(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("carried_differential_delete"), values![league, id]).await?;
    Ok(())
}

/// Returns the league of something that was brought along.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn league_of(conn: &mut Conn, id: Uuid) -> Result<Option<LeagueId>, StorageError> {
    conn.row(sql!("carried_league_of"), values![id]).await?.map(|row| row.id("league_id")).transpose()
}

/// Removes a value that was carried into a season.
///
/// # Errors
/// A failed database.
pub async fn remove_result(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("carried_result_delete"), values![league, id]).await?;
    Ok(())
}

/// Reads a league's values in the order of their facts.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn results(conn: &mut Conn, league: LeagueId) -> Result<Vec<Stored<SeasonId, CarriedResult>>, StorageError> {
    let nobody = || {
        let detail = "a carried result is a member's or a team's".into();
        StorageError::Corrupt { table: "carried_results", column: "member_id", detail }
    };
    let mut found = Vec::new();
    for row in conn.rows(sql!("carried_result_list"), values![league]).await? {
        let of_team = || row.optional_id("team_id")?.map(|team_id| Competitor::Team { team_id }).ok_or_else(nobody);
        let competitor = match row.optional_id("member_id")? {
            Some(member_id) => Competitor::Member { member_id },
            None => of_team()?,
        };
        let carried = CarriedResult {
            competitor,
            competition_id: row.optional_id("competition_id")?,
            label: row.get("label")?,
            value: row.get("value")?,
            source: row.get("source")?,
        };
        let received_at = row.parsed("carried_results", "received_at")?;
        let (id, of, seq) = (row.get("id")?, row.id("season_id")?, row.get("seq")?);
        found.push(Stored { id, of, carried, seq, received_at });
    }
    Ok(found)
}
