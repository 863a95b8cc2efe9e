//! Rounds that come in together: what can be worked out beforehand is, and one change stores them all.
//!
//! A card that is plainly in order is read, checked and derived beside the writer, against the book and the member's
//! rounds as they were last known. In its turn one statement tells whether they still are and whether the round is new;
//! whatever is not plain takes the long way of [`hand_in`](super::hand_in), alone.

use super::books::LeagueBook;
use super::cards::Rounds;
use super::hand_in::HandIn;
use super::kept_answers::boiled;
use super::keys::{RequestKey, created};
use super::rounds::{content_hash_input, entry, is_ordered, setup_faults};
use super::views::RoundView;
use super::{Leagues, Refusal, derive};
use crate::bundle::card_faults;
use crate::change;
use crate::domain::facts::{EventState, Role};
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::season::{self, Life};
use crate::storage::db::Value;
use crate::storage::idempotency::{self, Reply};
use crate::storage::journal::{Act, Head};
use crate::storage::rounds::{self, RoundRow};
use crate::storage::together::{Asked, Found, Rows, known};
use crate::storage::{Conn, Scope, StorageError, documents, evidence, leagues, results};
use futures_util::FutureExt;
use sha2::{Digest, Sha256};
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet, VecDeque};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::runtime::Handle;
use tokio::sync::oneshot;
use uuid::Uuid;

/// How many rounds may wait.
const MOST_WAITING: usize = 256;
/// How many rounds are stored at once.
const MOST_TOGETHER: usize = 64;

/// A round that was found in order.
struct Ready {
    key: RequestKey,
    /// As it came.
    sent: Arc<HandIn>,
    book: Arc<LeagueBook>,
    mark: i64,
    sender: (MemberId, Role),
    /// Its number is still to be given.
    row: RoundRow,
    content: [u8; 32],
    entry: season::Entry,
    holes: Vec<Value>,
    putts: Vec<Value>,
    derived: Option<Derived>,
}

/// What follows from a round, given the member's rounds before it.
struct Derived {
    before: Rounds,
    after: Rounds,
    /// The places of earlier rounds whose figures are others now.
    changed: Vec<usize>,
    shown: BTreeSet<(SeasonId, EventId)>,
    result: Vec<Value>,
    reply: Reply,
    kept: Vec<Value>,
}

type Waiting = (Ready, oneshot::Sender<Result<Reply, Refusal>>);

/// Rounds that wait to be stored together.
#[derive(Clone)]
pub struct HandIns(Arc<Inner>);

struct Inner {
    /// Where they are stored: beside the writer, so that the next do not wait behind requests that are being read.
    runtime: Handle,
    /// One for all leagues where one connection writes; where many do, one for each league.
    queues: Mutex<HashMap<LeagueId, Queue>>,
    derived: AtomicU64,
    nanos: AtomicU64,
}

/// Rounds that wait behind those that are being stored.
type Queue = VecDeque<Waiting>;

impl HandIns {
    /// Begins with none waiting; `runtime` will store them.
    pub fn on(runtime: Handle) -> Self {
        let (queues, derived, nanos) = Default::default();
        Self(Arc::new(Inner { runtime, queues, derived, nanos }))
    }

    /// Returns how many rounds wait now.
    pub fn waiting(&self) -> usize {
        self.queues().values().map(Queue::len).sum()
    }

    /// Says whether rounds are being stored.
    pub fn is_worked(&self) -> bool {
        !self.queues().is_empty()
    }

    /// Returns how many times it was worked out what follows from a round, and how long that took.
    pub fn derived(&self) -> (u64, Duration) {
        let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
        (count(&self.0.derived), Duration::from_nanos(count(&self.0.nanos)))
    }

