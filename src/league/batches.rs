//! Batches: many rounds of a season at once, each line on its own.

use super::keys::RequestKey;
use super::rounds::HandIn;
use super::{Caller, Leagues, Refusal, access};
use crate::domain::facts::Season;
use crate::domain::ids::{ClientRoundId, SeasonId};
use crate::storage::documents::SEASONS;
use crate::storage::idempotency::Reply;
use uuid::Uuid;

/// Returns the `client_round_id` that stands for a line's `ref` in a season.
pub fn client_round_id(season: SeasonId, reference: &str) -> ClientRoundId {
    ClientRoundId(Uuid::new_v5(&season.0, reference.as_bytes()))
}

impl Leagues {
    /// Passes if the caller may hand in a batch for a season.
    ///
    /// # Errors
    /// Anybody but an organizer of its league.
    pub async fn may_batch(&self, caller: Caller, season: SeasonId) -> Result<(), Refusal> {
        let mut conn = self.database.reader().await?;
        access::organized_document::<Season>(&mut conn, caller, &SEASONS, season.0).await?;
        Ok(())
    }

    /// Hands in one line of a batch.
    ///
    /// # Errors
    /// As [`hand_in`](Self::hand_in); an event of another season.
    pub async fn hand_in_line(
        &self,
        caller: Caller,
        season: SeasonId,
        hand_in: HandIn,
        body_hash: [u8; 32],
    ) -> Result<Reply, Refusal> {
        let event = self
            .document::<crate::domain::facts::Event>(caller, &crate::storage::documents::EVENTS, hand_in.event.0)
            .await;
        let is_here = event.is_ok_and(|event| event.parent == Some(season.0));
        if !is_here {
            return Err(Refusal::fault("/event_id", "unknown-event", "this season has no such event"));
        }
        let key = RequestKey { caller, operation: String::new(), key: None, body_hash, now: self.now() };
        self.hand_in(key, hand_in).await
    }
}
