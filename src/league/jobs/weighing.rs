//! Weighing: rounds that were handed in are taken into the evidence soon after, many at once.
//!
//! Evidence follows from the rounds alone, so a hand-in need not wait for it. Whatever reads evidence, or changes what it
//! was made from, weighs first what waits: nobody sees a state between. A batch is read and weighed beside the writer,
//! and kept if nobody weighed in the meantime.

use crate::change;
use crate::domain::audit::ledger::{Budget, Crossing, DigestKey, Ledger, Taken};
use crate::domain::audit::{Digest, KINDS};
use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId, SetupId};
use crate::league::finding::evidence;
use crate::league::memory::books::LeagueBook;
use crate::league::memory::to_weigh::PAUSE;
use crate::league::{Leagues, Refusal};
use crate::storage::weighing::{self, Weighed};
use crate::storage::{Conn, StorageError, evidence as stored, rounds};
use crate::tasks::Retry;
use jiff::Timestamp;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};
use tokio::time::sleep;

/// How many rounds a batch takes while others hand in: they wait for the writer as long as it is stored.
const FEW_ROUNDS: usize = 128;
/// How many rounds a batch takes otherwise. A batch writes each row of evidence that it changes once, however many rounds
/// of that player it takes.
const MOST_ROUNDS: usize = 2048;
/// How many bytes of evidence a batch holds in memory before it takes no further round.
const MOST_BYTES: usize = 32 * 1024 * 1024;
/// What is reckoned for the rows of a member on a set-up that have to be made first: half of what they are at most.
const NEW_BYTES: usize = KINDS.len() * 8 * 1024;
/// How long evidence waits at most for a pause.
const PATIENCE: Duration = Duration::from_secs(10);

/// The pause after a first failure.
const AGAIN: Duration = Duration::from_secs(1);
/// How often a server looks for rounds that an import beside it, or a server that stopped, left to be weighed.
const LOOK: Duration = Duration::from_secs(60);

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
    ledger: Ledger,
    /// Whose rounds are in it, on which set-ups.
    taken: BTreeSet<(MemberId, Option<SetupId>)>,
    rounds: Vec<(EventId, Taken)>,
}

/// What a part of a batch comes to.
struct Outcome {
    after: Ledger,
    taken: BTreeSet<(MemberId, Option<SetupId>)>,
    sums_before: BTreeMap<DigestKey, Digest>,
    openings: Vec<(EventId, Crossing)>,
    setups: BTreeSet<SetupId>,
}

/// What a batch comes to.
struct Outcomes {
    league: LeagueId,
    from: Weighed,
    upto: i64,
    rounds: usize,
    seasons: BTreeMap<SeasonId, Outcome>,
}

impl Batch {
    /// Reads what waits, up to so many rounds; `None` if nothing does.
    async fn read(conn: &mut Conn, book: &LeagueBook, most: usize) -> Result<Option<Self>, StorageError> {
        let league = book.league;
        let Some(from) = weighing::weighed(conn, league).await? else { return Ok(None) };
        let rows = weighing::rounds_after(conn, league, from.upto, most).await?;
        if rows.is_empty() {
            return Ok(None);
        }
        let mut batch = Self { league, from, upto: from.upto, seasons: BTreeMap::new() };
        let mut held = 0;
        for row in &rows {
            if held >= MOST_BYTES {
                break;
            }
            batch.upto = row.seq;
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
            let whose = (row.member, row.setup);
            if part.taken.insert(whose) {
                let known = stored::of_member(conn, league, night.season, row.member, row.setup).await?;
                let is_new = !known.rows.keys().any(|key| (key.member, key.setup) == whose);
                held += if is_new { NEW_BYTES } else { 0 };
                for (key, state) in known.rows {
                    let size = state.size();
                    held += if part.ledger.rows.insert(key, state).is_none() { size } else { 0 };
                }
                part.ledger.few.extend(known.few);
                part.ledger.digests.extend(known.digests);
            }
            part.rounds.push((row.event, taken));
        }
        Ok(Some(batch))
    }

