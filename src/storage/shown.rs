//! Marks of tables and boards, told to those who may see them: many in one statement.

use super::db::Conn;
use super::error::StorageError;
use crate::domain::ids::AccountId;
use crate::{sql, values};
use uuid::Uuid;

/// What has a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A season's table.
    Table,
    /// An event's board.
    Board,
}

/// Who asks for which mark.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The season or event.
    pub of: Uuid,
    /// The account.
    pub account: AccountId,
    /// The session, where it is still to be seen whether it goes on.
    pub session: Option<Uuid>,
}

/// What is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// The session has ended.
    SignedOut,
    /// It is not there, or in a league that the account is not in.
    Nothing,
    /// The mark.
    Mark(i64),
}

/// Reads marks of one kind, in the order in which they are asked for.
///
/// # Errors
/// A failed database.
pub async fn marks(conn: &mut Conn, kind: Kind, asked: &[Asked]) -> Result<Vec<Told>, StorageError> {
    let statement = match kind {
        Kind::Table => sql!("season_shown_asked"),
        Kind::Board => sql!("event_shown_asked"),
    };
    // No NULL: PostgreSQL would not know of what type. A nil id stands for none.
    let line =
        |(n, asked): (usize, &Asked)| values![n as i64, asked.of, asked.account, asked.session.unwrap_or_default()];
    let mut told = vec![Told::Nothing; asked.len()];
    for row in conn.rows_for(statement, 4, asked.iter().enumerate().flat_map(line).collect()).await? {
        let n = row.get::<i64>("n")? as usize;
        told[n] = if asked[n].session.is_some() && row.get("is_signed_out")? {
            Told::SignedOut
        } else if row.get("is_member")? {
            Told::Mark(row.get("shown")?)
        } else {
            Told::Nothing
        };
    }
    Ok(told)
}
