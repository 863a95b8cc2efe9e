//! Writing: waiting changes share a commit, each in a savepoint of its own. On SQLite there is one writer; on PostgreSQL
//! see `lanes.rs`.

use super::db::{Conn, Database};
use super::error::StorageError;
use super::lanes;
use super::scope::Scope;
use futures_util::future::BoxFuture;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::{mpsc, oneshot};

/// How many changes may wait.
pub(super) const QUEUE: usize = 256;
/// How many changes share a commit at most.
pub(super) const MOST_A_COMMIT: usize = 64;

/// How often changes are run again that PostgreSQL gave up for another's sake.
const MOST_AGAIN: u32 = 5;
/// How long the first pause before that is; each is twice the one before it.
const PAUSE: Duration = Duration::from_millis(10);

/// How a run of a change ended.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ended {
    /// Keep what it did.
    Kept,
    /// It was refused, for good.
    Refused,
    /// Another change was in the way.
    Overtaken,
}

/// A change, which can be run more than once.
type Job = Box<dyn for<'c> FnMut(&'c mut Conn) -> BoxFuture<'c, Ended> + Send>;

/// Why a change was refused, as far as the writer must know.
pub trait Refusing: From<StorageError> + Send + 'static {
    /// Returns what the store said, if it was the store.
    fn storage(&self) -> Option<&StorageError>;
}

impl Refusing for StorageError {
    fn storage(&self) -> Option<&StorageError> {
        Some(self)
    }
}

pub(super) struct Waiting {
    pub(super) scope: Scope,
    job: Job,
    pub(super) done: oneshot::Sender<Result<(), StorageError>>,
}

/// A handle on the writer; it stops when the last handle is dropped.
#[derive(Clone)]
pub struct Writer {
    queue: mpsc::Sender<Waiting>,
    /// How many changes were taken from the queue and still wait.
    behind: Arc<AtomicUsize>,
    commits: Arc<AtomicU64>,
}

impl Writer {
    /// Starts the writer.
    ///
    /// # Errors
    /// A database that cannot be reached.
    pub async fn start(database: &Database) -> Result<Self, StorageError> {
        let (queue, receiver) = mpsc::channel(QUEUE);
        let (behind, commits) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicU64::new(0)));
        let count = Arc::clone(&commits);
        match database {
            Database::Sqlite(_) => drop(tokio::spawn(write(database.writer().await?, receiver, count))),
            Database::Postgres(_) => {
                drop(tokio::spawn(lanes::write(database.clone(), receiver, Arc::clone(&behind), count)));
            }
        }
        Ok(Self { queue, behind, commits })
    }

    /// Makes a change and returns its answer once it is on disk. A refused change leaves nothing behind.
    ///
    /// The change goes on when the caller goes away. `scope` is what it works on: nobody else changes that meanwhile.
    /// Where PostgreSQL gives it up for another's sake, it is run again from its beginning, so that whatever it does
    /// outside the database must bear that.
    ///
    /// # Errors
    /// What the change refuses; [`StorageError::Busy`] when the queue is full; whatever the database refuses.
    pub async fn change<T, E, F>(&self, scope: impl Into<Scope>, act: F) -> Result<T, E>
    where
        F: for<'c> FnOnce(&'c mut Conn) -> BoxFuture<'c, Result<T, E>> + Clone + Send + 'static,
        T: Send + 'static,
        E: Refusing,
    {
        let answer = Arc::new(Mutex::new(None));
        let last = Arc::clone(&answer);
        let job: Job = Box::new(move |connection| {
            let (act, last) = (act.clone(), Arc::clone(&last));
            Box::pin(async move {
                let result = act(connection).await;
                let ended = match &result {
                    Ok(_) => Ended::Kept,
                    Err(error) if matches!(error.storage(), Some(StorageError::Overtaken)) => Ended::Overtaken,
                    Err(_) => Ended::Refused,
                };
                *last.lock().unwrap_or_else(PoisonError::into_inner) = Some(result);
                ended
            })
        });
        let (done, finished) = oneshot::channel();
        let scope = scope.into();
        self.queue.try_send(Waiting { scope, job, done }).map_err(|_| StorageError::Busy)?;
        finished.await.map_err(|_| StorageError::Busy)??;
        let answer = answer.lock().unwrap_or_else(PoisonError::into_inner).take();
        answer.unwrap_or_else(|| Err(StorageError::Busy.into()))
    }

    /// Returns how many changes wait now.
    pub fn waiting(&self) -> usize {
        self.queue.max_capacity() - self.queue.capacity() + self.behind.load(Ordering::Relaxed)
    }

    /// Returns how many commits there were.
    pub fn commits(&self) -> u64 {
        self.commits.load(Ordering::Relaxed)
    }
}

