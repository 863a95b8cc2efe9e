//! A season's evidence: rows that grow with each round in the order received, and whom they speak of.
//!
//! A row is one player's rounds on one set-up, for one kind. A ruling of "no action" about a subject begins new rows
//! beside the old ones, with the rounds that come in after it: evidence starts from 1, at doubled threshold.
//!
//! The set-up comes before the player: a set-up that softens short putts makes everybody who uses it look alike, so a
//! player's evidence of such a kind is the smallest of that over all rounds, that without the rounds on set-ups that may
//! explain it, and that without any one further set-up. The smallest of numbers keeps the bound on false alarms, however
//! those set-ups are chosen.

use super::evidence::nights_on;
use super::switched::Switched;
use super::{Digest, Evidence, KINDS, Kind, RoundReadings, Said, State, Subject, evidence, says, threshold_log10};
use crate::ids::{EventId, LeagueId, MemberId, SeasonId, SetupId};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Whom evidence speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// A player, over all set-ups.
    #[serde(rename = "member_id")]
    Player(MemberId),
    /// A set-up, over all players who used it.
    #[serde(rename = "setup_id")]
    Setup(SetupId),
}

impl About {
    /// Reads it from the two ids of which one is given.
    pub fn of(member: Option<MemberId>, setup: Option<SetupId>) -> Option<Self> {
        member.map(About::Player).or(setup.map(About::Setup))
    }

    /// Returns the two ids of which one is given.
    pub fn ids(self) -> (Option<MemberId>, Option<SetupId>) {
        match self {
            About::Player(member) => (Some(member), None),
            About::Setup(setup) => (None, Some(setup)),
        }
    }

    /// Says whether rounds of a member on a set-up speak of it.
    fn is_told_by(self, member: MemberId, setup: Option<SetupId>) -> bool {
        match self {
            About::Player(player) => player == member,
            About::Setup(own) => setup == Some(own),
        }
    }

    /// Returns what it is.
    pub fn subject(self) -> Subject {
        match self {
            About::Player(_) => Subject::Player,
            About::Setup(_) => Subject::Setup,
        }
    }
}

/// Where a row belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RowKey {
    /// Whose rounds.
    pub member: MemberId,
    /// On what; none where nobody said.
    pub setup: Option<SetupId>,
    /// The kind.
    pub kind: &'static str,
    /// Whose new beginning it serves; none for the rows from the season's start.
    pub restart: Option<(Subject, u32)>,
}

/// A set-up's sum of rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct DigestKey {
    /// The set-up.
    pub setup: SetupId,
    /// The kind.
    pub kind: &'static str,
    /// How often evidence began anew.
    pub restart: u32,
}

/// A round as evidence takes it.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The number of the fact that let it in: its own, or its acceptance's.
    pub seq: i64,
    /// Whose it is.
    pub member: MemberId,
    /// What it was putted on.
    pub setup: Option<SetupId>,
    /// What is read of it.
    pub readings: RoundReadings,
}

