//! Rounds that come in together: what can be worked out beforehand is, and one change stores them all.
//!
//! A card that is plainly in order is read, checked and derived beside the writer, against the book and the member's
//! rounds as they were last known. In its turn one statement tells whether they still are and whether the round is new;
//! whatever is not plain takes the long way of [`hand_in`](super::hand_in), alone.

use super::boiled::entry;
use super::books::LeagueBook;
use super::card_faults::{Dates, faults_of};
use super::cards::Rounds;
use super::hand_in::HandIn;
use super::kept_answers::boiled;
use super::keys::{RequestKey, created};
use super::rounds::{content_hash_input, is_ordered};
use super::views::RoundView;
use super::{Leagues, Refusal, derive};
use crate::change;
use crate::domain::facts::{EventState, Role};
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::season::{self, Life};
use crate::storage::idempotency::{self, Reply};
use crate::storage::journal::{Act, Head};
use crate::storage::results::StoredResult;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row::Value;
use crate::storage::together::{Asked, Found, Rows, known};
use crate::storage::{Conn, Scope, StorageError, documents, evidence, leagues, results, row_hashes};
use futures_util::FutureExt;
use sha2::{Digest, Sha256};
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
/// Of more than two such handfuls only whole ones are stored at once: SQLite then takes their rows in fewer statements.
const HANDFUL: usize = 8;
/// For so many rounds that wait no further league is locked: other servers want some too. Of 4, 16 and 64, on two
/// cores, none was better than another by more than runs differ.
const ENOUGH: usize = 16;

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

/// A round that waits, and who waits for its answer.
type Waiting = (Ready, oneshot::Sender<Result<Reply, Refusal>>);

/// A round that is being stored: enough to hand it in alone, if it comes to that.
type Taken = (RequestKey, Arc<HandIn>, LeagueId, oneshot::Sender<Result<Reply, Refusal>>);

/// Rounds that wait to be stored together.
#[derive(Clone)]
pub struct HandIns(Arc<Inner>);

struct Inner {
    /// Where they are stored: beside the writer, so that the next do not wait behind requests that are being read.
    runtime: Handle,
    queue: Mutex<Queue>,
    derived: AtomicU64,
    nanos: AtomicU64,
}

/// Rounds that wait behind those that are being stored.
#[derive(Default)]
struct Queue {
    waiting: VecDeque<Waiting>,
    is_worked: bool,
}

impl HandIns {
    /// Begins with none waiting; `runtime` will store them.
    pub fn on(runtime: Handle) -> Self {
        let (queue, derived, nanos) = Default::default();
        Self(Arc::new(Inner { runtime, queue, derived, nanos }))
    }

    /// Returns how many rounds wait now.
    pub fn waiting(&self) -> usize {
        self.queue().waiting.len()
    }

    /// Says whether rounds are being stored.
    pub fn is_worked(&self) -> bool {
        self.queue().is_worked
    }

    /// Returns how many times it was worked out what follows from a round, and how long that took.
    pub fn derived(&self) -> (u64, Duration) {
        let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
        (count(&self.0.derived), Duration::from_nanos(count(&self.0.nanos)))
    }

    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.0.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Says that rounds are no longer stored, because whoever did it was ended: those that wait are refused.
    fn abandon(&self) {
        let mut queue = self.queue();
        queue.is_worked = false;
        queue.waiting.clear();
    }

    /// Says whether a round waits; whoever is told that none does has no more to do.
    fn goes_on(&self) -> bool {
        let mut queue = self.queue();
        queue.is_worked = !queue.waiting.is_empty();
        queue.is_worked
    }

    /// Returns leagues with enough rounds that wait, that of the one which waits longest first.
    fn wanted(&self) -> Vec<LeagueId> {
        let queue = self.queue();
        let mut rounds: HashMap<LeagueId, usize> = HashMap::new();
        for (ready, _) in &queue.waiting {
            *rounds.entry(ready.row.league).or_default() += 1;
        }
        let (mut wanted, mut enough) = (Vec::new(), 0);
        for (ready, _) in &queue.waiting {
            let league = ready.row.league;
            if enough < ENOUGH && !wanted.contains(&league) {
                wanted.push(league);
                enough += rounds[&league];
            }
        }
        wanted
    }