async fn write(mut connection: Conn, mut receiver: mpsc::Receiver<Waiting>, commits: Arc<AtomicU64>) {
    while let Some(first) = receiver.recv().await {
        let mut waiting = vec![first];
        while waiting.len() < MOST_A_COMMIT {
            match receiver.try_recv() {
                Ok(next) => waiting.push(next),
                Err(_) => break,
            }
        }
        let is_committed = commit_together(&mut connection, Scope::Nothing, waiting).await;
        commits.fetch_add(u64::from(is_committed), Ordering::Relaxed);
    }
    // The last writer out leaves a short log behind.
    let _ = connection.command("PRAGMA wal_checkpoint(TRUNCATE)").await;
}

/// Runs changes in one transaction and says whether it was committed. Answers leave only after the commit; if it fails,
/// all of them fail.
///
/// What PostgreSQL gave up for another's sake is run again as a whole: taking back one change alone would keep the locks
/// that the others share, and with them what was in the way.
pub(super) async fn commit_together(connection: &mut Conn, scope: Scope, mut waiting: Vec<Waiting>) -> bool {
    let mut again = 0;
    let ended = loop {
        let ended = run_together(connection, scope, &mut waiting, again == MOST_AGAIN).await;
        if ended.is_err() {
            let _ = connection.command("ROLLBACK").await;
        }
        if again == MOST_AGAIN || !matches!(ended, Err(StorageError::Overtaken)) {
            break ended;
        }
        tracing::info!(changes = waiting.len(), "another change was in the way; once more");
        tokio::time::sleep(PAUSE * (1 << again)).await;
        again += 1;
    };
    let (is_committed, outcomes) = ended.unwrap_or_else(|error| {
        if !error.stops_changes() {
            tracing::error!(error = error.to_string(), "changes could not be made");
        }
        (false, waiting.iter().map(|_| Err(error.for_each_change())).collect())
    });
    for (change, outcome) in waiting.into_iter().zip(outcomes) {
        let _ = change.done.send(outcome);
    }
    is_committed
}

/// Runs changes once; says whether something was committed, and what became of each. In the last run a change that was
/// overtaken is refused, and the others go on.
async fn run_together(
    connection: &mut Conn,
    scope: Scope,
    waiting: &mut [Waiting],
    is_last: bool,
) -> Result<(bool, Vec<Result<(), StorageError>>), StorageError> {
    connection.begin_write().await?;
    if scope != Scope::Nothing {
        scope.lock(connection).await?;
    }
    // A change that is alone is taken back with the transaction itself.
    let is_alone = waiting.len() == 1;
    let mut keep = true;
    let mut outcomes = Vec::with_capacity(waiting.len());
    for change in waiting {
        let outcome =
            if is_alone { Ok((change.job)(connection).await) } else { in_savepoint(connection, change).await };
        if !is_last && matches!(outcome, Ok(Ended::Overtaken) | Err(StorageError::Overtaken)) {
            return Err(StorageError::Overtaken);
        }
        keep = !is_alone || matches!(outcome, Ok(Ended::Kept));
        outcomes.push(outcome.map(drop));
    }
    if keep {
        connection.commit().await?
    } else {
        connection.command("ROLLBACK").await?
    };
    Ok((keep, outcomes))
}

async fn in_savepoint(connection: &mut Conn, change: &mut Waiting) -> Result<Ended, StorageError> {
    connection.command("SAVEPOINT change").await?;
    let ended = (change.job)(connection).await;
    if ended != Ended::Kept {
        connection.command("ROLLBACK TO change").await?;
    }
    connection.command("RELEASE change").await?;
    Ok(ended)
}