/// The numbers of the rulings of "no action", by kind and subject, in order.
pub type Restarts = BTreeMap<(&'static str, About), Vec<i64>>;

/// A finding that was opened.
#[derive(Clone, Debug)]
pub struct OpenedFact {
    /// Its id.
    pub id: Uuid,
    /// Its season.
    pub season: SeasonId,
    /// Its kind.
    pub kind: &'static Kind,
    /// Whom it is about.
    pub about: About,
    /// How often evidence had begun anew before it.
    pub restart: u32,
    /// The event whose round made it cross.
    pub event: EventId,
    /// The evidence when it opened, as a power of ten.
    pub factor_log10: f64,
    /// What it crossed.
    pub threshold_log10: f64,
}

impl OpenedFact {
    /// Opens a finding; its id is the same for the same evidence of the same season.
    pub fn of(league: LeagueId, season: SeasonId, crossing: &Crossing, event: EventId) -> Self {
        let Crossing { kind, about, restart, evidence, threshold_log10 } = crossing;
        let subject = match about {
            About::Player(member) => member.0,
            About::Setup(setup) => setup.0,
        };
        Self {
            id: Uuid::new_v5(&league.0, format!("{season}/{}/{subject}/{restart}", kind.name).as_bytes()),
            season,
            kind,
            about: *about,
            restart: *restart,
            event,
            factor_log10: evidence.log10,
            threshold_log10: *threshold_log10,
        }
    }

    /// Returns the set-up that it is about, where it may explain what players showed on that.
    pub fn explaining(&self) -> Option<SetupId> {
        explaining(self.kind, self.about)
    }

    /// Says whether a round is behind it: one of its subject, let in after the ruling with which its evidence began and
    /// before the one with which the next began.
    pub fn rests_on(&self, restarts: &Restarts, round: &Taken) -> bool {
        let rulings = restarts.get(&(self.kind.name, self.about)).map_or(&[][..], Vec::as_slice);
        let nth = self.restart as usize;
        let is_after = nth.checked_sub(1).and_then(|nth| rulings.get(nth)).is_none_or(|from| round.seq > *from);
        is_after
            && rulings.get(nth).is_none_or(|to| round.seq < *to)
            && self.about.is_told_by(round.member, round.setup)
    }

    /// Says what the rounds behind it tell, in the order received, and the evidence that they give.
    pub fn told_by(&self, behind: &[&Taken], false_alarm_pct: f64) -> (Said, Evidence) {
        let mut rows: BTreeMap<(MemberId, Option<SetupId>), State> = BTreeMap::new();
        let mut players: BTreeMap<MemberId, Vec<RoundReadings>> = BTreeMap::new();
        for round in behind {
            rows.entry((round.member, round.setup)).or_default().add(self.kind, &round.readings);
            players.entry(round.member).or_default().push(round.readings.clone());
        }
        let whose: Vec<(MemberId, Option<SetupId>)> = rows.keys().copied().collect();
        let rows: Vec<&State> = rows.values().collect();
        let switched = nights_on(self.kind, self.about.subject(), &rows).map(|nights| {
            let of_row = |((member, setup), nights): ((MemberId, Option<SetupId>), BTreeSet<Date>)| {
                nights.into_iter().map(move |night| (member, setup, night))
            };
            let on = whose.into_iter().zip(nights).flat_map(of_row).collect();
            Switched::of(behind.iter().map(|round| (round.member, round.setup, &round.readings)), &on)
        });
        let players: Vec<&[RoundReadings]> = players.values().map(Vec::as_slice).collect();
        let now = evidence(self.kind, self.about.subject(), &rows);
        (says(self.kind, &now, false_alarm_pct, &rows, &players, switched.as_ref()), now)
    }

    /// Says what findings about set-ups explain of the rounds behind it; `None` where they explain nothing of it.
    pub fn explained_by(&self, others: &[SetupFinding], behind: &[&Taken]) -> Option<Explained> {
        if self.about.subject() != Subject::Player || !self.kind.is_of_a_setup() {
            return None;
        }
        let explains = |other: &SetupFinding, round: &Taken| {
            other.opened.explaining().is_some_and(|setup| round.setup == Some(setup))
        };
        let findings: Vec<&SetupFinding> =
            others.iter().filter(|other| behind.iter().any(|round| explains(other, round))).collect();
        if findings.is_empty() {
            return None;
        }
        let is_explained = |round: &Taken| findings.iter().any(|other| explains(other, round));
        let (on_them, left): (Vec<&Taken>, Vec<&Taken>) = behind.iter().partition(|round| is_explained(round));
        let mut rows: BTreeMap<Option<SetupId>, State> = BTreeMap::new();
        left.iter().for_each(|round| rows.entry(round.setup).or_default().add(self.kind, &round.readings));
        let rows: Vec<&State> = rows.values().collect();
        let kinds: BTreeSet<&str> = findings.iter().map(|other| other.opened.kind.name).collect();
        Some(Explained {
            finding_ids: findings.iter().map(|other| other.opened.id).collect(),
            awaits_ruling: findings.iter().any(|other| !other.is_ruled),
            rounds: on_them.len() as u32,
            putts: on_them.iter().map(|round| round.readings.putts.len() as u32).sum(),
            left_rounds: left.len() as u32,
            left_log10: evidence(self.kind, Subject::Player, &rows).log10,
            kinds: kinds.into_iter().collect(),
        })
    }
}

/// A finding about a set-up, beside one about a player.
#[derive(Clone, Debug)]
pub struct SetupFinding {
    /// The finding.
    pub opened: OpenedFact,
    /// Whether it was ruled upon.
    pub is_ruled: bool,
}

/// What of a finding about a player is explained by findings about set-ups.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Explained {
    /// The findings about the set-ups.
    pub finding_ids: Vec<Uuid>,
    /// Whether one of them is not ruled upon yet: nobody rules on the player before.
    pub awaits_ruling: bool,
    /// How many of the rounds were putted on these set-ups.
    pub rounds: u32,
    /// Their putts.
    pub putts: u32,
    /// How many rounds are left.
    pub left_rounds: u32,
    /// The evidence of those, as a power of ten.
    pub left_log10: f64,
    /// The kinds of the findings.
    #[serde(skip)]
    pub kinds: Vec<&'static str>,
}

