//! Putts of many rounds at once, in one statement.

use super::db::Conn;
use super::error::StorageError;
use super::rounds::{bare_putt, feet, result};
use super::row::Row;
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::putting::field::PlainHole;
use crate::domain::season::putting::{PuttsMet, undeclared};
use crate::domain::units::Feet;
use crate::{sql, values};
use std::collections::HashMap;

/// Reads the recorded putts of a member's counting rounds by round and hole, of one season or of all; holes without a
/// putt, and rounds whose putts a ruling leaves out, are left out.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
    season: Option<SeasonId>,
) -> Result<HashMap<RoundId, PuttsMet>, StorageError> {
    let rows = conn.rows(sql!("putt_list_by_member"), values![league, member, season]).await?;
    let mut rounds: HashMap<RoundId, PuttsMet> = HashMap::new();
    for hole in rows.chunk_by(|a, b| place(a).ok() == place(b).ok()) {
        let (round, number) = place(&hole[0])?;
        let met = rounds.entry(round).or_default();
        met.declared_radius_ft = declared(&hole[0])?;
        met.numbers.push(number.unwrap_or_default() as u8);
        met.by_hole.push(hole.iter().map(bare_putt).collect::<Result<_, _>>()?);
    }
    Ok(rounds)
}

fn declared(row: &Row) -> Result<Option<Feet>, StorageError> {
    Ok(row.get::<Option<f64>>("declared_radius_ft")?.and_then(|radius| Feet::new(radius).ok()))
}

/// Returns the round and the number of the hole; `None` in a round without a putt.
fn place(row: &Row) -> Result<(RoundId, Option<i64>), StorageError> {
    Ok((row.id("round_id")?, row.get("hole")?))
}

/// The putts of an attested round.
#[derive(Clone, Debug)]
pub struct AttestedRound {
    /// The round.
    pub round: RoundId,
    /// Whose it is.
    pub member: MemberId,
    /// Its event.
    pub event: EventId,
    /// Its undeclared putts by hole; holes without a putt are left out.
    pub holes: Vec<PlainHole>,
}

/// Reads the putts of a season's attested rounds.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn attested(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<Vec<AttestedRound>, StorageError> {
    let rows = conn.rows(sql!("putt_list_attested"), values![league, season]).await?;
    let mut rounds: Vec<AttestedRound> = Vec::new();
    for hole in rows.chunk_by(|a, b| place(a).ok() == place(b).ok()) {
        let (round, number) = place(&hole[0])?;
        if rounds.last().is_none_or(|last| last.round != round) {
            let (member, event) = (hole[0].id("member_id")?, hole[0].id("event_id")?);
            rounds.push(AttestedRound { round, member, event, holes: Vec::new() });
        }
        if let (Some(_), Some(last)) = (number, rounds.last_mut()) {
            let plain = hole.iter().map(|row| Ok((feet(row, "distance_ft")?, result(row)?)));
            let putts = plain.collect::<Result<Vec<_>, StorageError>>()?;
            last.holes.push(undeclared(putts.into_iter(), declared(&hole[0])?));
        }
    }
    Ok(rounds)
}
