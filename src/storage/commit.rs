//! Committing: waiting changes share a transaction, each in a savepoint of its own.

use super::db::Conn;
use super::error::StorageError;
use super::scope::Scope;
use futures_util::future::BoxFuture;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
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
pub(super) enum Ended {
    /// Keep what it did.
    Kept,
    /// It was refused, for good.
    Refused,
    /// Another change was in the way.
    Overtaken,
}

/// A change, which can be run more than once.
pub(super) type Job = Box<dyn for<'c> FnMut(&'c mut Conn) -> BoxFuture<'c, Ended> + Send>;

/// A change that waits.
pub(super) struct Waiting {
    pub(super) scope: Scope,
    pub(super) since: Instant,
    pub(super) job: Job,
    pub(super) done: oneshot::Sender<Result<(), StorageError>>,
}

/// What the writer has done since the start.
#[derive(Default)]
pub(super) struct Tallies {
    pub(super) commits: AtomicU64,
    pub(super) rows_read: AtomicU64,
}

impl Tallies {
    fn count(&self, is_committed: bool, rows_read: u64) {
        self.commits.fetch_add(u64::from(is_committed), Ordering::Relaxed);
        self.rows_read.fetch_add(rows_read, Ordering::Relaxed);
    }
}

/// Where changes wait: a writer that is started again goes on with those.
pub(super) type Queue = Arc<tokio::sync::Mutex<mpsc::Receiver<Waiting>>>;

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
