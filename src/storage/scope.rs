//! What a change works on. On SQLite one change is made after the other anyway; on PostgreSQL, where other servers write
//! too, the rows of its scope are locked before it reads anything, so that a league's changes are made one after the
//! other and those of different leagues at once.

use super::db::Conn;
use super::error::StorageError;
use crate::domain::ids::{
    AccountId, CompetitionId, CourseId, EventId, FixtureId, LeagueId, MemberId, RoundId, SeasonId, SetupId, TeamId,
};
use crate::{sql, values};
use uuid::Uuid;

/// What a change works on.
///
/// Accounts are locked before leagues, and leagues in the order of their ids: changes never wait for each other in a ring.
/// Rounds that come in together wait for one league and take further ones only as nobody else holds them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// Rows that one statement settles, whoever else writes.
    Nothing,
    /// The league of something that has this id.
    LeagueOf(Uuid),
    /// An account.
    Account(AccountId),
    /// An account and every league that it is in.
    AccountInLeagues(AccountId),
    /// An account, and the league of the invitation that it accepts, by the hash of its code.
    Invitation(AccountId, [u8; 32]),
    /// A refresh token, by its hash.
    Token([u8; 32]),
}

impl From<Uuid> for Scope {
    fn from(id: Uuid) -> Self {
        Scope::LeagueOf(id)
    }
}

macro_rules! scope_from {
    ($($id:ident),*) => {$(
        impl From<$id> for Scope {
            fn from(id: $id) -> Self { Scope::LeagueOf(id.0) }
        }
    )*};
}
scope_from!(LeagueId, MemberId, SetupId, CourseId, SeasonId, CompetitionId, EventId, RoundId, TeamId, FixtureId);

impl Scope {
    /// Locks the scope until the transaction ends.
    ///
    /// # Errors
    /// A failed database; [`StorageError::Busy`] for a lock that is not had in time.
    pub async fn lock(self, conn: &mut Conn) -> Result<(), StorageError> {
        if let Scope::Account(id) | Scope::AccountInLeagues(id) | Scope::Invitation(id, _) = self {
            conn.rows(sql!("lock_account"), values![id]).await?;
        }
        match self {
            Scope::Nothing | Scope::Account(_) => Vec::new(),
            Scope::LeagueOf(id) => conn.rows(sql!("lock_league_of"), values![id]).await?,
            Scope::AccountInLeagues(id) => conn.rows(sql!("lock_leagues_of_account"), values![id]).await?,
            Scope::Invitation(_, hash) => conn.rows(sql!("lock_league_of_invitation"), values![hash]).await?,
            Scope::Token(hash) => conn.rows(sql!("lock_token"), values![hash]).await?,
        };
        Ok(())
    }
}
