//! The queue of hand-ins: one change judges and stores all that wait.

use crate::change;
use crate::domain::ids::LeagueId;
use crate::league::round::hand_in::{Answer, Card, NothingStored, Request};
use crate::league::{Leagues, Refusal};
use crate::storage::idempotency::Reply;
use crate::storage::{Conn, Scope, StorageError, leagues};
use futures_util::FutureExt;
use std::collections::{HashMap, VecDeque};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::runtime::Handle;
use tokio::sync::oneshot;

/// How many hand-ins may wait.
const MOST_WAITING: usize = 256;
/// How many are judged in one change.
const MOST_TOGETHER: usize = 64;
/// Above two blocks a whole number of blocks is taken: SQLite then stores their rows in fewer statements.
const BLOCK: usize = 8;
/// Once this many hand-ins are taken, no further league is locked: other servers want some too. Between 4, 16 and 64, on
/// two cores, the difference was no greater than between runs.
const ENOUGH: usize = 16;

/// A hand-in that waits, its league, and who waits for its answer.
type Waiting = (LeagueId, Card, oneshot::Sender<Result<Reply, Refusal>>);

/// A hand-in that is being judged: enough to judge it alone, if it comes to that.
type Judging = (Request, oneshot::Sender<Result<Reply, Refusal>>);

/// Hand-ins that wait to be judged together.
#[derive(Clone)]
pub struct HandIns(Arc<Inner>);

struct Inner {
    /// Where they are stored: beside the writer, so that the next do not wait behind requests that are being read.
    runtime: Handle,
    queue: Mutex<Queue>,
    derived: AtomicU64,
    nanos: AtomicU64,
}

/// Hand-ins that wait behind those that are being judged.
#[derive(Default)]
struct Queue {
    waiting: VecDeque<Waiting>,
    is_draining: bool,
}

impl HandIns {
    /// Begins with none waiting; `runtime` will store them.
    pub fn on(runtime: Handle) -> Self {
        let (queue, derived, nanos) = Default::default();
        Self(Arc::new(Inner { runtime, queue, derived, nanos }))
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
        let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
        (count(&self.0.derived), Duration::from_nanos(count(&self.0.nanos)))
    }

    /// Counts one derivation and the time that it took.
    pub(in crate::league) fn count_derived(&self, took: Duration) {
        self.0.derived.fetch_add(1, Ordering::Relaxed);
        self.0.nanos.fetch_add(took.as_nanos() as u64, Ordering::Relaxed);
    }

    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.0.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Says that the queue is no longer drained, because whoever did it was ended: those that wait are refused.
    fn abandon(&self) {
        let mut queue = self.queue();
        queue.is_draining = false;
        queue.waiting.clear();
    }

    /// Says whether a hand-in waits; whoever is told that none does has no more to do.
    fn goes_on(&self) -> bool {
        let mut queue = self.queue();
        queue.is_draining = !queue.waiting.is_empty();
        queue.is_draining
    }

    /// Returns leagues with enough hand-ins that wait, that of the one which waits longest first.
    fn wanted(&self) -> Vec<LeagueId> {
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
    fn take(&self, of: Option<&[LeagueId]>) -> Vec<Waiting> {
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
struct Turn(HandIns);

impl Drop for Turn {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.abandon();
        }
    }
}

impl Leagues {
    /// Puts a hand-in into the queue and returns its answer.
    pub(in crate::league) async fn hand_in_with_others(&self, league: LeagueId, card: Card) -> Result<Reply, Refusal> {
        let (answer, answered) = oneshot::channel();
        {
            let mut queue = self.hand_ins.queue();
            if queue.waiting.len() >= MOST_WAITING {
                return Err(StorageError::Busy.into());
            }
            queue.waiting.push_back((league, card, answer));
            if !std::mem::replace(&mut queue.is_draining, true) {
                self.hand_ins.0.runtime.spawn(self.clone().drain());
            }
        }
        answered.await.unwrap_or_else(|_| Err(StorageError::Busy.into()))
    }

