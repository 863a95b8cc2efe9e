//! Writing: waiting changes share a commit, each in a savepoint of its own. On SQLite there is one writer; on PostgreSQL
//! see `lanes.rs`.

use super::db::{Conn, Database};
use super::error::StorageError;
use super::lanes;
use super::scope::Scope;
use crate::tasks::{Tasks, panic_text};
use futures_util::FutureExt;
use futures_util::future::BoxFuture;
use std::panic::AssertUnwindSafe;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::{mpsc, oneshot};
use tokio::time::Instant;

/// How many changes may wait.
pub(super) const QUEUE: usize = 256;
/// How many changes share a commit at most.
pub(super) const MOST_A_COMMIT: usize = 64;

/// How long a change may wait before it is begun, where the database is one that may fall silent.
pub(super) const PATIENCE: Duration = Duration::from_secs(2);

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
    pub(super) since: Instant,
    job: Job,
    pub(super) done: oneshot::Sender<Result<(), StorageError>>,
}

/// A handle on the writer; it stops when the last handle is dropped.
#[derive(Clone)]
pub struct Writer {
    queue: mpsc::Sender<Waiting>,
    /// How many changes were taken from the queue and still wait.
    behind: Arc<AtomicUsize>,
    tallies: Arc<Tallies>,
    tasks: Tasks,
}

/// What the writer has done since the start.
#[derive(Default)]
pub(super) struct Tallies {
    commits: AtomicU64,
    rows_read: AtomicU64,
}

impl Tallies {
    fn count(&self, is_committed: bool, rows_read: u64) {
        self.commits.fetch_add(u64::from(is_committed), Ordering::Relaxed);
        self.rows_read.fetch_add(rows_read, Ordering::Relaxed);
    }
}

/// Where changes wait: a writer that is started again goes on with those.
pub(super) type Queue = Arc<tokio::sync::Mutex<mpsc::Receiver<Waiting>>>;

impl Writer {
    /// Starts the writer.
    ///
    /// # Errors
    /// A database that cannot be reached.
    pub async fn start(database: &Database) -> Result<Self, StorageError> {
        let (queue, receiver) = mpsc::channel(QUEUE);
        let receiver = Arc::new(tokio::sync::Mutex::new(receiver));
        let (behind, tallies) = (Arc::new(AtomicUsize::new(0)), Arc::new(Tallies::default()));
        let (tasks, database, count) = (Tasks::default(), database.clone(), Arc::clone(&tallies));
        if database.is_shared() {
            let behind = Arc::clone(&behind);
            tasks.keep_running("writer", move || {
                lanes::write(database.clone(), Arc::clone(&receiver), Arc::clone(&behind), Arc::clone(&count))
            });
        } else {
            let mut first = Some(database.writer().await?);
            tasks.keep_running("writer", move || {
                write(database.clone(), first.take(), Arc::clone(&receiver), Arc::clone(&count))
            });
        }
        Ok(Self { queue, behind, tallies, tasks })
    }

    /// The tasks of the server that this writer belongs to.
    pub fn tasks(&self) -> &Tasks {
        &self.tasks
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
                let run = AssertUnwindSafe(async { act(connection).await }).catch_unwind();
                let result = run.await.unwrap_or_else(|panic| {
                    tracing::error!("a change panicked: {}", panic_text(&*panic));
                    Err(StorageError::Panicked.into())
                });
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
        self.queue.try_send(Waiting { scope, since: Instant::now(), job, done }).map_err(|_| StorageError::Busy)?;
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
        self.tallies.commits.load(Ordering::Relaxed)
    }

    /// Returns how many rows changes have read while others waited for their turn.
    pub fn rows_read(&self) -> u64 {
        self.tallies.rows_read.load(Ordering::Relaxed)
    }
}

/// Makes changes until nobody can send another. A connection that fails at everything is replaced.
async fn write(database: Database, mut connection: Option<Conn>, queue: Queue, tallies: Arc<Tallies>) {
    let mut queue = queue.lock().await;
    while let Some(first) = queue.recv().await {
        let mut waiting = vec![first];
        while waiting.len() < MOST_A_COMMIT {
            match queue.try_recv() {
                Ok(next) => waiting.push(next),
                Err(_) => break,
            }
        }
        let mut conn = match connection.take() {
            Some(conn) => conn,
            None => match database.writer().await {
                Ok(conn) => conn,
                Err(error) => {
                    refuse(waiting, &error);
                    continue;
                }
            },
        };
        let is_usable = commit_together(&mut conn, Scope::Nothing, waiting, &tallies).await;
        connection = is_usable.then_some(conn);
    }
    // The last writer out leaves a short log behind.
    if let Some(mut connection) = connection {
        let _ = connection.command("PRAGMA wal_checkpoint(TRUNCATE)").await;
    }
}

/// Refuses changes for which there is no connection.
pub(super) fn refuse(waiting: Vec<Waiting>, error: &StorageError) {
    if !error.stops_changes() {
        tracing::warn!(error = error.to_string(), "no connection for writing");
    }
    for change in waiting {
        let _ = change.done.send(Err(error.for_each_change()));
    }
}

/// Runs changes in one transaction; says whether the connection can be used again. Answers leave only after the commit; if
/// it fails, all of them fail.
///
/// What PostgreSQL gave up for another's sake is run again as a whole: taking back one change alone would keep the locks
/// that the others share, and with them what was in the way.
pub(super) async fn commit_together(
    connection: &mut Conn,
    scope: Scope,
    mut waiting: Vec<Waiting>,
    tallies: &Tallies,
) -> bool {
    let (mut again, mut is_usable) = (0, true);
    let ended = loop {
        let ended = run_together(connection, scope, &mut waiting, again == MOST_AGAIN).await;
        if ended.is_err() {
            // SQLite says no to this where it has undone everything itself: is there a connection at all?
            is_usable = connection.command("ROLLBACK").await.is_ok() || connection.command("SELECT 1").await.is_ok();
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
    // Whoever has an answer finds it counted.
    tallies.count(is_committed, connection.take_rows_read());
    for (change, outcome) in waiting.into_iter().zip(outcomes) {
        let _ = change.done.send(outcome);
    }
    is_usable
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
