//! Signed heads of journals: when they are made, and who is given them.

use crate::change;
use crate::domain::ids::{EventId, LeagueId, SeasonId};
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::heads::{self, SignedHead};
use crate::storage::{Conn, Scope, StorageError, journal};
use crate::tasks::Retry;
use jiff::SignedDuration;
use std::time::Duration;

/// A head is signed a day after the one before it, if not earlier.
const A_DAY: SignedDuration = SignedDuration::from_hours(24);
/// How often it is looked whether one is due.
const TURN: Duration = Duration::from_secs(60);

/// Signs heads as they fall due, for as long as the server runs.
pub async fn keep_up(leagues: Leagues) {
    let mut retry = Retry::new("heads of journals could not be signed", TURN);
    loop {
        match leagues.sign_due().await {
            Ok(()) => {
                retry.succeeded();
                tokio::time::sleep(TURN).await;
            }
            Err(error) => tokio::time::sleep(retry.failed(error)).await,
        }
    }
}

impl Leagues {
    /// Signs the head of every journal that has a hundred entries since the last, or any since a day.
    ///
    /// # Errors
    /// A failed database.
    pub async fn sign_due(&self) -> Result<(), StorageError> {
        let Some(key) = &self.head_key else { return Ok(()) };
        let now = self.now();
        let due = heads::due(&mut self.database.reader().await?, now - A_DAY).await?;
        let signed: Vec<SignedHead> = due.iter().map(|(league, head)| key.sign(*league, head, now)).collect();
        change!(self, Scope::Nothing, |conn| {
            for head in &signed {
                heads::keep(conn, head, None).await?;
            }
            Ok::<_, StorageError>(())
        })
    }

    /// Signs the head that a change has come to where it makes an event final.
    pub(in crate::league) async fn sign_final(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        event: EventId,
    ) -> Result<(), StorageError> {
        let Some(key) = &self.head_key else { return Ok(()) };
        let head = journal::head(conn, league).await?;
        heads::keep(conn, &key.sign(league, &head, self.now()), Some(event)).await
    }

    /// Reads the signed heads of a league's journal, the oldest first; the last is signed now.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn journal_heads(&self, caller: Caller, league: LeagueId) -> Result<Vec<SignedHead>, Refusal> {
        self.may_organize(caller, league).await?;
        self.weighed(league).await?;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let mut signed = heads::list(&mut conn, league).await?;
        let head = journal::head(&mut conn, league).await?;
        if let Some(key) = self.head_key.as_ref().filter(|_| signed.last().is_none_or(|last| last.n < head.n)) {
            signed.push(key.sign(league, &head, self.now()));
        }
        Ok(signed)
    }

    /// Reads the head that was signed when the last event of a season became final.
    ///
    /// # Errors
    /// A failed database.
    pub async fn final_head(&self, league: LeagueId, season: SeasonId) -> Result<Option<SignedHead>, Refusal> {
        Ok(heads::of_season(&mut self.database.reader().await?, league, season).await?)
    }
}
