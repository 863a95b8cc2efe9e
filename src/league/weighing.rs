//! Weighing: rounds that were handed in are taken into the evidence soon after, many at once.
//!
//! Evidence follows from the rounds alone, so a hand-in need not wait for it. Whatever reads evidence, or changes what it
//! was made from, weighs first what waits: nobody sees a state between. A batch is read and weighed beside the writer,
//! and kept if nobody weighed in the meantime.

use super::books::LeagueBook;
use super::evidence;
use super::{Leagues, Refusal};
use crate::change;
use crate::domain::audit::ledger::{Budget, Crossing, Ledger, Taken};
use crate::domain::ids::{EventId, LeagueId, SeasonId, SetupId};
use crate::storage::weighing::{self, Weighed};
use crate::storage::{Conn, StorageError, evidence as stored, rounds};
use crate::tasks::Retry;
use jiff::Timestamp;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::Notify;
use tokio::time::sleep;

/// How many rounds are weighed at once.
const MOST_ROUNDS: usize = 128;
/// How long hand-ins have to pause before what waits is weighed.
const PAUSE: Duration = Duration::from_millis(100);
/// How long evidence waits at most for a pause.
const PATIENCE: Duration = Duration::from_secs(10);

/// The pause after a first failure.
const AGAIN: Duration = Duration::from_secs(1);
/// How often a server looks for rounds that an import beside it, or a server that stopped, left to be weighed.
const LOOK: Duration = Duration::from_secs(60);

/// What a server remembers of its weighing.
#[derive(Clone, Default)]
pub struct Weighing(Arc<Inner>);

#[derive(Default)]
struct Inner {
    due: Mutex<BTreeSet<LeagueId>>,
    last_hand_in: Mutex<Option<Instant>>,
    came_in: Notify,
    turn: tokio::sync::Mutex<()>,
    rounds: AtomicU64,
    micros: AtomicU64,
}

/// How much was weighed since the server started.
#[derive(Clone, Copy, Debug, Default)]
pub struct Weights {
    /// Rounds.
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
    fn put_off(&self, league: LeagueId) {
        self.0.due.lock().unwrap_or_else(PoisonError::into_inner).insert(league);
    }

    /// Returns how much was weighed.
    pub fn weights(&self) -> Weights {
        let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
        let took = Duration::from_micros(count(&self.0.micros));
        Weights { rounds: count(&self.0.rounds), took }
    }

    fn due(&self) -> BTreeSet<LeagueId> {
        std::mem::take(&mut *self.0.due.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn is_quiet(&self) -> bool {
        let last = *self.0.last_hand_in.lock().unwrap_or_else(PoisonError::into_inner);
        last.is_none_or(|last| last.elapsed() > PAUSE)
    }
}

/// Rounds that wait, with everything that weighing them takes.
struct Batch {
    league: LeagueId,
    from: Weighed,
    /// The last fact that is weighed with it.
    upto: i64,
    seasons: BTreeMap<SeasonId, Part>,
}

struct Part {
    budget: Budget,
    before: Ledger,
    rounds: Vec<(EventId, Taken)>,
}

/// What a batch comes to.
struct Outcome {
    after: Ledger,
    openings: Vec<(EventId, Crossing)>,
    setups: BTreeSet<SetupId>,
}

impl Batch {
    /// Reads what waits; `None` if nothing does.
    async fn read(conn: &mut Conn, book: &LeagueBook) -> Result<Option<Self>, StorageError> {
        let league = book.league;
        let Some(from) = weighing::weighed(conn, league).await? else { return Ok(None) };
        let rows = weighing::rounds_after(conn, league, from.upto, MOST_ROUNDS).await?;
        let Some(last) = rows.last() else { return Ok(None) };
        let mut batch = Self { league, from, upto: last.seq, seasons: BTreeMap::new() };
        let mut members = BTreeSet::new();
        for row in &rows {
            let Some(night) = book.book.nights.get(&row.event) else { continue };
            let round = rounds::whole(conn, row).await?;
            let Some(taken) = evidence::readings(book, row, &round, row.seq) else { continue };
            let part = match batch.seasons.entry(night.season) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(place) => match Part::read(conn, book, night.season).await? {
                    Some(part) => place.insert(part),
                    None => continue,
                },
            };
            if members.insert((night.season, row.member, row.setup)) {
                let known = stored::of_member(conn, league, night.season, row.member, row.setup).await?;
                part.before.rows.extend(known.rows);
                part.before.digests.extend(known.digests);
            }
            part.rounds.push((row.event, taken));
        }
        Ok(Some(batch))
    }

    fn rounds(&self) -> usize {
        self.seasons.values().map(|part| part.rounds.len()).sum()
    }

    /// Takes the rounds in, one after the other, and finds what crosses.
    fn weigh(&self) -> BTreeMap<SeasonId, Outcome> {
        self.seasons.iter().map(|(season, part)| (*season, part.weigh())).collect()
    }

    /// Keeps what a batch came to; `false` if somebody else weighed in the meantime.
    async fn keep(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        outcomes: &BTreeMap<SeasonId, Outcome>,
        now: Timestamp,
    ) -> Result<bool, Refusal> {
        if weighing::weighed(conn, self.league).await?.map(|now| now.upto) != Some(self.from.upto) {
            return Ok(false);
        }
        for (season, part) in &self.seasons {
            let outcome = &outcomes[season];
            stored::store(conn, self.league, *season, &part.before, &outcome.after).await?;
            for (event, crossing) in &outcome.openings {
                evidence::open(conn, book, *season, crossing, *event, now).await?;
            }
            evidence::concern_users(conn, book, *season, &part.before.restarts, &outcome.setups, now).await?;
        }
        weighing::set_weighed(conn, self.league, self.upto).await?;
        Ok(true)
    }
}

impl Part {
    /// Reads what holds for a whole season; `None` for one that is gone.
    async fn read(conn: &mut Conn, book: &LeagueBook, season: SeasonId) -> Result<Option<Self>, StorageError> {
        let Some(budget) = evidence::budget(conn, book, season).await? else { return Ok(None) };
        let before = stored::begun(conn, book.league, season).await?;
        Ok(Some(Self { budget, before, rounds: Vec::new() }))
    }

