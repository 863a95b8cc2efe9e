//! Writing: waiting changes share a commit (`commit.rs`). On SQLite there is one writer; on PostgreSQL see `lanes.rs`.

use super::commit::{Ended, Job, MOST_A_COMMIT, QUEUE, Queue, Tallies, Waiting, commit_together, refuse};
use super::db::{Conn, Database};
use super::error::StorageError;
use super::lanes;
use super::scope::Scope;
use crate::tasks::{Tasks, panic_text};
use futures_util::FutureExt;
use futures_util::future::BoxFuture;
use std::panic::AssertUnwindSafe;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{mpsc, oneshot};
use tokio::time::Instant;

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

/// A handle on the writer; it stops when the last handle is dropped.
#[derive(Clone)]
pub struct Writer {
    queue: mpsc::Sender<Waiting>,
    /// How many changes were taken from the queue and still wait.
    behind: Arc<AtomicUsize>,
    tallies: Arc<Tallies>,
    tasks: Tasks,
}

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
