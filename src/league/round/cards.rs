//! The cards of an event, whole.

use crate::domain::facts::{Event, Round};
use crate::domain::ids::{EventId, MemberId, RoundId};
use crate::domain::season::RoundState;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::EVENTS;
use crate::storage::rounds;
use uuid::Uuid;

/// A card with where it stands.
#[derive(Clone, Debug)]
pub struct EventCard {
    pub id: RoundId,
    pub member: MemberId,
    pub state: RoundState,
    pub round: Round,
}

impl Leagues {
    /// Reads an event's cards with their holes and putts, in the order in which they came in.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn cards_of_event(&self, caller: Caller, event: EventId) -> Result<Vec<EventCard>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let (found, _) = access::document::<Event>(conn, caller, &EVENTS, event.0).await?;
        let mut cards = Vec::new();
        for row in rounds::of_event(conn, found.league, event, Uuid::nil(), i64::MAX).await? {
            let round = rounds::whole(conn, &row).await?;
            cards.push(EventCard { id: row.id, member: row.member, state: row.state, round });
        }
        Ok(cards)
    }
}