/// What findings are held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    /// The greater of the season's own number, its players and its set-ups.
    pub field_size: u32,
    /// How many honest seasons in a hundred may show a finding.
    pub false_alarm_pct: f64,
}

/// Evidence that crossed its threshold.
#[derive(Clone, Debug)]
pub struct Crossing {
    /// The kind.
    pub kind: &'static Kind,
    /// Whom it is about.
    pub about: About,
    /// How often evidence began anew before it.
    pub restart: u32,
    /// The evidence.
    pub evidence: Evidence,
    /// What it was held against, as a power of ten.
    pub threshold_log10: f64,
}

/// Evidence of a whole season that has crossed its threshold.
#[derive(Clone, Debug)]
pub struct Opening {
    /// The place of the round after which it had.
    pub round: usize,
    /// The evidence that crossed.
    pub crossing: Crossing,
}

/// Derives a season's evidence from its counting rounds, in the order received, and finds whose has crossed after which
/// round. `begun` is empty of rounds: it knows what was ruled and opened before.
///
/// Those who played and what they played on may be more than the budget's field: then they are what it is shared by.
pub fn crossed(begun: Ledger, rounds: &[Taken], budget: Budget) -> (Ledger, Vec<Opening>) {
    let players: BTreeSet<MemberId> = rounds.iter().map(|round| round.member).collect();
    let setups: BTreeSet<SetupId> = rounds.iter().filter_map(|round| round.setup).collect();
    let played = players.len().max(setups.len()) as u32;
    let budget = Budget { field_size: budget.field_size.max(played), ..budget };
    let (mut ledger, mut openings, mut seen) = (begun, Vec::new(), BTreeSet::new());
    for (place, round) in rounds.iter().enumerate() {
        ledger.take(round);
        for crossing in ledger.crossings_around(round.member, budget) {
            if seen.insert((crossing.kind.name, crossing.about)) {
                openings.push(Opening { round: place, crossing });
            }
        }
    }
    (ledger, openings)
}

/// A member on a set-up with fewer rounds than this is kept as the readings of those rounds. They take far fewer bytes than
/// the cells that they make, but making these takes time (evenfield's own choice between the two).
pub const FEW_ROUNDS: u32 = 6;

/// A season's evidence, or a part of it: the rows of one member and the sums of the set-ups that the member used.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    /// The rows.
    pub rows: BTreeMap<RowKey, State>,
    /// The readings of members on set-ups as long as their rounds are fewer than [`FEW_ROUNDS`].
    pub few: BTreeMap<(MemberId, Option<SetupId>), Vec<RoundReadings>>,
    /// The sums.
    pub digests: BTreeMap<DigestKey, Digest>,
    /// When evidence began anew.
    pub restarts: Restarts,
    /// The set-ups with a finding that may explain what players showed on them, however it was ruled.
    pub found: BTreeSet<SetupId>,
}

impl Ledger {
    /// Begins empty of rounds, with what was ruled and the set-ups that have a finding.
    pub fn new(restarts: Restarts, found: BTreeSet<SetupId>) -> Self {
        Self { restarts, found, ..Self::default() }
    }

    /// Returns it empty of rounds, with what was ruled and the set-ups that have a finding.
    pub fn begun(&self) -> Self {
        Self::new(self.restarts.clone(), self.found.clone())
    }