    /// Takes all rounds that wait.
    fn take_all(&self) -> VecDeque<Waiting> {
        std::mem::take(&mut self.queue().waiting)
    }

    /// Takes the rounds that wait, of leagues if those are named.
    fn take(&self, of: Option<&[LeagueId]>) -> Vec<Waiting> {
        let mut queue = self.queue();
        let most = match queue.waiting.len().min(MOST_TOGETHER) {
            many if of.is_none() && many > 2 * HANDFUL => many / HANDFUL * HANDFUL,
            any => any,
        };
        let mut taken = Vec::new();
        let mut others = VecDeque::with_capacity(queue.waiting.len());
        for waiting in queue.waiting.drain(..) {
            let is_wanted = of.is_none_or(|leagues| leagues.contains(&waiting.0.row.league));
            if is_wanted && taken.len() < most {
                taken.push(waiting);
            } else {
                others.push_back(waiting);
            }
        }
        queue.waiting = others;
        taken
    }
}

/// Whoever stores rounds holds this. Without it a panic would leave all later rounds waiting.
struct Turn(HandIns);

impl Drop for Turn {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.abandon();
        }
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
    seq: i64,
    head: Head,
}

/// What is to be stored of rounds together.
#[derive(Default)]
struct Work {
    rows: Rows,
    standings: BTreeMap<LeagueId, Standing>,
    /// What other figures follow for earlier rounds.
    changed: Vec<(LeagueId, StoredResult)>,
    shown: BTreeSet<(LeagueId, SeasonId, EventId)>,
    rounds: Vec<((LeagueId, MemberId), Rounds)>,
}

impl Work {
    /// Gives a round its number and adds what is to be stored of it; returns its answer.
    fn add(&mut self, mut ready: Ready, derived: Derived, found: Found) -> Reply {
        let (league, member) = (ready.row.league, ready.row.member);
        self.changed.extend(derived.changed.iter().map(|place| (league, derived.after[*place].clone())));
        if !ready.took_part(&derived.before) {
            self.rows.field.extend(evidence::field_values(league, ready.season(), member, ready.row.setup));
        }
        let standing = self.standings.entry(league).or_insert(Standing { seq: found.seq, head: found.head });
        standing.seq += 1;
        (ready.row.seq, ready.row.version_seq) = (standing.seq, standing.seq);
        let by = Some(ready.key.caller.account);
        let act = Act { by, act: "hand_in", kind: "round", id: ready.row.id.0, content: &[], rows: &[] };
        let row = rounds::row_values(&ready.row);
        let hashes = vec![row_hashes::of_round(&row)];
        self.rows.journal.extend(standing.head.step(league, act, ready.content, hashes, ready.key.now));
        self.rows.rounds.extend(row);
        self.rows.holes.append(&mut ready.holes);
        self.rows.putts.append(&mut ready.putts);
        self.rows.results.extend(derived.result);
        self.rows.replies.extend(derived.kept);
        self.shown.extend(derived.shown.into_iter().map(|(season, event)| (league, season, event)));
        self.rounds.push(((league, member), derived.after));
        derived.reply
    }