    fn weigh(&self) -> Outcome {
        let mut after = self.before.clone();
        let (mut openings, mut setups) = (Vec::new(), BTreeSet::new());
        let mut opened = BTreeSet::new();
        for (event, round) in &self.rounds {
            after.take(round);
            for crossing in after.crossings_around(round.member, self.budget) {
                if opened.insert((crossing.kind.name, crossing.about)) {
                    openings.push((*event, crossing));
                }
            }
            setups.extend(after.setups_of(round.member));
        }
        Outcome { after, openings, setups }
    }
}

impl Leagues {
    /// Weighs what waits in a league, inside a change: before whatever the change does to rounds or to what they are
    /// weighed by.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(super) async fn weigh_now(&self, conn: &mut Conn, league: LeagueId, now: Timestamp) -> Result<(), Refusal> {
        let Some(Weighed { seq, upto, .. }) = weighing::weighed(conn, league).await? else { return Ok(()) };
        if seq == upto {
            return Ok(());
        }
        let book = self.books.of(conn, league).await?;
        conn.think_long().await?;
        while let Some(batch) = Batch::read(conn, &book).await? {
            let outcomes = batch.weigh();
            batch.keep(conn, &book, &outcomes, now).await?;
        }
        // A card that is let in later has a lower number of its own, and is taken in then.
        weighing::set_weighed(conn, league, seq).await?;
        Ok(())
    }

    /// Weighs what waits in a league, beside the writer.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub async fn weighed(&self, league: LeagueId) -> Result<(), Refusal> {
        while self.weigh_some(league).await? {}
        Ok(())
    }

    /// Weighs a batch; says whether there was one.
    async fn weigh_some(&self, league: LeagueId) -> Result<bool, Refusal> {
        let mut conn = self.database.reader().await?;
        if !weighing::weighed(&mut conn, league).await?.is_some_and(|known| known.waits) {
            return Ok(false);
        }
        drop(conn);
        let _turn = self.weighing.0.turn.lock().await;
        let began = Instant::now();
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let book = self.books.of(&mut conn, league).await?;
        let Some(batch) = Batch::read(&mut conn, &book).await? else { return Ok(false) };
        drop(conn);
        let weigh = move || {
            let outcomes = batch.weigh();
            Arc::new((batch, outcomes))
        };
        let Ok(weighed) = tokio::task::spawn_blocking(weigh).await else {
            return Err(StorageError::Busy.into());
        };
        let (rounds, now) = (weighed.0.rounds() as u64, self.now());
        let is_kept = change!(self, league, |conn| weighed.0.keep(conn, &book, &weighed.1, now).await)?;
        if is_kept {
            let took = began.elapsed().as_micros() as u64;
            let inner = &self.weighing.0;
            inner.rounds.fetch_add(rounds, Ordering::Relaxed);
            inner.micros.fetch_add(took, Ordering::Relaxed);
        }
        Ok(true)
    }

    /// Waits until nobody hands in, but not for ever.
    async fn pause(&self) {
        let began = Instant::now();
        while began.elapsed() < PATIENCE && (self.hand_ins.is_worked() || !self.weighing.is_quiet()) {
            sleep(PAUSE / 4).await;
        }
    }

    /// Weighs what waits in every league.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub async fn all_weighed(&self) -> Result<(), Refusal> {
        let due = weighing::leagues(&mut self.database.reader().await?).await?;
        for league in due {
            self.weighed(league).await?;
        }
        Ok(())
    }
}

/// Weighs what an earlier run left, and then whatever comes in, in pauses between hand-ins.
pub async fn keep_up(leagues: Leagues) {
    let mut retry = Retry::new("rounds could not be taken into the evidence", AGAIN);
    while let Err(error) = leagues.all_weighed().await {
        sleep(retry.failed(error)).await;
    }
    loop {
        if tokio::time::timeout(LOOK, leagues.weighing.0.came_in.notified()).await.is_err() {
            while let Err(error) = leagues.all_weighed().await {
                sleep(retry.failed(error)).await;
            }
            retry.succeeded();
            continue;
        }
        leagues.pause().await;
        let mut failed = None;
        for league in leagues.weighing.due() {
            loop {
                match leagues.weigh_some(league).await {
                    Ok(true) => leagues.pause().await,
                    Ok(false) => break,
                    Err(error) => {
                        failed = Some(error);
                        leagues.weighing.put_off(league);
                        break;
                    }
                }
            }
        }
        match failed {
            Some(error) => {
                sleep(retry.failed(error)).await;
                leagues.weighing.0.came_in.notify_one();
            }
            None => retry.succeeded(),
        }
    }
}
