//! Members' rounds as the derivation sees them, kept between hand-ins. They hold as long as their mark is the one that the
//! database tells, whoever wrote since.

use crate::domain::ids::{LeagueId, MemberId};
use crate::storage::results::{StoredResult, mark};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many rounds are remembered in all.
const MOST_ROUNDS: usize = 200_000;

/// A member's rounds in the order received. Those before and after a hand-in share all that it left as they were.
pub type Rounds = Arc<Vec<Arc<StoredResult>>>;

#[derive(Default)]
struct Known {
    members: HashMap<(LeagueId, MemberId), Rounds>,
    rounds: usize,
}

/// What is remembered.
#[derive(Clone, Default)]
pub struct Cards(Arc<Mutex<Known>>);

impl Cards {
    /// Returns a member's rounds, if those that are remembered have that mark.
    pub fn of_member(&self, league: LeagueId, member: MemberId, at: i64) -> Option<Rounds> {
        self.lately(league, member).filter(|rounds| mark(rounds) == at)
    }

    /// Returns a member's rounds as they were last remembered, for whoever looks later whether they still are.
    pub fn lately(&self, league: LeagueId, member: MemberId) -> Option<Rounds> {
        self.known().members.get(&(league, member)).cloned()
    }

    /// Remembers members' rounds. They need not be on disk yet: a change that is undone leaves another mark.
    pub fn remember(&self, rounds: impl IntoIterator<Item = ((LeagueId, MemberId), Rounds)>) {
        let mut known = self.known();
        if known.rounds >= MOST_ROUNDS {
            *known = Known::default();
        }
        for (whose, rounds) in rounds {
            known.rounds += rounds.len();
            let before = known.members.insert(whose, rounds);
            known.rounds -= before.map_or(0, |before| before.len());
        }
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
