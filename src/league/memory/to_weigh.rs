//! Which leagues have rounds that wait for the evidence, and how much was weighed.

use crate::domain::ids::LeagueId;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::Notify;

/// How long hand-ins have to pause before what waits is weighed.
pub(in crate::league) const PAUSE: Duration = Duration::from_millis(100);
/// What a server remembers of its weighing.
#[derive(Clone, Default)]
pub struct Weighing(pub(in crate::league) Arc<Inner>);

#[derive(Default)]
pub(in crate::league) struct Inner {
    due: Mutex<BTreeSet<LeagueId>>,
    last_hand_in: Mutex<Option<Instant>>,
    pub(in crate::league) came_in: Notify,
    pub(in crate::league) turn: tokio::sync::Mutex<()>,
    pub(in crate::league) rounds: AtomicU64,
    pub(in crate::league) micros: AtomicU64,
}

/// How much was weighed since the server started.
#[derive(Clone, Copy, Debug, Default)]
pub struct Weights {
    pub rounds: u64,
    /// The time that it took.
    pub took: Duration,
}

impl Weighing {
    /// Tells that rounds of a league wait.
    pub fn came_in(&self, league: LeagueId) {
        *self.0.last_hand_in.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now());
        if self.0.due.lock().unwrap_or_else(PoisonError::into_inner).insert(league) {
            self.0.came_in.notify_one();
        }
    }

    /// Keeps in mind that rounds of a league still wait.
    pub(in crate::league) fn put_off(&self, league: LeagueId) {
        self.0.due.lock().unwrap_or_else(PoisonError::into_inner).insert(league);
    }

    /// Returns how much was weighed.
    pub fn weights(&self) -> Weights {
        let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
        let took = Duration::from_micros(count(&self.0.micros));
        Weights { rounds: count(&self.0.rounds), took }
    }

    pub(in crate::league) fn due(&self) -> BTreeSet<LeagueId> {
        std::mem::take(&mut *self.0.due.lock().unwrap_or_else(PoisonError::into_inner))
    }

    pub(in crate::league) fn is_quiet(&self) -> bool {
        let last = *self.0.last_hand_in.lock().unwrap_or_else(PoisonError::into_inner);
        last.is_none_or(|last| last.elapsed() > PAUSE)
    }
}
