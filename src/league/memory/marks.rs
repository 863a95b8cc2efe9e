//! Marks of tables and boards for whoever may see them. Whoever asks while an answer is on its way shares the next one:
//! a crowd costs one statement, and each is told what was so after it had asked. While the database does not answer, whoever
//! was told lately is told the same, with its age.

use crate::domain::ids::AccountId;
use crate::league::{Caller, Refusal};
use crate::storage::shown::{self, Asked, Kind, Told};
use crate::storage::{Database, StorageError};
use std::collections::HashMap;
use std::mem;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;
use uuid::Uuid;

/// How many share one statement at most.
const MOST: usize = 64;

/// For how long somebody may go on reading whom the database cannot be asked about: as long as an access token lasts.
pub const TRUSTED: Duration = Duration::from_secs(600);
/// How many are remembered.
const MOST_REMEMBERED: usize = 20_000;

/// Those who wait to be told a mark, and what was told.
#[derive(Clone, Default)]
pub struct Marks {
    tables: Waiting,
    boards: Waiting,
    lately: Arc<Mutex<Lately>>,
    rights: Arc<AtomicU64>,
}

impl Marks {
    /// Forgets who could read what, because somebody's right to may have ended.
    pub(in crate::league) fn right_ended(&self) {
        self.rights.fetch_add(1, Ordering::Relaxed);
        self.lately().readers.clear();
    }

    /// Returns a number that is another one whenever somebody's right to read may have ended.
    pub fn rights(&self) -> u64 {
        self.rights.load(Ordering::Relaxed)
    }

    fn lately(&self) -> MutexGuard<'_, Lately> {
        self.lately.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What was told lately.
#[derive(Default)]
struct Lately {
    /// When who could read what.
    readers: HashMap<(Uuid, AccountId, Uuid), Instant>,
    /// The mark of each table and board, and when it was read.
    marks: HashMap<Uuid, (i64, Instant)>,
}

impl Lately {
    fn note(&mut self, of: Uuid, caller: Caller, mark: i64) {
        let now = Instant::now();
        if self.readers.len() >= MOST_REMEMBERED || self.marks.len() >= MOST_REMEMBERED {
            *self = Self::default();
        }
        self.readers.insert((of, caller.account, caller.session), now);
        self.marks.insert(of, (mark, now));
    }

    fn forget(&mut self, of: Uuid, caller: Caller) {
        self.readers.remove(&(of, caller.account, caller.session));
    }

    fn told(&self, of: Uuid, caller: Caller) -> Option<Mark> {
        let read = self.readers.get(&(of, caller.account, caller.session))?;
        let (mark, at) = self.marks.get(&of).filter(|_| read.elapsed() < TRUSTED)?;
        Some(Mark { mark: *mark, age: Some(at.elapsed()) })
    }
}

/// The mark of a table or board.
#[derive(Clone, Copy, Debug)]
pub struct Mark {
    /// The mark.
    pub mark: i64,
    /// How long ago it was read, while the database does not answer.
    pub age: Option<Duration>,
}

#[derive(Clone, Default)]
struct Waiting(Arc<Mutex<Queue>>);

/// What somebody asks, and who waits to be told.
type Question = (Asked, oneshot::Sender<Result<Told, StorageError>>);

#[derive(Default)]
struct Queue {
    asked: Vec<Question>,
    is_read: bool,
}

impl Waiting {
    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells what is asked; nothing if the shared statement failed, where asking alone may help.
    async fn told(&self, database: &Database, kind: Kind, asked: Asked) -> Option<Result<Told, StorageError>> {
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
                Ok(told) => tell.into_iter().zip(told).for_each(|(tell, told)| _ = tell.send(Ok(told))),
                Err(StorageError::Away) => tell.into_iter().for_each(|tell| _ = tell.send(Err(StorageError::Away))),
                Err(error) => tracing::warn!(%error, "marks were not read together"),
            }
        }
    }

    fn take(&self) -> Option<Vec<Question>> {
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

impl Marks {
    /// Returns the mark of a table or board, for whoever may read it.
    ///
    /// # Errors
    /// What is not there or not the caller's to see; a session that has ended.
    pub(in crate::league) async fn of(
        &self,
        database: &Database,
        (kind, of): (Kind, Uuid),
        caller: Caller,
        session: Option<Uuid>,
    ) -> Result<Mark, Refusal> {
        let waiting = match kind {
            Kind::Table => &self.tables,
            Kind::Board => &self.boards,
        };
        let asked = Asked { of, account: caller.account, session };
        let told = match waiting.told(database, kind, asked).await {
            Some(told) => told,
            None => marks(database, kind, &[asked]).await.map(|told| told[0]),
        };
        let mut lately = self.lately();
        let refusal = match told {
            Ok(Told::Mark(mark)) => {
                lately.note(of, caller, mark);
                return Ok(Mark { mark, age: None });
            }
            Ok(Told::SignedOut) => Refusal::SignedOut,
            Ok(Told::Nothing) => Refusal::NotFound,
            Err(StorageError::Away) => {
                return lately.told(of, caller).ok_or(Refusal::Storage(StorageError::Away));
            }
            Err(error) => return Err(error.into()),
        };
        lately.forget(of, caller);
        Err(refusal)
    }
}
