//! Members' rounds as the derivation sees them, kept between hand-ins.
//!
//! They hold as long as the head of the league's journal is the one under which they were kept: every change of a
//! league moves its head, and a change that was undone leaves the head where it was.

use crate::domain::ids::{LeagueId, MemberId};
use crate::storage::journal::Head;
use crate::storage::results::StoredResult;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many members are remembered in all.
const MOST_MEMBERS: usize = 20_000;

/// A member's rounds in the order received.
pub type Rounds = Arc<Vec<StoredResult>>;

#[derive(Default)]
struct OfLeague {
    head: Option<Head>,
    members: HashMap<MemberId, Rounds>,
}

/// What is remembered.
#[derive(Clone, Default)]
pub struct Cards(Arc<Mutex<HashMap<LeagueId, OfLeague>>>);

impl Cards {
    /// Returns a member's rounds, if they are remembered under that head.
    pub fn of_member(&self, league: LeagueId, head: &Head, member: MemberId) -> Option<Rounds> {
        let leagues = self.leagues();
        let known = leagues.get(&league).filter(|known| known.head.as_ref() == Some(head))?;
        known.members.get(&member).cloned()
    }

    /// Returns a member's rounds as they were last remembered, for whoever looks later whether they still are.
    pub fn lately(&self, league: LeagueId, member: MemberId) -> Option<Rounds> {
        self.leagues().get(&league)?.members.get(&member).cloned()
    }

    /// Remembers members' rounds under the head that a change left; what was kept under the head before it holds on.
    pub fn remember(
        &self,
        league: LeagueId,
        before: &Head,
        head: Head,
        rounds: impl IntoIterator<Item = (MemberId, Rounds)>,
    ) {
        let mut leagues = self.leagues();
        if leagues.values().map(|known| known.members.len()).sum::<usize>() >= MOST_MEMBERS {
            leagues.clear();
        }
        let known = leagues.entry(league).or_default();
        if known.head.as_ref() != Some(before) {
            known.members.clear();
        }
        known.head = Some(head);
        known.members.extend(rounds);
    }

    fn leagues(&self) -> MutexGuard<'_, HashMap<LeagueId, OfLeague>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