    fn queues(&self) -> MutexGuard<'_, HashMap<LeagueId, Queue>> {
        self.0.queues.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes the next rounds of a queue; a queue that is empty is gone.
    fn next(&self, of: LeagueId) -> Vec<Waiting> {
        let mut queues = self.queues();
        let Some(queue) = queues.get_mut(&of).filter(|queue| !queue.is_empty()) else {
            queues.remove(&of);
            return Vec::new();
        };
        let most = queue.len().min(MOST_TOGETHER);
        queue.drain(..most).collect()
    }
}

impl Ready {
    /// Works out what follows from the round after the member's rounds before it.
    fn derive(&self, before: Rounds, tallies: &Inner) -> Derived {
        let began = Instant::now();
        let mut after = before.as_ref().clone();
        let (changed, shown) = derive::followed_by(&self.book, &mut after, self.entry.clone());
        let season = self.season();
        let (result, figures) = match after.last() {
            Some(new) => (results::row_values(self.book.league, season, new), new.figures.as_ref()),
            None => (Vec::new(), None),
        };
        tallies.derived.fetch_add(1, Ordering::Relaxed);
        tallies.nanos.fetch_add(began.elapsed().as_nanos() as u64, Ordering::Relaxed);
        let view = RoundView::of(&self.row, self.sent.round.clone(), figures);
        let reply = created(format!("/api/v1/rounds/{}", self.row.id), self.row.version, &view);
        let RequestKey { caller, operation, key, body_hash, now } = &self.key;
        let boiled = boiled(&reply, &view);
        let kept = key.map(|key| idempotency::row_values(caller.account, operation, key, *body_hash, &boiled, *now));
        Derived { before, after: Arc::new(after), changed, shown, result, reply, kept: kept.unwrap_or_default() }
    }

    fn season(&self) -> SeasonId {
        self.book.book.nights[&self.row.event].season
    }

    fn asked(&self) -> Asked<'_> {
        Asked {
            event: self.row.event,
            account: self.key.caller.account,
            member: self.row.member,
            client_round_id: self.row.client_round_id,
            session: self.sent.session,
            operation: &self.key.operation,
            key: self.key.key,
        }
    }

    /// Says whether what was taken for granted holds.
    fn still_holds(&self, found: &Found) -> bool {
        !found.is_known
            && self.sent.season.is_none_or(|season| season == found.season)
            && (found.league, found.season) == (self.book.league, self.season())
            && found.book_mark == self.mark
            && (found.sender, found.role) == self.sender
    }

    /// Says whether the member, on that set-up, took part in the season before.
    fn took_part(&self, before: &Rounds) -> bool {
        before.iter().any(|known| {
            let night = self.book.book.nights.get(&known.entry.event);
            known.entry.setup == self.row.setup && night.is_some_and(|night| night.season == self.season())
        })
    }
}

/// Where a league stands while rounds are stored.
struct Standing {
    before: Head,
    head: Head,
    seq: i64,
    rounds: Vec<(MemberId, Rounds)>,
}

impl Leagues {
    /// Hands in a round beside others, if it is plainly in order; gives it back where it is not.
    pub(super) async fn hand_in_together(
        &self,
        key: RequestKey,
        hand_in: HandIn,
    ) -> Result<Result<Reply, Refusal>, Box<(RequestKey, HandIn)>> {
        let ready = self.ready(key, hand_in)?;
        let (answer, answered) = oneshot::channel();
        {
            let of = if self.database.is_shared() { ready.row.league } else { LeagueId(Uuid::nil()) };
            let mut queues = self.hand_ins.queues();
            if queues.values().map(Queue::len).sum::<usize>() >= MOST_WAITING {
                return Ok(Err(StorageError::Busy.into()));
            }
            match queues.entry(of) {
                Entry::Occupied(mut queue) => queue.get_mut().push_back((ready, answer)),
                Entry::Vacant(place) => {
                    place.insert(Queue::from([(ready, answer)]));
                    self.hand_ins.0.runtime.spawn(self.clone().work_off(of));
                }
            }
        }
        Ok(answered.await.unwrap_or_else(|_| Err(StorageError::Busy.into())))
    }