    /// Judges and stores what waits, so many at once, until nothing does.
    async fn drain(self) {
        let _turn = Turn(self.hand_ins.clone());
        while self.hand_ins.goes_on() {
            let judging: Arc<Mutex<Vec<Judging>>> = Arc::default();
            let (this, by_change) = (self.clone(), Arc::clone(&judging));
            let answers: Result<_, NothingStored> =
                change!(self, Scope::Nothing, |conn| this.store_next(conn, &by_change).await);
            let mut judging = std::mem::take(&mut *judging.lock().unwrap_or_else(PoisonError::into_inner));
            match answers {
                Ok(answers) | Err(NothingStored::Refused(answers)) => {
                    for (answer, (request, to)) in answers.into_iter().zip(judging) {
                        let _ = to.send(self.told(&request, answer));
                    }
                }
                // Whoever waits would only wait again, and meet the same. What became of a commit the key settles.
                Err(NothingStored::Failed(Refusal::Storage(StorageError::Away))) => {
                    let waiting = std::mem::take(&mut self.hand_ins.queue().waiting);
                    for (_, to) in judging.into_iter().chain(waiting.into_iter().map(|waiting| apart(waiting).1)) {
                        let _ = to.send(Err(StorageError::Away.into()));
                    }
                }
                Err(NothingStored::Failed(error)) => {
                    tracing::warn!(error = error.to_string(), "rounds could not be stored together");
                    // What could not even be taken from the queue does not wait for ever.
                    if judging.is_empty() {
                        judging = self.hand_ins.take(None).into_iter().map(|waiting| apart(waiting).1).collect();
                    }
                    for (request, to) in judging {
                        let this = self.clone();
                        let mut alone = Box::pin(async move {
                            let _ = to.send(this.hand_in_alone(request).await);
                        });
                        // Polled once here, so that it stands in the writer's queue before whatever came later.
                        if (&mut alone).now_or_never().is_none() {
                            tokio::spawn(alone);
                        }
                    }
                }
            }
        }
    }

    /// Judges and stores a hand-in in a change of its own.
    pub(in crate::league) async fn hand_in_alone(&self, request: Request) -> Result<Reply, Refusal> {
        let (this, card) = (self.clone(), request.clone());
        let answers = change!(self, request.sent.event, |conn| {
            this.judge_and_store(conn, vec![Card { request: card, prepared: None }]).await
        });
        let answer = match answers {
            Ok(mut answers) | Err(NothingStored::Refused(mut answers)) => answers.pop(),
            Err(NothingStored::Failed(refusal)) => Some(Err(refusal)),
        };
        self.told(&request, answer.unwrap_or_else(|| Err(StorageError::Busy.into())))
    }

    /// Tells of a round that was stored; returns what its sender is told.
    fn told(&self, request: &Request, answer: Answer) -> Result<Reply, Refusal> {
        let (reply, stored_in) = answer?;
        if let Some(league) = stored_in {
            self.boards.moved(request.sent.event);
            self.weighing.came_in(league);
        }
        Ok(reply)
    }

    /// Takes the next hand-ins from the queue, judges and stores them. Where other servers write too, leagues are locked
    /// first: what comes in meanwhile is taken with the others.
    async fn store_next(&self, conn: &mut Conn, judging: &Mutex<Vec<Judging>>) -> Result<Vec<Answer>, NothingStored> {
        // Run again for another change's sake: what was taken from the queue is judged alone.
        if !judging.lock().unwrap_or_else(PoisonError::into_inner).is_empty() {
            return Err(StorageError::Busy.into());
        }
        let mut locked = None;
        if self.database.is_shared()
            && let Some((longest, others)) = self.hand_ins.wanted().split_first()
        {
            Scope::from(*longest).lock(conn).await?;
            let mut leagues = leagues::lock_free(conn, others).await?;
            leagues.push(*longest);
            locked = Some(leagues);
        }
        let next = self.hand_ins.take(locked.as_deref());
        let (cards, apart): (Vec<Card>, Vec<Judging>) = next.into_iter().map(apart).unzip();
        *judging.lock().unwrap_or_else(PoisonError::into_inner) = apart;
        self.judge_and_store(conn, cards).await
    }
}

/// Splits what waits into what is judged and who is answered.
fn apart((_, card, to): Waiting) -> (Card, Judging) {
    let judging = (card.request.clone(), to);
    (card, judging)
}