    /// Takes the rounds in, one after the other, and finds what crosses.
    fn weigh(self) -> Outcomes {
        let Self { league, from, upto, seasons } = self;
        let rounds = seasons.values().map(|part| part.rounds.len()).sum();
        let seasons = seasons.into_iter().map(|(season, part)| (season, part.weigh())).collect();
        Outcomes { league, from, upto, rounds, seasons }
    }
}

impl Outcomes {
    /// Keeps what a batch came to; `false` if somebody else weighed in the meantime.
    async fn keep(&self, conn: &mut Conn, book: &LeagueBook, now: Timestamp) -> Result<bool, Refusal> {
        if weighing::weighed(conn, self.league).await?.map(|now| now.upto) != Some(self.from.upto) {
            return Ok(false);
        }
        for (season, Outcome { after, taken, sums_before, openings, setups }) in &self.seasons {
            stored::store_taken(conn, self.league, *season, taken, sums_before, after).await?;
            for (event, crossing) in openings {
                evidence::open(conn, book, *season, crossing, *event, now).await?;
            }
            evidence::concern_users(conn, book, *season, &after.restarts, setups, now).await?;
        }
        weighing::set_weighed(conn, self.league, self.upto).await?;
        Ok(true)
    }
}

impl Part {
    /// Reads what holds for a whole season; `None` for one that is gone.
    async fn read(conn: &mut Conn, book: &LeagueBook, season: SeasonId) -> Result<Option<Self>, StorageError> {
        let Some(budget) = evidence::budget(conn, book, season).await? else { return Ok(None) };
        let ledger = stored::begun(conn, book.league, season).await?;
        Ok(Some(Self { budget, ledger, taken: BTreeSet::new(), rounds: Vec::new() }))
    }

    fn weigh(self) -> Outcome {
        let Self { budget, ledger: mut after, taken, rounds } = self;
        let sums_before = after.digests.clone();
        let (mut openings, mut setups) = (Vec::new(), BTreeSet::new());
        let mut opened = BTreeSet::new();
        for (event, round) in rounds {
            after.take(&round);
            for crossing in after.crossings_around(round.member, budget) {
                if opened.insert((crossing.kind.name, crossing.about)) {
                    openings.push((event, crossing));
                }
            }
            setups.extend(after.setups_of(round.member));
        }
        Outcome { after, taken, sums_before, openings, setups }
    }
}

impl Leagues {
    /// Weighs what waits in a league, inside a change: before whatever the change does to rounds or to what they are
    /// weighed by.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn weigh_now(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        now: Timestamp,
    ) -> Result<(), Refusal> {
        let Some(Weighed { seq, upto, .. }) = weighing::weighed(conn, league).await? else { return Ok(()) };
        if seq == upto {
            return Ok(());
        }
        let book = self.books.of(conn, league).await?;
        conn.think_long().await?;
        while let Some(batch) = Batch::read(conn, &book, MOST_ROUNDS).await? {
            batch.weigh().keep(conn, &book, now).await?;
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
        let most = if self.is_quiet() { MOST_ROUNDS } else { FEW_ROUNDS };
        let Some(batch) = Batch::read(&mut conn, &book, most).await? else { return Ok(false) };
        drop(conn);
        let Ok(weighed) = tokio::task::spawn_blocking(move || Arc::new(batch.weigh())).await else {
            return Err(StorageError::Busy.into());
        };
        let (rounds, now) = (weighed.rounds as u64, self.now());
        let is_kept = change!(self, league, |conn| weighed.keep(conn, &book, now).await)?;
        if is_kept {
            let took = began.elapsed().as_micros() as u64;
            let inner = &self.weighing.0;
            inner.rounds.fetch_add(rounds, Ordering::Relaxed);
            inner.micros.fetch_add(took, Ordering::Relaxed);
        }
        Ok(true)
    }

    /// Says whether nobody hands in.
    fn is_quiet(&self) -> bool {
        !self.hand_ins.is_draining() && self.weighing.is_quiet()
    }

    /// Waits until nobody hands in, but not for ever.
    async fn pause(&self) {
        let began = Instant::now();
        while began.elapsed() < PATIENCE && !self.is_quiet() {
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
