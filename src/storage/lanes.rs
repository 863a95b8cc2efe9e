//! Writing where others write too: changes of one scope share a commit, those of different scopes are made at once.

use super::commit::{MOST_A_COMMIT, PATIENCE, QUEUE, Queue, Tallies, Waiting, commit_together, refuse};
use super::db::Database;
use super::error::StorageError;
use super::postgres::LANES;
use super::scope::Scope;
use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use tokio::task::{Id, JoinSet};
use tokio::time::{Instant, sleep_until, timeout_at};

/// Takes the first change that waits and whose scope no lane works on, with those behind it of the same scope.
fn next_together(waiting: &mut VecDeque<Waiting>, taken: &HashMap<Id, Scope>) -> Option<(Scope, Vec<Waiting>)> {
    let is_free = |scope: Scope| scope == Scope::Nothing || !taken.values().any(|taken| *taken == scope);
    let first = waiting.iter().position(|change| is_free(change.scope))?;
    let first = waiting.remove(first)?;
    let scope = first.scope;
    let mut together = vec![first];
    if scope != Scope::Nothing {
        let mut others = VecDeque::with_capacity(waiting.len());
        for change in waiting.drain(..) {
            if change.scope == scope && together.len() < MOST_A_COMMIT {
                together.push(change);
            } else {
                others.push_back(change);
            }
        }
        *waiting = others;
    }
    Some((scope, together))
}

/// Returns since when the first of those waits that wait.
fn oldest(waiting: &VecDeque<Waiting>) -> Instant {
    waiting.front().map_or_else(Instant::now, |first| first.since)
}

/// Makes changes until nobody can send another. `count` tells how many wait here.
pub(super) async fn write(database: Database, queue: Queue, count: Arc<AtomicUsize>, tallies: Arc<Tallies>) {
    let mut receiver = queue.lock().await;
    let mut waiting = VecDeque::new();
    let mut lanes: JoinSet<()> = JoinSet::new();
    let mut taken: HashMap<Id, Scope> = HashMap::new();
    let mut is_open = true;
    while is_open || !waiting.is_empty() || !lanes.is_empty() {
        tokio::select! {
            received = receiver.recv(), if is_open && waiting.len() < QUEUE => match received {
                Some(change) => waiting.push_back(change),
                None => is_open = false,
            },
            () = sleep_until(oldest(&waiting) + PATIENCE), if !waiting.is_empty() => {}
            Some(ended) = lanes.join_next_with_id(), if !lanes.is_empty() => {
                taken.remove(&ended.map_or_else(|failed| failed.id(), |(id, ())| id));
            }
        }
        while waiting.len() < QUEUE
            && let Ok(change) = receiver.try_recv()
        {
            waiting.push_back(change);
        }
        // Whoever waited too long is refused: sent again, the same change is settled by its key.
        let late = |change: &Waiting| change.since.elapsed() >= PATIENCE;
        while let Some(change) = waiting.pop_front_if(|change| late(change)) {
            // What locks nothing waited because every lane stands still.
            let is_stuck = change.scope == Scope::Nothing;
            let _ = change.done.send(Err(if is_stuck { StorageError::Away } else { StorageError::Busy }));
        }
        while lanes.len() < LANES {
            let Some((scope, together)) = next_together(&mut waiting, &taken) else { break };
            let lane = lanes.spawn(commit_on_any(database.clone(), scope, together, Arc::clone(&tallies)));
            taken.insert(lane.id(), scope);
        }
        count.store(waiting.len(), Ordering::Relaxed);
    }
}

async fn commit_on_any(database: Database, scope: Scope, together: Vec<Waiting>, tallies: Arc<Tallies>) {
    let until = together.iter().map(|change| change.since).min().unwrap_or_else(Instant::now) + PATIENCE;
    match timeout_at(until, database.writer()).await.unwrap_or(Err(StorageError::Away)) {
        Ok(mut connection) => {
            commit_together(&mut connection, scope, together, &tallies).await;
        }
        Err(error) => refuse(together, &error),
    }
}
