//! The nights on which a cause that switches was on, as a finding tells them.

use super::readings::RoundReadings;
use crate::ids::{MemberId, SetupId};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// A night of a member on a set-up.
pub(super) type Night = (MemberId, Option<SetupId>, Date);

/// What is known of a cause that switches.
#[derive(Debug, Default)]
pub(super) struct Switched {
    all: BTreeSet<Date>,
    on: BTreeSet<Date>,
    /// The rounds of the nights on which it was on, by player.
    players: BTreeMap<MemberId, Vec<RoundReadings>>,
}

impl Switched {
    /// Sorts rounds by whether the cause was rather on than off.
    pub(super) fn of<'a>(
        rounds: impl Iterator<Item = (MemberId, Option<SetupId>, &'a RoundReadings)>,
        on: &BTreeSet<Night>,
    ) -> Self {
        let mut switched = Self::default();
        for (member, setup, round) in rounds {
            switched.all.insert(round.played_on);
            if on.contains(&(member, setup, round.played_on)) {
                switched.on.insert(round.played_on);
                switched.players.entry(member).or_default().push(round.clone());
            }
        }
        switched
    }

    /// Returns the nights on which it was on.
    pub(super) fn on(&self) -> impl Iterator<Item = Date> {
        self.on.iter().copied()
    }

    /// Returns the rounds of those nights, by player; `None` where no night stands out.
    pub(super) fn players(&self) -> Option<Vec<&[RoundReadings]>> {
        (!self.on.is_empty()).then(|| self.players.values().map(Vec::as_slice).collect())
    }

    /// Says on how many nights it was on, where not on all.
    pub(super) fn said(&self) -> Option<String> {
        match (self.on.len(), self.all.len()) {
            (on, all) if on == all => None,
            (0, _) => Some("No single night stands out.".to_owned()),
            (1, all) => {
                Some(format!("It is likelier than not on one night of {all}, and the effect is that of this one."))
            }
            (on, all) => {
                Some(format!("It is likelier than not on {on} nights of {all}, and the effect is that of these {on}."))
            }
        }
    }
}
