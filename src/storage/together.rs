//! Many rounds that come in together: what has to be known of them, in one statement, and the rows that they leave.

use super::db::Conn;
use super::error::StorageError;
use super::journal::{self, Head};
use super::row::{Row, Value};
use super::{evidence, idempotency, results, rounds};
use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, ClientRoundId, EventId, LeagueId, MemberId, SeasonId};
use crate::{sql, values};
use uuid::Uuid;

/// The rows of hand-ins, as values.
#[derive(Clone, Debug, Default)]
pub struct Rows {
    /// Who and what takes part in seasons.
    pub field: Vec<Value>,
    /// Rounds.
    pub rounds: Vec<Value>,
    /// Their holes.
    pub holes: Vec<Value>,
    /// Their putts.
    pub putts: Vec<Value>,
    /// What they are boiled down to.
    pub results: Vec<Value>,
    /// Their entries in journals.
    pub journal: Vec<Value>,
    /// Answers that are kept.
    pub replies: Vec<Value>,
}

impl Rows {
    /// Stores them, a kind at a time.
    ///
    /// # Errors
    /// A failed database.
    pub async fn insert(self, conn: &mut Conn) -> Result<(), StorageError> {
        evidence::take_part(conn, self.field).await?;
        rounds::insert_rows(conn, self.rounds).await?;
        rounds::insert_cards(conn, self.holes, self.putts).await?;
        results::insert_rows(conn, self.results).await?;
        journal::insert_rows(conn, self.journal).await?;
        idempotency::insert_rows(conn, self.replies).await
    }
}

/// What is asked of a round that comes in.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The event.
    pub event: EventId,
    /// Who sends it.
    pub account: AccountId,
    /// Whose it is.
    pub member: MemberId,
    /// The sender's id for it.
    pub client_round_id: ClientRoundId,
    /// The sender's session, where it is still to be seen whether it goes on.
    pub session: Option<Uuid>,
    /// Method and route.
    pub operation: &'a str,
    /// The request's key.
    pub key: Option<Uuid>,
}

/// What is known of it.
#[derive(Clone, Debug)]
pub struct Found {
    /// The event's league.
    pub league: LeagueId,
    /// The event's season.
    pub season: SeasonId,
    /// The mark of the league's book.
    pub book_mark: i64,
    /// The last number given to a raw fact of the league.
    pub seq: i64,
    /// The head of the league's journal.
    pub head: Head,
    /// The sender's record in the league.
    pub sender: MemberId,
    /// The sender's role there.
    pub role: Role,
    /// Something stands in the way of storing it at once: its key was used, it was sent before, or the member has a round
    /// in the event; or the sender's session has ended.
    pub is_known: bool,
    /// Whether the member's card in the event is in play.
    pub is_in_play: bool,
    /// The mark of the member's rounds.
    pub rounds_mark: i64,
}

fn found(row: &Row, session: Option<Uuid>) -> Result<Option<Found>, StorageError> {
    let (Some(league), Some(sender)) = (row.optional_id("league_id")?, row.optional_id("member_id")?) else {
        return Ok(None);
    };
    let mut is_known = false;
    for known in ["is_kept", "was_sent", "is_in_event"] {
        is_known |= row.get::<bool>(known)?;
    }
    is_known |= session.is_some() && row.get::<bool>("is_signed_out")?;
    Ok(Some(Found {
        league,
        season: row.id("season_id")?,
        book_mark: row.get("book_mark")?,
        seq: row.get("seq")?,
        head: Head { n: row.get("journal_n")?, hash: row.get("journal_hash")? },
        sender,
        role: super::members::role(row)?,
        is_known,
        is_in_play: row.get("is_in_play")?,
        rounds_mark: row.get("rounds_mark")?,
    }))
}

/// Reads what is known of rounds that come in; `None` for an event that is not there or a sender who is not in its league.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn known(conn: &mut Conn, asked: &[Asked<'_>]) -> Result<Vec<Option<Found>>, StorageError> {
    let values = asked.iter().enumerate().flat_map(|(n, asked)| {
        let Asked { event, account, member, client_round_id, session, operation, key } = *asked;
        // No NULL: PostgreSQL would not know of what type. A nil id stands for none.
        let (session, key) = (session.unwrap_or_default(), key.unwrap_or_default());
        values![n as i64, event, account, member, client_round_id, session, operation, key]
    });
    let mut known = vec![None; asked.len()];
    for row in conn.rows_for(sql!("hand_in_asked"), 8, values.collect()).await? {
        let n = row.get::<i64>("n")? as usize;
        known[n] = found(&row, asked[n].session)?;
    }
    Ok(known)
}
