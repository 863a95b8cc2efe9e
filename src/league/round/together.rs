//! Hand-ins together: one change judges and stores all that wait.

use crate::change;
use crate::domain::ids::LeagueId;
use crate::league::round::queue::{Answer, Card, Judging, MOST_WAITING, NothingStored, Turn, apart};
use crate::league::round::request::Request;
use crate::league::{Leagues, Refusal};
use crate::storage::idempotency::Reply;
use crate::storage::{Conn, Scope, StorageError, leagues};
use futures_util::FutureExt;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::oneshot;

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
