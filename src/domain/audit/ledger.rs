//! A season's evidence: rows that grow with each round in the order received, and whom they speak of.
//!
//! A row is one player's rounds on one set-up, for one kind. A ruling of "no action" about a subject begins new rows
//! beside the old ones, with the rounds that come in after it: evidence starts from 1, at doubled threshold.

use super::{Digest, Evidence, KINDS, Kind, RoundReadings, Said, State, Subject, evidence, says, threshold_log10};
use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId, SetupId};
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
        let rows: Vec<&State> = rows.values().collect();
        let players: Vec<&[RoundReadings]> = players.values().map(Vec::as_slice).collect();
        let now = evidence(self.kind, self.about.subject(), &rows);
        (says(self.kind, &now, false_alarm_pct, &rows, &players), now)
    }
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
    /// The place of the subject's latest round.
    pub round: usize,
    /// The evidence that crossed.
    pub crossing: Crossing,
}

/// Derives a season's evidence from its counting rounds, in the order received, and finds whose has crossed.
///
/// Those who played and what they played on may be more than the budget's field: then they are what it is shared by.
pub fn crossed(restarts: Restarts, rounds: &[Taken], budget: Budget) -> (Ledger, Vec<Opening>) {
    let mut latest: BTreeMap<About, usize> = BTreeMap::new();
    for (place, round) in rounds.iter().enumerate() {
        latest.insert(About::Player(round.member), place);
        latest.extend(round.setup.map(|setup| (About::Setup(setup), place)));
    }
    let players = latest.keys().filter(|about| about.subject() == Subject::Player).count();
    let played = players.max(latest.len() - players) as u32;
    let budget = Budget { field_size: budget.field_size.max(played), ..budget };
    let ledger = Ledger::of(restarts, rounds);
    let about: Vec<About> = latest.keys().copied().collect();
    let crossings = ledger.crossings(&about, budget);
    let openings = crossings.into_iter().map(|crossing| Opening { round: latest[&crossing.about], crossing }).collect();
    (ledger, openings)
}

/// A season's evidence, or a part of it: the rows of one member and the sums of the set-ups that the member used.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    /// The rows.
    pub rows: BTreeMap<RowKey, State>,
    /// The sums.
    pub digests: BTreeMap<DigestKey, Digest>,
    /// When evidence began anew.
    pub restarts: Restarts,
}

impl Ledger {
    /// Begins empty, with what was ruled.
    pub fn new(restarts: Restarts) -> Self {
        Self { restarts, ..Self::default() }
    }