    /// Reads, checks and derives a round against what is remembered; gives it back if that does not do.
    fn ready(&self, key: RequestKey, mut sent: HandIn) -> Result<Ready, Box<(RequestKey, HandIn)>> {
        let event = sent.event;
        let Some((mark, book)) = self.books.with_event(event) else { return Err(Box::new((key, sent))) };
        let (Some(sender), Some(night)) =
            (book.accounts.get(&key.caller.account).copied(), book.book.nights.get(&event))
        else {
            return Err(Box::new((key, sent)));
        };
        if !sent.names_member {
            sent.round.member_id = sender.0;
        }
        let round = &sent.round;
        let is_own = round.member_id == sender.0 || sender.1 != Role::Player;
        let is_plain = is_own
            && night.event.state_at(key.now) == EventState::Open
            && book.book.members.contains_key(&round.member_id)
            && is_ordered(round)
            && setup_faults(&book, round).is_empty()
            && card_faults(&book.book, night, round).is_empty();
        if !is_plain {
            return Err(Box::new((key, sent)));
        }
        let content: [u8; 32] = Sha256::digest(content_hash_input(round)).into();
        let declared = round.setup_id.and_then(|setup| book.setups.get(&setup));
        let life = Life::new(false, false);
        let row = RoundRow {
            id: RoundId(Uuid::now_v7()),
            league: book.league,
            event,
            member: round.member_id,
            setup: round.setup_id,
            client_round_id: round.client_round_id,
            first_body_hash: content.to_vec(),
            played_on: round.played_on,
            outcome: round.outcome,
            state: life.state(),
            declared_radius_ft: declared.and_then(|(_, setup)| setup.softening_radius_ft).map(|feet| feet.get()),
            version: 1,
            seq: 0,
            received_at: key.now,
            version_seq: 0,
            version_at: key.now,
            sent_by: Some(sender.0),
            is_proposed: life.is_proposed,
            is_late: life.is_late,
            are_putts_excluded: false,
        };
        let entry = entry(&book, &row, round);
        let (holes, putts) = rounds::card_values(row.league, row.id, &round.holes);
        let lately = self.cards.lately(book.league, row.member);
        let sent = Arc::new(sent);
        let mut ready = Ready { key, sent, book, mark, sender, row, content, entry, holes, putts, derived: None };
        ready.derived = lately.map(|before| ready.derive(before, &self.hand_ins.0));
        Ok(ready)
    }

    /// Stores what waits, so many at once, until nothing does.
    async fn work_off(self, of: LeagueId) {
        let scope = if self.database.is_shared() { Scope::from(of) } else { Scope::Nothing };
        loop {
            let waiting = self.hand_ins.next(of);
            if waiting.is_empty() {
                return;
            }
            let (ready, answers): (Vec<Ready>, Vec<_>) = waiting.into_iter().unzip();
            let sent: Vec<(RequestKey, Arc<HandIn>, LeagueId)> =
                ready.iter().map(|ready| (ready.key.clone(), Arc::clone(&ready.sent), ready.row.league)).collect();
            let this = self.clone();
            let replies =
                change!(self, scope, |conn| this.store_together(conn, ready).await).unwrap_or_else(|error: Refusal| {
                    let text = error.to_string();
                    tracing::warn!(error = text, "rounds could not be stored together");
                    vec![None; sent.len()]
                });
            for ((reply, answer), (key, sent, league)) in replies.into_iter().zip(answers).zip(sent) {
                if let Some(reply) = reply {
                    self.boards.moved(sent.event);
                    self.weighing.came_in(league);
                    let _ = answer.send(Ok(reply));
                    continue;
                }
                let this = self.clone();
                let mut alone = Box::pin(async move {
                    let _ = answer.send(this.hand_in_alone(key, Arc::unwrap_or_clone(sent)).await);
                });
                // Polled once here, so that it stands in the writer's queue before whatever came later.
                if (&mut alone).now_or_never().is_none() {
                    tokio::spawn(alone);
                }
            }
        }
    }

