//! Many rounds that come in together: what has to be known of them, in one statement, and the rows that they leave.

use super::db::Conn;
use super::error::StorageError;
use super::journal::{self, Head};
use super::row::{Row, Value};
use super::{evidence, idempotency, results, rounds};
use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, ClientRoundId, EventId, LeagueId, MemberId, RoundId};
use crate::domain::season::RoundState;
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
    /// Their results.
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

/// A hand-in that is looked up.
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

/// Where a hand-in comes in.
#[derive(Clone, Debug)]
pub enum Found {
    /// The sender's session has ended.
    SignedOut,
    /// The event is not there, or the sender is not in its league.
    Nowhere,
    /// In a league.
    In(Box<Place>),
}

/// The league where a hand-in comes in, and what is known of the round there.
#[derive(Clone, Debug)]
pub struct Place {
    /// The event's league.
    pub league: LeagueId,
    /// The mark of the league's book.
    pub book_mark: i64,
    /// The last number given to a raw fact of the league.
    pub seq: i64,
    /// The head of the league's journal.
    pub head: Head,
    /// Who sends it.
    pub sender: Sender,
    /// What stands in the way of storing the round at once.
    pub known: Known,
    /// Whether the member's card in the event is in play.
    pub is_in_play: bool,
    /// The mark of the member's rounds.
    pub rounds_mark: i64,
}

/// A sender, as the league knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sender {
    /// The record in the league.
    pub member: MemberId,
    /// The role there.
    pub role: Role,
}

/// What stands in the way of storing a round at once; of a new one, nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// The request's key was used before.
    pub is_answered: bool,
    /// The member sent a round under this `client_round_id` before.
    pub was_sent: bool,
    /// The member's round in the event that was not withdrawn, and where it stands.
    pub in_event: Option<(RoundId, RoundState)>,
}

fn found(row: &Row, session: Option<Uuid>) -> Result<Found, StorageError> {
    if session.is_some() && row.get::<bool>("is_signed_out")? {
        return Ok(Found::SignedOut);
    }
    let (Some(league), Some(member)) = (row.optional_id("league_id")?, row.optional_id("member_id")?) else {
        return Ok(Found::Nowhere);
    };
    let in_event: Option<RoundId> = row.optional_id("in_event_id")?;
    let in_event = in_event.map(|id| Ok::<_, StorageError>((id, rounds::state(row.get("in_event_state")?)?)));
    Ok(Found::In(Box::new(Place {
        league,
        book_mark: row.get("book_mark")?,
        seq: row.get("seq")?,
        head: Head { n: row.get("journal_n")?, hash: row.get("journal_hash")? },
        sender: Sender { member, role: super::members::role(row)? },
        known: Known {
            is_answered: row.get("is_kept")?,
            was_sent: row.get("was_sent")?,
            in_event: in_event.transpose()?,
        },
        is_in_play: row.get("is_in_play")?,
        rounds_mark: row.get("rounds_mark")?,
    })))
}

/// Looks up where hand-ins come in.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn look_up(conn: &mut Conn, asked: &[Asked<'_>]) -> Result<Vec<Found>, StorageError> {
    let values = asked.iter().enumerate().flat_map(|(n, asked)| {
        let Asked { event, account, member, client_round_id, session, operation, key } = *asked;
        // No NULL: PostgreSQL would not know of what type. A nil id stands for none.
        let (session, key) = (session.unwrap_or_default(), key.unwrap_or_default());
        values![n as i64, event, account, member, client_round_id, session, operation, key]
    });
    let mut all = vec![Found::Nowhere; asked.len()];
    for row in conn.rows_for(sql!("hand_in_asked"), 8, values.collect()).await? {
        let n = row.get::<i64>("n")? as usize;
        all[n] = found(&row, asked[n].session)?;
    }
    Ok(all)
}
