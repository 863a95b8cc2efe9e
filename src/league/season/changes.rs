//! What moved a season's table other than a round handed in on time: who, when, why, and which rows.

use crate::domain::competition::table::StandingsRow;
use crate::domain::exact::Value;
use crate::domain::facts::Season;
use crate::domain::ids::{MemberId, SeasonId};
use crate::league::memory::books::LeagueBook;
use crate::league::reading::table;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::SEASONS;
use crate::storage::{Conn, StorageError};
use crate::{sql, values};
use jiff::Timestamp;
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Where a member stands in a table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Standing {
    /// The position in the flight.
    pub position: Option<u32>,
    /// The sum of the values that count.
    pub total: Option<Value>,
}

/// The tables of a league's seasons at one moment.
#[derive(Clone, Debug, Default)]
pub struct Tables(BTreeMap<SeasonId, BTreeMap<MemberId, Standing>>);

/// A row that a change moved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Move {
    /// Whose row it is.
    pub member_id: MemberId,
    /// Where it stood.
    pub from: Standing,
    /// Where it stands.
    pub to: Standing,
}

/// The rows of a season that a change moves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeasonMoves {
    /// The season.
    pub season_id: SeasonId,
    /// The rows.
    pub moves: Vec<Move>,
}

/// Changes to the standings.
#[derive(Clone, Copy, Debug)]
pub struct Cause<'a> {
    /// Who did it.
    pub by: MemberId,
    /// What was done.
    pub act: &'static str,
    /// To what kind of thing.
    pub kind: &'static str,
    /// To which.
    pub thing: Uuid,
    /// Why, where somebody said so.
    pub reason: Option<&'a str>,
}

/// A change as it is shown.
#[derive(Debug, Serialize)]
pub struct ChangeView {
    /// Its id.
    pub id: Uuid,
    /// When it was made.
    pub at: Timestamp,
    /// Who made it.
    pub member_id: Option<MemberId>,
    /// What was done.
    pub act: String,
    /// To what kind of thing.
    pub kind: String,
    /// To which.
    pub thing_id: Uuid,
    /// Why, where somebody said so and everybody may know.
    pub reason: Option<String>,
    /// The rows that it moved.
    pub moves: serde_json::Value,
}

fn standings(rows: &[StandingsRow]) -> BTreeMap<MemberId, Standing> {
    rows.iter().map(|row| (row.member_id, Standing { position: row.position, total: row.total })).collect()
}

/// Makes the tables of all seasons of a league.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn tables(conn: &mut Conn, book: &LeagueBook) -> Result<Tables, StorageError> {
    let mut tables = BTreeMap::new();
    for season in book.book.seasons.keys() {
        tables.insert(*season, standings(&table(conn, book, *season).await?));
    }
    Ok(Tables(tables))
}

impl Tables {
    /// Returns the rows of a season that stand elsewhere in `after`, in order of members.
    pub fn moves(&self, after: &Tables, season: SeasonId) -> Vec<Move> {
        let none = BTreeMap::new();
        let (before, after) = (self.0.get(&season).unwrap_or(&none), after.0.get(&season).unwrap_or(&none));
        let mut members: Vec<MemberId> = before.keys().chain(after.keys()).copied().collect();
        members.sort_unstable();
        members.dedup();
        let at = |table: &BTreeMap<MemberId, Standing>, member| table.get(&member).copied().unwrap_or_default();
        let moves = members.into_iter().map(|member_id| Move {
            member_id,
            from: at(before, member_id),
            to: at(after, member_id),
        });
        moves.filter(|moved| moved.from != moved.to).collect()
    }

    /// Returns the rows of every season that stand elsewhere in `after`.
    pub fn all_moves(&self, after: &Tables) -> Vec<SeasonMoves> {
        let moves = |season_id| SeasonMoves { season_id, moves: self.moves(after, season_id) };
        self.seasons(after).map(moves).filter(|season| !season.moves.is_empty()).collect()
    }

    fn seasons<'a>(&'a self, after: &'a Tables) -> impl Iterator<Item = SeasonId> {
        let mut seasons: Vec<SeasonId> = self.0.keys().chain(after.0.keys()).copied().collect();
        seasons.sort_unstable();
        seasons.dedup();
        seasons.into_iter()
    }
}

/// Writes down what a change has moved, and returns the tables after it; a change that moves no row leaves no trace here.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn write_down(
    conn: &mut Conn,
    book: &LeagueBook,
    before: &Tables,
    cause: Cause<'_>,
    at: Timestamp,
) -> Result<Tables, StorageError> {
    let after = tables(conn, book).await?;
    write_down_moves(conn, book, before, &after, cause, at).await?;
    Ok(after)
}

/// Writes down what differs between the tables before and after a change.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn write_down_moves(
    conn: &mut Conn,
    book: &LeagueBook,
    before: &Tables,
    after: &Tables,
    cause: Cause<'_>,
    at: Timestamp,
) -> Result<(), StorageError> {
    for season in before.seasons(after) {
        let moves = before.moves(after, season);
        if moves.is_empty() {
            continue;
        }
        let moves = serde_json::to_string(&moves).expect("moves are plain values with text keys");
        let Cause { by, act, kind, thing, reason } = cause;
        let values = values![book.league, season, Uuid::now_v7(), at, by, act, kind, thing, reason, moves];
        conn.run(sql!("standings_change_insert"), values).await?;
    }
    Ok(())
}

/// Makes tables of rows.
pub(in crate::league) fn tables_of(rows: &BTreeMap<SeasonId, Vec<StandingsRow>>) -> Tables {
    Tables(rows.iter().map(|(season, rows)| (*season, standings(rows))).collect())
}

impl Leagues {
    /// Reads what changed a season's table after an id, oldest first.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn standings_changes(
        &self,
        caller: Caller,
        season: SeasonId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<ChangeView>, Refusal> {
        let mut conn = self.database.reader().await?;
        let (document, _) = access::document::<Season>(&mut conn, caller, &SEASONS, season.0).await?;
        let rows = conn.rows(sql!("standings_change_list"), values![document.league, season, after, limit]).await?;
        let view = |row: &crate::storage::row::Row| {
            Ok(ChangeView {
                id: row.get("id")?,
                at: row.parsed("standings_changes", "at")?,
                member_id: row.optional_id("member_id")?,
                act: row.get("act")?,
                kind: row.get("kind")?,
                thing_id: row.get("thing_id")?,
                reason: row.get("reason")?,
                moves: row.json("standings_changes", "moves")?,
            })
        };
        rows.iter().map(view).collect()
    }
}
