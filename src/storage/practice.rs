//! Practice: blocks of putts outside any round.

use super::db::Conn;
use super::error::StorageError;
use super::rounds::{bare_putt, optional_unit, putt_values};
use super::row::{Row, Value};
use crate::domain::facts::{Practice, PractisedPutt};
use crate::domain::ids::{LeagueId, MemberId};
use crate::domain::units::{Feet, Stimp};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A block as stored.
#[derive(Clone, Debug)]
pub struct StoredPractice {
    /// The league.
    pub league: LeagueId,
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub member: MemberId,
    /// When it came in.
    pub received_at: Timestamp,
    /// Its version, counted from 1.
    pub version: i64,
    /// What was handed in.
    pub practice: Practice,
}

/// Stores a new block with its putts.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, stored: &StoredPractice) -> Result<(), StorageError> {
    let StoredPractice { league, id, member, received_at, version: _, practice } = stored;
    let Practice { setup_id, played_on, stimp_ft, putts } = practice;
    let block = values![*league, *id, *member, *setup_id, *played_on, stimp_ft.get(), *received_at];
    conn.run(sql!("practice_block_insert"), block).await?;
    insert_putts(conn, *league, *id, putts).await
}

async fn insert_putts(
    conn: &mut Conn,
    league: LeagueId,
    id: Uuid,
    putts: &[PractisedPutt],
) -> Result<(), StorageError> {
    let mut rows: Vec<Value> = Vec::with_capacity(putts.len() * 10);
    for (n, PractisedPutt { putt, leave_ft }) in putts.iter().enumerate() {
        rows.extend(values![league, id, n as i64 + 1]);
        rows.extend(putt_values(putt));
        rows.push(leave_ft.map(Feet::get).into());
    }
    conn.insert_rows(sql!("practice_putt_insert_head"), 10, rows).await
}

/// Puts another block in the place of one; its version grows by one.
///
/// # Errors
/// A failed database.
pub async fn replace(conn: &mut Conn, league: LeagueId, id: Uuid, practice: &Practice) -> Result<(), StorageError> {
    let Practice { setup_id, played_on, stimp_ft, putts } = practice;
    let block = values![league, id, *setup_id, *played_on, stimp_ft.get()];
    conn.run(sql!("practice_block_replace"), block).await?;
    conn.run(sql!("practice_putt_remove"), values![league, id]).await?;
    insert_putts(conn, league, id, putts).await
}

/// Throws a block away.
///
/// # Errors
/// A failed database.
pub async fn remove(conn: &mut Conn, league: LeagueId, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("practice_block_remove"), values![league, id]).await?;
    Ok(())
}

/// Reads a block.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: Uuid) -> Result<Option<StoredPractice>, StorageError> {
    let Some(block) = conn.row(sql!("practice_block_get"), values![id]).await? else { return Ok(None) };
    let league: LeagueId = block.id("league_id")?;
    let putts = conn.rows(sql!("practice_putt_list_of_block"), values![league, id]).await?;
    stored(&block, putts.iter().map(practised).collect::<Result<_, _>>()?).map(Some)
}

/// Reads a member's blocks after an id, in order of ids.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<StoredPractice>, StorageError> {
    let page = || values![league, member, after, limit];
    let blocks = conn.rows(sql!("practice_block_list"), page()).await?;
    let putts = conn.rows(sql!("practice_putt_list"), page()).await?;
    let mut putts = putts.iter().peekable();
    let mut found = Vec::with_capacity(blocks.len());
    for block in &blocks {
        let id: Uuid = block.get("id")?;
        let mut own = Vec::new();
        while let Some(row) = putts.next_if(|row| row.get::<Uuid>("block_id").is_ok_and(|of| of == id)) {
            own.push(practised(row)?);
        }
        found.push(stored(block, own)?);
    }
    Ok(found)
}

fn practised(row: &Row) -> Result<PractisedPutt, StorageError> {
    Ok(PractisedPutt { putt: bare_putt(row)?, leave_ft: optional_unit(row, Feet::new, "leave_ft")? })
}

fn stored(block: &Row, putts: Vec<PractisedPutt>) -> Result<StoredPractice, StorageError> {
    let stimp_ft = Stimp::new(block.get("stimp_ft")?).map_err(|error| StorageError::Corrupt {
        table: "practice_blocks",
        column: "stimp_ft",
        detail: error.to_string(),
    })?;
    Ok(StoredPractice {
        league: block.id("league_id")?,
        id: block.get("id")?,
        member: block.id("member_id")?,
        received_at: block.parsed("practice_blocks", "received_at")?,
        version: block.get("version")?,
        practice: Practice {
            setup_id: block.optional_id("setup_id")?,
            played_on: block.parsed("practice_blocks", "played_on")?,
            stimp_ft,
            putts,
        },
    })
}

/// Erases all of a member's practice.
///
/// # Errors
/// A failed database.
pub async fn erase(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<(), StorageError> {
    conn.run(sql!("practice_erase"), values![league, member]).await?;
    Ok(())
}
