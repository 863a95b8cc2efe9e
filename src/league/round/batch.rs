//! Batches: many rounds of a season at once, each line on its own.

use crate::domain::facts::{Round, Season};
use crate::domain::ids::{ClientRoundId, EventId, SeasonId};
use crate::league::keys::RequestKey;
use crate::league::round::judge::unknown_event;
use crate::league::round::request::HandIn;
use crate::league::{Caller, Leagues, Refusal, access};
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
    /// As [`hand_in`](Self::hand_in); an event that is not the season's.
    pub async fn hand_in_line(
        &self,
        caller: Caller,
        season: SeasonId,
        event: EventId,
        round: Round,
        confirms_dates: bool,
    ) -> Result<Reply, Refusal> {
        let season = Some(season);
        let hand_in = HandIn { event, season, round, names_member: true, confirms_dates, session: None };
        match self.hand_in(RequestKey::none(caller, self.now()), hand_in).await {
            Err(Refusal::NotFound) => Err(unknown_event()),
            outcome => outcome,
        }
    }
}