    /// Derives a season's evidence from its counting rounds, in the order received.
    pub fn of<'a>(restarts: Restarts, rounds: impl IntoIterator<Item = &'a Taken>) -> Self {
        let mut ledger = Self::new(restarts);
        rounds.into_iter().for_each(|round| ledger.take(round));
        ledger
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
                let rows: Vec<&State> = self.rows_of(kind, member, restart);
                evidence(kind, Subject::Player, &rows)
            }
            About::Setup(setup) => {
                let key = DigestKey { setup, kind: kind.name, restart };
                self.digests.get(&key).cloned().unwrap_or_default().evidence(kind)
            }
        }
    }

    /// Returns the rows behind the evidence about a player.
    fn rows_of(&self, kind: &'static Kind, member: MemberId, restart: u32) -> Vec<&State> {
        let beginning = (restart > 0).then_some((Subject::Player, restart));
        let rows = self.of_member(member).filter(|(key, _)| key.kind == kind.name && key.restart == beginning);
        rows.map(|(_, row)| row).collect()
    }

    fn of_member(&self, member: MemberId) -> impl Iterator<Item = (&RowKey, &State)> {
        let first = RowKey { member, setup: None, kind: "", restart: None };
        self.rows.range(first..).take_while(move |(key, _)| key.member == member)
    }

    /// Returns the set-ups that a member's rows are on.
    pub fn setups_of(&self, member: MemberId) -> BTreeSet<SetupId> {
        self.of_member(member).filter_map(|(key, _)| key.setup).collect()
    }

    /// Returns a member and the set-ups that the member used, where their evidence has crossed the threshold.
    pub fn crossings_around(&self, member: MemberId, budget: Budget) -> Vec<Crossing> {
        let setups = self.setups_of(member).into_iter().map(About::Setup);
        self.crossings(&std::iter::once(About::Player(member)).chain(setups).collect::<Vec<_>>(), budget)
    }

    /// Returns the subjects among `about` whose evidence has crossed the threshold.
    pub fn crossings(&self, about: &[About], budget: Budget) -> Vec<Crossing> {
        let pairs = KINDS.into_iter().flat_map(|kind| about.iter().map(move |about| (kind, *about)));
        let pairs = pairs.filter(|(kind, about)| kind.subjects.contains(&about.subject()));
        pairs
            .filter_map(|(kind, about)| {
                let (restart, _) = self.restart_of(kind.name, about);
                let threshold_log10 = threshold_log10(budget.field_size, budget.false_alarm_pct, restart);
                let evidence = self.evidence(kind, about);
                (evidence.log10 >= threshold_log10).then_some(Crossing {
                    kind,
                    about,
                    restart,
                    evidence,
                    threshold_log10,
                })
            })
            .collect()
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
mod tests {
    use super::super::PuttReading;
    use super::super::simulated::{putt, round};
    use super::*;

    fn member(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    fn setup(n: u128) -> SetupId {
        SetupId(Uuid::from_u128(100 + n))
    }

    /// A round on a set-up that plays putts inside 20 ft at an eighth of their line.
    fn softened(seq: i64, of: u128, on: u128) -> Taken {
        let putts = (0..18).map(|n| {
            let distance = 2.0 + 2.0 * n as f64;
            let line = [0.8, -1.3, 0.4, -0.6, 1.7][(n + seq as usize) % 5];
            let played = if distance <= 20.0 { line / 8.0 } else { line };
            PuttReading { start_line_deg: Some(line), played_line_deg: Some(played), ..putt(distance) }
        });
        let readings = RoundReadings { received: seq as u64, ..round(putts.collect()) };
        Taken { seq, member: member(of), setup: Some(setup(on)), readings }
    }

    const BUDGET: Budget = Budget { field_size: 200, false_alarm_pct: 5.0 };

    #[test]
    fn taking_a_member_out_and_in_again_changes_nothing() {
        let rounds: Vec<Taken> = (1..20).map(|seq| softened(seq, seq as u128 % 3, seq as u128 % 2)).collect();
        let restarts = Restarts::from([
            (("softened_line", About::Player(member(1))), vec![6]),
            (("softened_line", About::Setup(setup(0))), vec![4, 9]),
        ]);
        let full = Ledger::of(restarts, &rounds);
        let mut mended = full.clone();
        mended.forget(member(1));
        assert!(mended.rows.keys().all(|key| key.member != member(1)));
        rounds.iter().filter(|round| round.member == member(1)).for_each(|round| mended.take(round));
        assert_eq!(mended, full);
    }

    #[test]
    fn a_softened_set_up_and_its_players_cross_the_threshold_and_begin_anew_after_a_ruling() {
        let rounds: Vec<Taken> = (1..=6).map(|seq| softened(seq, seq as u128 % 2, 0)).collect();
        let all = [About::Player(member(0)), About::Player(member(1)), About::Setup(setup(0))];
        let crossed = Ledger::of(Restarts::new(), &rounds).crossings(&all, BUDGET);
        let kinds: Vec<_> =
            crossed.iter().filter(|found| found.kind.name == "softened_line").map(|c| c.about).collect();
        assert_eq!(kinds, all);
        assert!(crossed.iter().all(|found| found.evidence.log10 >= found.threshold_log10 && found.restart == 0));

        // ruled after the fifth round: one round is left to speak, against twice the threshold
        let restarts = Restarts::from([(("softened_line", About::Setup(setup(0))), vec![5])]);
        let later = Ledger::of(restarts, &rounds);
        let kind = super::super::kind("softened_line").unwrap();
        let (before, after) = (crossed[2].evidence.clone(), later.evidence(kind, About::Setup(setup(0))));
        assert_eq!((before.rounds, after.rounds), (6, 1));
        assert!(after.log10 < before.log10);
        assert!(later.evidence(kind, About::Player(member(0))).rounds == 3, "the players' own evidence goes on");
    }

    #[test]
    fn evidence_since_a_ruling_is_that_of_the_rounds_after_it() {
        let rounds: Vec<Taken> = (1..=6).map(|seq| softened(seq, seq as u128 % 2, 0)).collect();
        let kind = super::super::kind("softened_line").unwrap();
        for about in [About::Player(member(0)), About::Setup(setup(0))] {
            let ruled = Ledger::of(Restarts::from([((kind.name, about), vec![3])]), &rounds);
            assert_eq!(ruled.evidence(kind, about), Ledger::of(Restarts::new(), &rounds[3..]).evidence(kind, about));
        }
    }

    #[test]
    fn a_round_on_no_set_up_speaks_of_its_player_alone() {
        let nowhere = Taken { setup: None, ..softened(1, 0, 0) };
        let ledger = Ledger::of(Restarts::new(), [&nowhere]);
        assert!(ledger.digests.is_empty());
        assert_eq!(ledger.rows.len(), KINDS.len());
    }
}
