//! The queue of hand-ins.

use crate::domain::ids::LeagueId;
use crate::league::Refusal;
use crate::league::round::derivations::Derivations;
use crate::league::round::prepared::Prepared;
use crate::league::round::request::Request;
use crate::storage::StorageError;
use crate::storage::idempotency::Reply;
use crate::storage::writer::Refusing;
use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::runtime::Handle;
use tokio::sync::oneshot;

/// How many hand-ins may wait.
pub(super) const MOST_WAITING: usize = 256;
/// How many are judged in one change.
const MOST_TOGETHER: usize = 64;
/// Above two blocks a whole number of blocks is taken: SQLite then stores their rows in fewer statements.
const BLOCK: usize = 8;
/// Once this many hand-ins are taken, no further league is locked: other servers want some too. Between 4, 16 and 64, on
/// two cores, the difference was no greater than between runs.
const ENOUGH: usize = 16;

/// A hand-in that waits, its league, and who waits for its answer.
pub(super) type Waiting = (LeagueId, Card, oneshot::Sender<Result<Reply, Refusal>>);

/// A hand-in that is being judged: enough to judge it alone, if it comes to that.
pub(super) type Judging = (Request, oneshot::Sender<Result<Reply, Refusal>>);

/// Hand-ins that wait to be judged together.
#[derive(Clone)]
pub struct HandIns(pub(super) Arc<Inner>);

pub(super) struct Inner {
    /// Where they are stored: beside the writer, so that the next do not wait behind requests that are being read.
    pub(super) runtime: Handle,
    queue: Mutex<Queue>,
    derivations: Derivations,
}

/// Hand-ins that wait behind those that are being judged.
#[derive(Default)]
pub(super) struct Queue {
    pub(super) waiting: VecDeque<Waiting>,
    pub(super) is_draining: bool,
}

impl HandIns {
    /// Begins with none waiting; `runtime` will store them.
    pub fn on(runtime: Handle) -> Self {
        let (queue, derivations) = Default::default();
        Self(Arc::new(Inner { runtime, queue, derivations }))
    }

    /// Returns how many hand-ins wait now.
    pub fn waiting(&self) -> usize {
        self.queue().waiting.len()
    }

    /// Says whether hand-ins are being stored.
    pub fn is_draining(&self) -> bool {
        self.queue().is_draining
    }

    /// Returns how many derivations there were, and how long they took in all.
    pub fn derived(&self) -> (u64, Duration) {
        self.0.derivations.all()
    }

    /// Returns what counts derivations.
    pub(in crate::league) fn derivations(&self) -> &Derivations {
        &self.0.derivations
    }

    pub(super) fn queue(&self) -> MutexGuard<'_, Queue> {
        self.0.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Says that the queue is no longer drained, because whoever did it was ended: those that wait are refused.
    fn abandon(&self) {
        let mut queue = self.queue();
        queue.is_draining = false;
        queue.waiting.clear();
    }

    /// Says whether a hand-in waits; whoever is told that none does has no more to do.
    pub(super) fn goes_on(&self) -> bool {
        let mut queue = self.queue();
        queue.is_draining = !queue.waiting.is_empty();
        queue.is_draining
    }

    /// Returns leagues with enough hand-ins that wait, that of the one which waits longest first.
    pub(super) fn wanted(&self) -> Vec<LeagueId> {
        let queue = self.queue();
        let mut waiting: HashMap<LeagueId, usize> = HashMap::new();
        for (league, ..) in &queue.waiting {
            *waiting.entry(*league).or_default() += 1;
        }
        let (mut wanted, mut enough) = (Vec::new(), 0);
        for (league, ..) in &queue.waiting {
            if enough < ENOUGH && !wanted.contains(league) {
                wanted.push(*league);
                enough += waiting[league];
            }
        }
        wanted
    }

    /// Takes the next hand-ins from the queue, of leagues if those are named.
    pub(super) fn take(&self, of: Option<&[LeagueId]>) -> Vec<Waiting> {
        let mut queue = self.queue();
        let most = match queue.waiting.len().min(MOST_TOGETHER) {
            many if of.is_none() && many > 2 * BLOCK => many / BLOCK * BLOCK,
            any => any,
        };
        let mut next = Vec::new();
        let mut others = VecDeque::with_capacity(queue.waiting.len());
        for waiting in queue.waiting.drain(..) {
            let is_wanted = of.is_none_or(|leagues| leagues.contains(&waiting.0));
            if is_wanted && next.len() < most {
                next.push(waiting);
            } else {
                others.push_back(waiting);
            }
        }
        queue.waiting = others;
        next
    }
}

/// Whoever drains the queue holds this. Without it a panic would leave all later hand-ins waiting.
pub(super) struct Turn(pub(super) HandIns);

impl Drop for Turn {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.abandon();
        }
    }
}

/// A hand-in that is to be judged, with its rows where they could be prepared.
pub(in crate::league) struct Card {
    pub(in crate::league) request: Request,
    pub(in crate::league) prepared: Option<Prepared>,
}

/// What is answered to a hand-in, and the league where it stored a round.
pub(in crate::league) type Answer = Result<(Reply, Option<LeagueId>), Refusal>;

/// Why a change stored none of its hand-ins.
pub(in crate::league) enum NothingStored {
    Refused(Vec<Answer>),
    Failed(Refusal),
}

impl From<StorageError> for NothingStored {
    fn from(error: StorageError) -> Self {
        NothingStored::Failed(error.into())
    }
}

impl Refusing for NothingStored {
    fn storage(&self) -> Option<&StorageError> {
        if let NothingStored::Failed(refusal) = self { refusal.storage() } else { None }
    }
}

/// Splits what waits into what is judged and who is answered.
pub(super) fn apart((_, card, to): Waiting) -> (Card, Judging) {
    let judging = (card.request.clone(), to);
    (card, judging)
}
