//! Marks of tables and boards for whoever may see them. Whoever asks while an answer is on its way shares the next one:
//! a crowd costs one statement, and each is told what was so after it had asked.

use super::{Caller, Leagues, Refusal};
use crate::domain::ids::{EventId, SeasonId};
use crate::storage::shown::{self, Asked, Kind, Told};
use crate::storage::{Database, StorageError};
use std::mem;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::oneshot;
use uuid::Uuid;

/// How many share one statement at most.
const MOST: usize = 64;

/// Those who wait to be told a mark.
#[derive(Clone, Default)]
pub struct Marks {
    tables: Waiting,
    boards: Waiting,
}

#[derive(Clone, Default)]
struct Waiting(Arc<Mutex<Queue>>);

#[derive(Default)]
struct Queue {
    asked: Vec<(Asked, oneshot::Sender<Told>)>,
    is_read: bool,
}

impl Waiting {
    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells what is asked; nothing if the shared statement failed.
    async fn told(&self, database: &Database, kind: Kind, asked: Asked) -> Option<Told> {
        let (tell, told) = oneshot::channel();
        let is_read = {
            let mut queue = self.queue();
            queue.asked.push((asked, tell));
            mem::replace(&mut queue.is_read, true)
        };
        if !is_read {
            // By itself: whoever came first may leave before the others were told.
            tokio::spawn(Turn(self.clone()).read(database.clone(), kind));
        }
        told.await.ok()
    }
}

/// Reads for all who wait, until nobody does.
struct Turn(Waiting);

impl Turn {
    async fn read(self, database: Database, kind: Kind) {
        // Requests that came in with the first one are heard before the statement is written.
        tokio::task::yield_now().await;
        while let Some(waiting) = self.take() {
            let (asked, tell): (Vec<_>, Vec<_>) = waiting.into_iter().unzip();
            match marks(&database, kind, &asked).await {
                // Whoever left is told nothing.
                Ok(told) => tell.into_iter().zip(told).for_each(|(tell, told)| _ = tell.send(told)),
                Err(error) => tracing::warn!(%error, "marks were not read together"),
            }
        }
    }

    fn take(&self) -> Option<Vec<(Asked, oneshot::Sender<Told>)>> {
        let mut queue = self.0.queue();
        let first = queue.asked.len().min(MOST);
        queue.is_read = first > 0;
        (first > 0).then(|| queue.asked.drain(..first).collect())
    }
}

impl Drop for Turn {
    /// Whoever still waits, because this was ended from outside, is told nothing and asks alone.
    fn drop(&mut self) {
        let mut queue = self.0.queue();
        if mem::take(&mut queue.is_read) {
            queue.asked.clear();
        }
    }
}

async fn marks(database: &Database, kind: Kind, asked: &[Asked]) -> Result<Vec<Told>, StorageError> {
    shown::marks(&mut database.reader().await?, kind, asked).await
}

impl Leagues {
    /// Returns the mark of a season's table, for whoever may read it. `session` is given where it is still to be seen
    /// whether it goes on.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see; a session that has ended.
    pub async fn season_mark(&self, caller: Caller, session: Option<Uuid>, season: SeasonId) -> Result<i64, Refusal> {
        self.mark(Kind::Table, Asked { of: season.0, account: caller.account, session }).await
    }

    /// Returns the mark of an event's board, for whoever may read it. `session` is given where it is still to be seen
    /// whether it goes on.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see; a session that has ended.
    pub async fn event_mark(&self, caller: Caller, session: Option<Uuid>, event: EventId) -> Result<i64, Refusal> {
        self.mark(Kind::Board, Asked { of: event.0, account: caller.account, session }).await
    }

    async fn mark(&self, kind: Kind, asked: Asked) -> Result<i64, Refusal> {
        let waiting = match kind {
            Kind::Table => &self.marks.tables,
            Kind::Board => &self.marks.boards,
        };
        let told = match waiting.told(&self.database, kind, asked).await {
            Some(told) => told,
            None => marks(&self.database, kind, &[asked]).await?[0],
        };
        match told {
            Told::SignedOut => Err(Refusal::SignedOut),
            Told::Nothing => Err(Refusal::NotFound),
            Told::Mark(mark) => Ok(mark),
        }
    }
}