    /// Stores it; returns what may be remembered.
    async fn store(self, conn: &mut Conn) -> Result<Vec<((LeagueId, MemberId), Rounds)>, StorageError> {
        self.rows.insert(conn).await?;
        for (league, result) in &self.changed {
            results::set_figures(conn, *league, result).await?;
        }
        documents::show_anew(conn, self.shown).await?;
        let moved = self.standings.into_iter().map(|(league, Standing { seq, head })| (league, seq, head));
        leagues::advance(conn, moved).await?;
        Ok(self.rounds)
    }
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
            let mut queue = self.hand_ins.queue();
            if queue.waiting.len() >= MOST_WAITING {
                return Ok(Err(StorageError::Busy.into()));
            }
            queue.waiting.push_back((ready, answer));
            if !std::mem::replace(&mut queue.is_worked, true) {
                self.hand_ins.0.runtime.spawn(self.clone().work_off());
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
        let dates = Dates { now: key.now, is_confirmed: sent.confirms_dates, known: None };
        let is_own = round.member_id == sender.0 || sender.1 != Role::Player;
        let is_plain = is_own
            && night.event.state_at(key.now) == EventState::Open
            && book.book.members.contains_key(&round.member_id)
            && is_ordered(round)
            && faults_of(&book, night, round, &dates).is_empty();
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
    async fn work_off(self) {
        let _turn = Turn(self.hand_ins.clone());
        while self.hand_ins.goes_on() {
            let taken: Arc<Mutex<Vec<Taken>>> = Arc::default();
            let (this, by_change) = (self.clone(), Arc::clone(&taken));
            let replies: Result<_, Refusal> =
                change!(self, Scope::Nothing, |conn| this.store_next(conn, &by_change).await);
            let mut taken = std::mem::take(&mut *taken.lock().unwrap_or_else(PoisonError::into_inner));
            let replies = match replies {
                Ok(replies) => replies,
                // Whoever waits would only wait again, and meet the same. What became of a commit the key settles.
                Err(Refusal::Storage(StorageError::Away)) => {
                    let waiting = self.hand_ins.take_all().into_iter().map(|waiting| apart(waiting).1);
                    for (_, _, _, answer) in taken.into_iter().chain(waiting) {
                        let _ = answer.send(Err(StorageError::Away.into()));
                    }
                    continue;
                }
                Err(error) => {
                    tracing::warn!(error = error.to_string(), "rounds could not be stored together");
                    // What could not even be taken does not wait for ever.
                    if taken.is_empty() {
                        taken = self.hand_ins.take(None).into_iter().map(|waiting| apart(waiting).1).collect();
                    }
                    vec![None; taken.len()]
                }
            };
            for (reply, (key, sent, league, answer)) in replies.into_iter().zip(taken) {
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

    /// Takes the next rounds and stores them. Where other servers write too, leagues are locked first: what comes in
    /// meanwhile is taken with the others.
    async fn store_next(&self, conn: &mut Conn, taken: &Mutex<Vec<Taken>>) -> Result<Vec<Option<Reply>>, Refusal> {
        // Run again for another change's sake: what was taken goes the long way.
        if !taken.lock().unwrap_or_else(PoisonError::into_inner).is_empty() {
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
        let (ready, apart): (Vec<Ready>, Vec<Taken>) = next.into_iter().map(apart).unzip();
        *taken.lock().unwrap_or_else(PoisonError::into_inner) = apart;
        self.store_together(conn, ready).await
    }

    /// Stores rounds with everything that follows from them; returns no answer to those that take the long way.
    async fn store_together(&self, conn: &mut Conn, all: Vec<Ready>) -> Result<Vec<Option<Reply>>, Refusal> {
        let asked: Vec<Asked<'_>> = all.iter().map(Ready::asked).collect();
        let known = known(conn, &asked).await?;
        let mut seen: HashSet<Uuid> = HashSet::new();
        let mut good = Vec::with_capacity(all.len());
        let mut unknown = Vec::new();
        for (ready, found) in all.into_iter().zip(known) {
            let found = found.filter(|found| ready.still_holds(found));
            // A second round of a member, or a second use of a key, waits for the first.
            let is_first = seen.insert(ready.row.member.0) & ready.key.key.is_none_or(|key| seen.insert(key));
            let Some(found) = found.filter(|_| is_first) else {
                good.push(None);
                continue;
            };
            if found.is_in_play {
                rounds::end_play(conn, found.league, ready.row.event, ready.row.member).await?;
            }
            let before = self.cards.of_member(found.league, ready.row.member, found.rounds_mark);
            if before.is_none() {
                unknown.push((found.league, ready.row.member));
            }
            good.push(Some((ready, found, before)));
        }
        let mut read = results::of_members(conn, unknown).await?;
        let mut work = Work::default();
        let mut replies = Vec::with_capacity(good.len());
        for good in good {
            replies.push(good.map(|(mut ready, found, before)| {
                let before = before.unwrap_or_else(|| Arc::new(read.remove(&ready.row.member).unwrap_or_default()));
                let derived = match ready.derived.take() {
                    Some(derived) if Arc::ptr_eq(&derived.before, &before) => derived,
                    _ => ready.derive(before, &self.hand_ins.0),
                };
                work.add(ready, derived, found)
            }));
        }
        self.cards.remember(work.store(conn).await?);
        Ok(replies)
    }
}

/// Splits what waits into what is stored and what is answered.
fn apart((ready, answer): Waiting) -> (Ready, Taken) {
    let taken = (ready.key.clone(), Arc::clone(&ready.sent), ready.row.league, answer);
    (ready, taken)
}
