//! What the columns of a set-up's files mean: said once, remembered for that member and set-up. It counts for nothing.

use crate::change;
use crate::domain::ids::{LeagueId, MemberId, SetupId};
use crate::league::round::card_faults::use_faults;
use crate::league::{Caller, Leagues, Refusal, access, sound};
use crate::storage::file_columns::{self, StoredColumns};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Whose cards a file fills in.
pub const FOR_OTHERS: &str = "from a file a player fills in an own card, and whoever keeps scores anybody's";

/// A column: its name in the file, and the word for what it holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileColumn {
    /// Its name.
    pub name: String,
    /// The word for its meaning; empty if it is not used.
    pub meaning: String,
}

/// How a file is read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileColumns {
    /// The word for what separates its cells.
    pub separator: String,
    /// Whether its first row gives names.
    pub has_names: bool,
    /// Its columns in order.
    pub columns: Vec<FileColumn>,
}

/// What is remembered for a set-up.
#[derive(Debug, Serialize)]
pub struct FileColumnsView {
    /// The set-up.
    pub setup_id: SetupId,
    /// When it was said.
    pub updated_at: Timestamp,
    /// What was said.
    #[serde(flatten)]
    pub columns: FileColumns,
}

impl From<StoredColumns<FileColumns>> for FileColumnsView {
    fn from(stored: StoredColumns<FileColumns>) -> Self {
        Self { setup_id: stored.setup, updated_at: stored.updated_at, columns: stored.columns }
    }
}

impl Leagues {
    /// Remembers for the caller how the files of a set-up are read, which fill in cards of a player: the caller, or
    /// anybody where the caller keeps scores.
    ///
    /// # Errors
    /// Anybody outside the league; somebody else's card by a player; a set-up that is not the player's to use.
    pub async fn remember_columns(
        &self,
        caller: Caller,
        league: LeagueId,
        player: MemberId,
        setup: SetupId,
        columns: FileColumns,
    ) -> Result<(), Refusal> {
        let (now, this) = (self.now(), self.clone());
        let body = serde_json::to_string(&columns).expect("columns are plain values with text keys");
        change!(self, league, |conn| {
            let member = access::member(conn, caller, league).await?;
            if player != member.id && !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden(FOR_OTHERS));
            }
            let book = this.books.of(conn, league).await?;
            sound(use_faults(&book, player, Some(setup)))?;
            Ok(file_columns::put(conn, league, member.id, setup, now, &body).await?)
        })
    }

    /// Reads how the files of a set-up were read for the caller the last time.
    ///
    /// # Errors
    /// Anybody outside the league.
    pub async fn remembered_columns(
        &self,
        caller: Caller,
        league: LeagueId,
        setup: SetupId,
    ) -> Result<Option<FileColumns>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let member = access::member(&mut conn, caller, league).await?;
        let stored = file_columns::get(&mut conn, league, member.id, setup).await?;
        Ok(stored.map(|stored| stored.columns))
    }
}