    /// Takes in rounds, in the order received.
    #[must_use]
    pub fn with<'a>(mut self, rounds: impl IntoIterator<Item = &'a Taken>) -> Self {
        rounds.into_iter().for_each(|round| self.take(round));
        self
    }

    fn restart_of(&self, kind: &'static str, about: About) -> (u32, i64) {
        let rulings = self.restarts.get(&(kind, about)).map_or(&[][..], Vec::as_slice);
        (rulings.len() as u32, rulings.last().copied().unwrap_or(i64::MIN))
    }

    /// Takes in a round; rounds come in the order of their numbers.
    pub fn take(&mut self, round: &Taken) {
        for kind in KINDS {
            let mut beginnings = vec![None];
            let about = [Some(About::Player(round.member)), round.setup.map(About::Setup)];
            for about in about.into_iter().flatten() {
                let (restart, since) = self.restart_of(kind.name, about);
                if restart > 0 && round.seq > since {
                    beginnings.push(Some((about.subject(), restart)));
                }
            }
            for restart in beginnings {
                let key = RowKey { member: round.member, setup: round.setup, kind: kind.name, restart };
                self.grow(key, kind, &round.readings);
            }
        }
        let whose = (round.member, round.setup);
        if self.rounds_of(whose) < FEW_ROUNDS {
            self.few.entry(whose).or_default().push(round.readings.clone());
        } else {
            self.few.remove(&whose);
        }
    }

    /// Returns how many rounds of a member on a set-up are in.
    fn rounds_of(&self, (member, setup): (MemberId, Option<SetupId>)) -> u32 {
        let any = RowKey { member, setup, kind: KINDS[0].name, restart: None };
        self.rows.get(&any).map_or(0, |row| row.rounds)
    }

    fn grow(&mut self, key: RowKey, kind: &'static Kind, readings: &RoundReadings) {
        let row = self.rows.entry(key).or_default();
        if sum_of(key, kind).is_none() {
            return row.add(kind, readings);
        }
        let before = Digest::of(kind, row);
        row.add(kind, readings);
        let after = Digest::of(kind, row);
        self.weigh(key, kind, &before, &after);
    }

    /// Puts a row's part in its set-up's sum in the place of an earlier one.
    fn weigh(&mut self, key: RowKey, kind: &'static Kind, before: &Digest, after: &Digest) {
        let Some(key) = sum_of(key, kind) else { return };
        let sum = self.digests.remove(&key).unwrap_or_default().minus(before).plus(after);
        if !sum.is_empty() {
            self.digests.insert(key, sum);
        }
    }

    /// Takes a member's rounds out: they are to be taken in again from raw.
    pub fn forget(&mut self, member: MemberId) {
        self.few.retain(|(of, _), _| *of != member);
        let keys: Vec<RowKey> = self.of_member(member).map(|(key, _)| *key).collect();
        for key in keys {
            let (Some(row), Some(kind)) = (self.rows.remove(&key), super::kind(key.kind)) else { continue };
            self.weigh(key, kind, &Digest::of(kind, &row), &Digest::default());
        }
    }

    /// Returns the evidence of one kind about one subject, from its latest beginning.
    pub fn evidence(&self, kind: &'static Kind, about: About) -> Evidence {
        let (restart, _) = self.restart_of(kind.name, about);
        match about {
            About::Player(member) => {
                let all = self.over_all_rounds(kind, member, restart);
                self.beside_setups(kind, member, restart, all)
            }
            About::Setup(setup) => {
                let key = DigestKey { setup, kind: kind.name, restart };
                self.digests.get(&key).cloned().unwrap_or_default().evidence(kind)
            }
        }
    }

    /// Returns the evidence about a player over all rounds, whatever they were putted on.
    fn over_all_rounds(&self, kind: &'static Kind, member: MemberId, restart: u32) -> Evidence {
        let rows: Vec<&State> = self.rows_of(kind, member, restart).map(|(_, row)| row).collect();
        evidence(kind, Subject::Player, &rows)
    }

    /// Returns the smallest of the evidence about a player over `all` rounds, that without the rounds on set-ups that may
    /// explain it, and that without those on any one further set-up: what one set-up shows is no player's doing.
    ///
    /// A set-up may explain it if it has a finding of such a kind, or more evidence of this kind than the player.
    fn beside_setups(&self, kind: &'static Kind, member: MemberId, restart: u32, all: Evidence) -> Evidence {
        if !kind.is_of_a_setup() {
            return all;
        }
        let explains =
            |setup: &SetupId| self.found.contains(setup) || self.evidence(kind, About::Setup(*setup)).log10 > all.log10;
        let used: BTreeSet<SetupId> = self.rows_of(kind, member, restart).filter_map(|(key, _)| key.setup).collect();
        let (explaining, others): (BTreeSet<SetupId>, BTreeSet<SetupId>) = used.into_iter().partition(explains);
        let without = |one: Option<SetupId>| {
            let is_left = |setup: SetupId| !explaining.contains(&setup) && one != Some(setup);
            let rows = self.rows_of(kind, member, restart).filter(|(key, _)| key.setup.is_none_or(is_left));
            evidence(kind, Subject::Player, &rows.map(|(_, row)| row).collect::<Vec<_>>())
        };
        let left = std::iter::once(None).chain(others.iter().copied().map(Some)).map(without);
        left.fold(all.clone(), |least, left| if left.log10 < least.log10 { left } else { least })
    }

    /// Returns the rows behind the evidence about a player, with their keys.
    fn rows_of(&self, kind: &'static Kind, member: MemberId, restart: u32) -> impl Iterator<Item = (&RowKey, &State)> {
        let beginning = (restart > 0).then_some((Subject::Player, restart));
        self.of_member(member).filter(move |(key, _)| key.kind == kind.name && key.restart == beginning)
    }

    fn of_member(&self, member: MemberId) -> impl Iterator<Item = (&RowKey, &State)> {
        let first = RowKey { member, setup: None, kind: "", restart: None };
        self.rows.range(first..).take_while(move |(key, _)| key.member == member)
    }

    /// Returns the set-ups that a member's rows are on.
    pub fn setups_of(&self, member: MemberId) -> BTreeSet<SetupId> {
        self.of_member(member).filter_map(|(key, _)| key.setup).collect()
    }

    /// Finds whether the evidence about a member, or about a set-up that the member used, has crossed the threshold.
    ///
    /// Set-ups are looked at first: one that has crossed is no player's doing.
    pub fn crossings_around(&mut self, member: MemberId, budget: Budget) -> Vec<Crossing> {
        let mut crossings = Vec::new();
        for setup in self.setups_of(member) {
            crossings.extend(KINDS.into_iter().filter_map(|kind| self.crossing(kind, About::Setup(setup), budget)));
        }
        self.found.extend(crossings.iter().filter_map(|crossing| explaining(crossing.kind, crossing.about)));
        crossings.extend(KINDS.into_iter().filter_map(|kind| self.crossing(kind, About::Player(member), budget)));
        crossings
    }

    /// Returns the evidence of a kind about a subject where it has crossed the threshold.
    fn crossing(&self, kind: &'static Kind, about: About, budget: Budget) -> Option<Crossing> {
        if !kind.subjects.contains(&about.subject()) {
            return None;
        }
        let (restart, _) = self.restart_of(kind.name, about);
        let threshold_log10 = threshold_log10(budget.field_size, budget.false_alarm_pct, restart);
        let mut evidence = match about {
            About::Setup(_) => self.evidence(kind, about),
            About::Player(member) => self.over_all_rounds(kind, member, restart),
        };
        if let (About::Player(member), true) = (about, evidence.log10 >= threshold_log10) {
            evidence = self.beside_setups(kind, member, restart, evidence);
        }
        (evidence.log10 >= threshold_log10).then_some(Crossing { kind, about, restart, evidence, threshold_log10 })
    }
}

/// Returns the set-up that a finding is about, where it may explain what players showed on that.
fn explaining(kind: &Kind, about: About) -> Option<SetupId> {
    match about {
        About::Setup(setup) if kind.is_of_a_setup() => Some(setup),
        About::Setup(_) | About::Player(_) => None,
    }
}

/// Returns the sum that a row is part of.
fn sum_of(key: RowKey, kind: &Kind) -> Option<DigestKey> {
    let setup = key.setup.filter(|_| kind.subjects.contains(&Subject::Setup))?;
    let restart = match key.restart {
        None => 0,
        Some((Subject::Setup, restart)) => restart,
        Some((Subject::Player, _)) => return None,
    };
    Some(DigestKey { setup, kind: kind.name, restart })
}

#[cfg(test)]
mod tests;
