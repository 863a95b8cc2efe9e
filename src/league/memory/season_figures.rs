//! Figures of seasons as they were last read. Whatever moves a figure of an event moves the event's mark, and figures that
//! move get another stamp: of events whose mark has moved the stamps are read, and figures that were not known with theirs.

use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::season::Figures;
use crate::storage::results::{self, Stamped};
use crate::storage::{Conn, StorageError, documents};
use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many rounds' figures are remembered in all.
const MOST_ROUNDS: usize = 50_000;

/// The figures of an event's counting rounds, with the event's mark.
#[derive(Clone)]
struct OfEvent {
    mark: i64,
    rounds: Arc<Rounds>,
}

type Rounds = BTreeMap<(MemberId, RoundId), Stamped>;

type OfSeason = BTreeMap<EventId, OfEvent>;

/// The figures that are remembered, by season.
#[derive(Clone, Default)]
pub struct SeasonFigures(Arc<Mutex<HashMap<SeasonId, OfSeason>>>);

impl SeasonFigures {
    fn remembered(&self) -> MutexGuard<'_, HashMap<SeasonId, OfSeason>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn remember(&self, season: SeasonId, events: OfSeason) {
        let rounds = |events: &OfSeason| events.values().map(|known| known.rounds.len()).sum::<usize>();
        let mut remembered = self.remembered();
        remembered.remove(&season);
        let others: usize = remembered.values().map(rounds).sum();
        if others + rounds(&events) > MOST_ROUNDS {
            remembered.clear();
        }
        remembered.insert(season, events);
    }
}

impl SeasonFigures {
    /// Returns the figures of a season's counting rounds, event by event.
    ///
    /// `conn` reads one state of the store and changes nothing: marks that are taken back are given again.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn of_season(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        season: SeasonId,
    ) -> Result<Vec<Arc<Figures>>, StorageError> {
        let events = self.events_of_season(conn, league, season).await?;
        let figures = figures_of(&events);
        self.remember(season, events);
        Ok(figures)
    }

    /// As [`of_season`](Self::of_season) inside a change, which may be undone: nothing is remembered of it.
    /// What is read grows with what moved since the season was last remembered, not with the season.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn in_change(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        season: SeasonId,
    ) -> Result<Vec<Arc<Figures>>, StorageError> {
        Ok(figures_of(&self.events_of_season(conn, league, season).await?))
    }

    async fn events_of_season(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        season: SeasonId,
    ) -> Result<OfSeason, StorageError> {
        let marks = documents::event_marks(conn, league, season).await?;
        let known = self.remembered().get(&season).cloned();
        match known {
            Some(known) => read_what_moved(conn, league, known, marks).await,
            None => read(conn, league, season, marks).await,
        }
    }
}

fn figures_of(events: &OfSeason) -> Vec<Arc<Figures>> {
    events.values().flat_map(|event| event.rounds.values().map(|round| Arc::clone(&round.figures))).collect()
}

async fn read(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    marks: BTreeMap<EventId, i64>,
) -> Result<OfSeason, StorageError> {
    let mut by_event: BTreeMap<EventId, Rounds> = BTreeMap::new();
    for round in results::stamped_of_season(conn, league, season).await? {
        let key = (round.figures.member, round.figures.round);
        by_event.entry(round.figures.event).or_default().insert(key, round);
    }
    let of = |(event, mark)| (event, OfEvent { mark, rounds: Arc::new(by_event.remove(&event).unwrap_or_default()) });
    Ok(marks.into_iter().map(of).collect())
}

async fn read_what_moved(
    conn: &mut Conn,
    league: LeagueId,
    mut known: OfSeason,
    marks: BTreeMap<EventId, i64>,
) -> Result<OfSeason, StorageError> {
    let mut events = OfSeason::new();
    for (event, mark) in marks {
        let before = known.remove(&event);
        if let Some(same) = before.as_ref().filter(|before| before.mark == mark) {
            events.insert(event, same.clone());
            continue;
        }
        let mut rounds = Rounds::new();
        for (key, stamp) in results::stamps_of_event(conn, league, event).await? {
            let same = before.as_ref().and_then(|before| before.rounds.get(&key)).filter(|known| known.stamp == stamp);
            let round = match same {
                Some(same) => Some(same.clone()),
                None => results::stamped_of_round(conn, league, key).await?,
            };
            rounds.extend(round.map(|round| (key, round)));
        }
        events.insert(event, OfEvent { mark, rounds: Arc::new(rounds) });
    }
    Ok(events)
}