    /// Stores rounds with everything that follows from them; returns no answer to those that take the long way.
    async fn store_together(&self, conn: &mut Conn, all: Vec<Ready>) -> Result<Vec<Option<Reply>>, Refusal> {
        let asked: Vec<Asked<'_>> = all.iter().map(Ready::asked).collect();
        let known = known(conn, &asked).await?;
        let mut standings: BTreeMap<LeagueId, Standing> = BTreeMap::new();
        let (mut rows, mut shown) = (Rows::default(), BTreeSet::new());
        let mut seen: HashSet<Uuid> = HashSet::new();
        let mut replies = Vec::with_capacity(all.len());
        for (mut ready, found) in all.into_iter().zip(known) {
            let found = found.filter(|found| ready.still_holds(found));
            // A second round of a member, or a second use of a key, waits for the first.
            let is_first = seen.insert(ready.row.member.0) & ready.key.key.is_none_or(|key| seen.insert(key));
            let (Some(found), true) = (found, is_first) else {
                replies.push(None);
                continue;
            };
            let league = found.league;
            if found.is_in_play {
                rounds::end_play(conn, league, ready.row.event, ready.row.member).await?;
            }
            let standing = standings.entry(league).or_insert_with(|| Standing {
                before: found.head.clone(),
                head: found.head,
                seq: found.seq,
                rounds: Vec::new(),
            });
            replies.push(Some(self.add(conn, &mut ready, standing, &mut rows, &mut shown).await?));
        }
        rows.insert(conn).await?;
        for (league, season, event) in shown {
            documents::show_anew(conn, league, season, event).await?;
        }
        for (league, standing) in standings {
            leagues::advance(conn, league, standing.seq, &standing.head).await?;
            self.cards.remember(league, &standing.before, standing.head, standing.rounds);
        }
        Ok(replies)
    }

    /// Gives a round its number and adds its rows; returns its answer.
    async fn add(
        &self,
        conn: &mut Conn,
        ready: &mut Ready,
        standing: &mut Standing,
        rows: &mut Rows,
        shown: &mut BTreeSet<(LeagueId, SeasonId, EventId)>,
    ) -> Result<Reply, Refusal> {
        let (league, member) = (ready.row.league, ready.row.member);
        let before = match self.cards.of_member(league, &standing.before, member) {
            Some(before) => before,
            None => Arc::new(results::of_member(conn, league, member).await?),
        };
        let derived = match ready.derived.take() {
            Some(derived) if Arc::ptr_eq(&derived.before, &before) => derived,
            _ => ready.derive(before, &self.hand_ins.0),
        };
        for place in derived.changed {
            let known = &derived.after[place];
            results::set_figures(conn, league, member, known.entry.id, known.figures.as_ref()).await?;
        }
        if !ready.took_part(&derived.before) {
            evidence::took_part(conn, league, ready.season(), member, ready.row.setup).await?;
        }
        standing.seq += 1;
        (ready.row.seq, ready.row.version_seq) = (standing.seq, standing.seq);
        let by = Some(ready.key.caller.account);
        let act = Act { by, act: "hand_in", kind: "round", id: ready.row.id.0, content: &[] };
        rows.journal.extend(standing.head.step(league, act, ready.content, ready.key.now));
        rows.rounds.extend(rounds::row_values(&ready.row));
        rows.holes.append(&mut ready.holes);
        rows.putts.append(&mut ready.putts);
        rows.results.extend(derived.result);
        rows.replies.extend(derived.kept);
        shown.extend(derived.shown.into_iter().map(|(season, event)| (league, season, event)));
        standing.rounds.push((member, derived.after));
        Ok(derived.reply)
    }
}
