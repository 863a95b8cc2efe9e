//! Writing: waiting changes share a commit, each in a savepoint of its own. On SQLite there is one writer; on PostgreSQL
//! see `lanes.rs`.

use super::db::{Conn, Database, StorageError};
use super::lanes;
use super::scope::Scope;
use futures_util::future::BoxFuture;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use tokio::sync::{mpsc, oneshot};

/// How many changes may wait.
pub(super) const QUEUE: usize = 256;
/// How many changes share a commit at most.
pub(super) const MOST_A_COMMIT: usize = 64;

/// A change; it tells whether to keep what it did.
type Job = Box<dyn for<'c> FnOnce(&'c mut Conn) -> BoxFuture<'c, bool> + Send>;

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
    ///
    /// # Errors
    /// What the change refuses; [`StorageError::Busy`] when the queue is full; whatever the database refuses.
    pub async fn change<T, E, F>(&self, scope: impl Into<Scope>, act: F) -> Result<T, E>
    where
        F: for<'c> FnOnce(&'c mut Conn) -> BoxFuture<'c, Result<T, E>> + Send + 'static,
        T: Send + 'static,
        E: From<StorageError> + Send + 'static,
    {
        let (answer, answered) = oneshot::channel();
        let job: Job = Box::new(move |connection| {
            Box::pin(async move {
                let result = act(connection).await;
                let keep = result.is_ok();
                let _ = answer.send(result);
                keep
            })
        });
        let (done, finished) = oneshot::channel();
        let scope = scope.into();
        self.queue.try_send(Waiting { scope, job, done }).map_err(|_| StorageError::Busy)?;
        finished.await.map_err(|_| StorageError::Busy)??;
        answered.await.map_err(|_| StorageError::Busy)?
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
pub(super) async fn commit_together(connection: &mut Conn, scope: Scope, waiting: Vec<Waiting>) -> bool {
    if let Err(error) = begin(connection, scope).await {
        let text = error.to_string();
        tracing::error!(error = text, "the writer could not begin");
        for change in waiting {
            let _ = change.done.send(Err(StorageError::Busy));
        }
        return false;
    }
    let mut settled = Vec::with_capacity(waiting.len());
    // A change that is alone is taken back with the transaction itself.
    let is_alone = waiting.len() == 1;
    let mut keep = true;
    for change in waiting {
        let outcome = if is_alone {
            keep = (change.job)(connection).await;
            Ok(())
        } else {
            in_savepoint(connection, change.job).await
        };
        settled.push((change.done, outcome));
    }
    let committed = connection.command(if keep { "COMMIT" } else { "ROLLBACK" }).await;
    if let Err(error) = &committed {
        tracing::error!(error = error.to_string(), "a commit failed");
        let _ = connection.command("ROLLBACK").await;
    }
    for (done, outcome) in settled {
        let _ = done.send(match (&committed, outcome) {
            (Err(_), _) => Err(StorageError::Busy),
            (Ok(()), outcome) => outcome,
        });
    }
    keep && committed.is_ok()
}

async fn begin(connection: &mut Conn, scope: Scope) -> Result<(), StorageError> {
    connection.begin_write().await?;
    if scope == Scope::Nothing { Ok(()) } else { scope.lock(connection).await }
}

async fn in_savepoint(connection: &mut Conn, job: Job) -> Result<(), StorageError> {
    connection.command("SAVEPOINT change").await?;
    let keep = job(connection).await;
    if !keep {
        connection.command("ROLLBACK TO change").await?;
    }
    connection.command("RELEASE change").await
}
