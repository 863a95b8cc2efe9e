//! The mark of a season's table, and of an event's board.

use crate::domain::ids::{EventId, SeasonId};
use crate::league::memory::marks::Mark;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::shown::Kind;
use uuid::Uuid;

impl Leagues {
    /// Returns the mark of a season's table, for whoever may read it. `session` is given where it is still to be seen
    /// whether it goes on.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see; a session that has ended.
    pub async fn season_mark(&self, caller: Caller, session: Option<Uuid>, season: SeasonId) -> Result<Mark, Refusal> {
        self.marks.of(&self.database, (Kind::Table, season.0), caller, session).await
    }

    /// Returns the mark of an event's board, for whoever may read it. `session` is given where it is still to be seen
    /// whether it goes on.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see; a session that has ended.
    pub async fn event_mark(&self, caller: Caller, session: Option<Uuid>, event: EventId) -> Result<Mark, Refusal> {
        self.marks.of(&self.database, (Kind::Board, event.0), caller, session).await
    }
}
