//! The one form of every kind: what is kept of the rounds, and how it becomes a number.
//!
//! Evidence is `Σ over unfair strengths of prior · likelihood / likelihood of the honest family`. It is kept as
//! log-likelihoods of explanations, one cell each; rows of different players and set-ups can be added up.

pub(super) use super::logs::{best, best_at, ln_mean, ln_sum};
use super::readings::RoundReadings;
use super::switching::{Nights, Switching, chances};
use super::{KINDS, Kind};
use crate::packing::{Packer, Unpacker};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A cell's unit in nats. Whole units don't depend on the order in which they are added; a round's is off by 0.001.
const UNIT_NATS: f64 = 1.0 / 512.0;
/// A digest's unit in nats.
const DIGEST_UNIT_NATS: f64 = 1.0 / 65_536.0;
/// The most that a cell holds in either direction: 16,384 nats, the worst that 2,300 putts can do.
const MOST_UNITS: i32 = (1 << 23) - 1;
/// How many bytes hold the difference of the differences of cells, with its sign.
const CELL_BYTES: usize = 4;
/// The most cells of a row.
pub const MOST_CELLS: usize = 8_400;
/// The most bytes of a row that is packed and not deflated: cells, counts, and the nights of causes that switch.
pub const MOST_ROW_BYTES: usize = CELL_BYTES * MOST_CELLS + 64 * 1024;
/// Fewer usable putts say nothing (evenfield's own convention).
pub const FEWEST_PUTTS: u32 = 10;
/// The share of the prior that says "not this set-up" where a player used several (evenfield's own choice).
const ELSEWHERE: f64 = 0.1;

/// What is kept of one member's rounds on one set-up in one season, for one kind.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct State {
    /// Rounds added.
    pub rounds: u32,
    /// Struck putts seen in them.
    pub putts: u32,
    /// Conceded putts in them.
    pub conceded: u32,
    /// Readings that the kind could use.
    pub usable: u32,
    /// The cells; empty before the first usable reading.
    pub(super) cells: Vec<i32>,
    /// What is kept for causes that switch, of kinds that have such.
    pub(super) switching: Switching,
}

/// Whom evidence is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// A player, over all set-ups.
    Player,
    /// A set-up, over all players who used it.
    Setup,
}

/// Evidence about one subject.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Evidence {
    /// The factor as a power of ten: 0 is no evidence either way. Always finite.
    pub log10: f64,
    /// Readings that it rests on.
    pub usable: u32,
    /// Rounds that it rests on.
    pub rounds: u32,
    /// Why the factor stays at 1, where it does.
    pub silent: Option<String>,
}

impl State {
    /// Adds a round. Rounds are added in the order in which they were received.
    pub fn add(&mut self, kind: &Kind, round: &RoundReadings) {
        self.rounds += 1;
        self.putts += round.putts.len() as u32;
        self.conceded += round.conceded;
        (kind.add)(self, round);
    }

    /// Adds a round's log-likelihoods, in nats, that rest on `usable` readings.
    ///
    /// A constant that all cells share changes no ratio, so the best cell of the round is taken as 0: cells stay small.
    pub(super) fn learn(&mut self, usable: u32, logs: &[f64]) {
        if usable == 0 {
            return;
        }
        self.usable += usable;
        self.cells.resize(logs.len().max(self.cells.len()), 0);
        let best = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for (cell, log) in self.cells.iter_mut().zip(logs) {
            let units = ((log - best) / UNIT_NATS).max(-f64::from(MOST_UNITS)).round() as i32;
            *cell = (*cell + units).max(-MOST_UNITS);
        }
    }

    /// Adds a round to a row whose causes switch: log-likelihoods of the honest explanations, of each habit with the cause
    /// off, and of each cause's habits with it on, in nats, that rest on `usable` readings.
    pub(super) fn learn_switching(&mut self, usable: u32, night: Date, logs: [&[f64]; 3]) {
        if usable > 0 {
            self.usable += usable;
            self.switching.learn_beside(&mut self.cells, night, logs);
        }
    }

    /// Returns ln of the density with the cause off over the best honest explanation, in nats.
    pub(super) fn off_over_honest(&self) -> f64 {
        self.switching.off_over_honest(&self.cells)
    }

    /// Returns the log-likelihoods in nats, or zeros where nothing was learnt.
    pub(super) fn logs(&self, cells: usize) -> Vec<f64> {
        if self.cells.is_empty() {
            return vec![0.0; cells];
        }
        self.cells.iter().map(|units| f64::from(*units) * UNIT_NATS).collect()
    }

    /// Returns how many bytes it takes in memory, and at most when it is packed.
    pub fn size(&self) -> usize {
        32 + self.cells.len() * CELL_BYTES + self.switching.size()
    }

    /// Writes the row, always the same bytes for the same row.
    ///
    /// Neighbours are much alike, and so are the differences between them. What those differ by is written with all lowest
    /// bytes first, then all second ones, and so on: then equal bytes stand together, and what deflates bytes finds them.
    pub fn pack(&self, packer: &mut Packer) {
        for count in [self.rounds, self.putts, self.conceded, self.usable] {
            packer.whole(count);
        }
        packer.whole(self.cells.len() as u64);
        let (mut before, mut step) = (0, 0);
        let differences: Vec<u32> = (self.cells.iter())
            .map(|cell| {
                let difference = cell - before - step;
                (before, step) = (*cell, cell - before);
                (difference << 1 ^ difference >> 31) as u32
            })
            .collect();
        for byte in 0..CELL_BYTES {
            differences.iter().for_each(|difference| packer.byte(difference.to_le_bytes()[byte]));
        }
        self.switching.pack(packer);
    }

    /// Reads a row; `None` where the bytes are none.
    pub fn unpack(bytes: &mut Unpacker<'_>) -> Option<Self> {
        let [rounds, putts, conceded, usable] = [bytes.whole()?, bytes.whole()?, bytes.whole()?, bytes.whole()?];
        let many: usize = bytes.whole()?;
        if many > MOST_CELLS {
            return None;
        }
        let mut differences = vec![[0; CELL_BYTES]; many];
        for byte in 0..CELL_BYTES {
            for difference in &mut differences {
                difference[byte] = bytes.byte()?;
            }
        }
        let (mut cells, mut before, mut step) = (Vec::with_capacity(many), 0i64, 0i64);
        for difference in differences {
            let difference = u32::from_le_bytes(difference);
            let cell = before + step + (i64::from(difference >> 1) ^ -i64::from(difference & 1));
            if cell.abs() > i64::from(MOST_UNITS) {
                return None;
            }
            (before, step) = (cell, cell - before);
            cells.push(cell as i32);
        }
        let switching = Switching::unpack(bytes)?;
        Some(Self { rounds, putts, conceded, usable, cells, switching })
    }
}

/// The sum of what rows have to say about their set-up: small, and exact to add to and to take from, so that a hand-in
/// needs the one row that it changed and not those of everybody who used the set-up.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Digest {
    counts: [i64; 4],
    units: Vec<i64>,
    /// Of kinds whose causes switch: for each night, how much likelier its records are with each cause on. A night that
    /// speaks for nothing is left out: it would change no chain.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub(super) nights: Nights,
}

impl Digest {
    /// Digests a row.
    pub fn of(kind: &Kind, row: &State) -> Self {
        let counts = [row.rounds, row.putts, row.conceded, row.usable].map(i64::from);
        let units = (kind.digest)(row).iter().map(|nats| (nats / DIGEST_UNIT_NATS).round() as i64).collect();
        let nights = row.switching.nights.clone();
        Self { counts, units, nights }.without_empty_nights()
    }

    /// Digests rows of one set-up.
    pub(super) fn of_rows(kind: &Kind, rows: &[&State]) -> Self {
        let digests = rows.iter().map(|row| Digest::of(kind, row));
        digests.reduce(|sum, one| sum.plus(&one)).unwrap_or_default()
    }

    /// Adds another row's.
    #[must_use]
    pub fn plus(self, other: &Self) -> Self {
        self.combined(other, i64::saturating_add)
    }

    /// Takes another row's away.
    #[must_use]
    pub fn minus(self, other: &Self) -> Self {
        self.combined(other, i64::saturating_sub)
    }

    fn combined(mut self, other: &Self, with: fn(i64, i64) -> i64) -> Self {
        self.units.resize(self.units.len().max(other.units.len()), 0);
        let counts = self.counts.iter_mut().zip(&other.counts);
        for (to, from) in counts.chain(self.units.iter_mut().zip(&other.units)) {
            *to = with(*to, *from);
        }
        for (night, factors) in &other.nights {
            let own = self.nights.entry(*night).or_insert_with(|| vec![0; factors.len()]);
            own.iter_mut().zip(factors).for_each(|(to, from)| *to = with(*to, *from));
        }
        self.without_empty_nights()
    }

    fn without_empty_nights(mut self) -> Self {
        self.nights.retain(|_, factors| factors.iter().any(|factor| *factor != 0));
        self
    }

    /// Returns whether no row is in it.
    pub fn is_empty(&self) -> bool {
        self.counts[0] == 0
    }

    /// Returns the evidence about the set-up.
    pub fn evidence(&self, kind: &Kind) -> Evidence {
        told(kind, Subject::Setup, self.counts, || (kind.setup)(&self.nats(), &self.nights))
    }

    /// Returns what its rows have to say, in nats.
    pub(super) fn nats(&self) -> Vec<f64> {
        self.units.iter().map(|units| *units as f64 * DIGEST_UNIT_NATS).collect()
    }
}

/// For kinds that say nothing about set-ups.
pub(super) fn no_digest(_: &State) -> Vec<f64> {
    Vec::new()
}

/// For kinds that say nothing about set-ups.
pub(super) fn no_setup(_: &[f64], _: &Nights) -> f64 {
    0.0
}

/// Returns the evidence of one kind about one subject, from its rows.
///
/// For a player: that player's row of each set-up. For a set-up: its row of each player; [`Digest`] does the same step
/// by step.
pub fn evidence(kind: &Kind, subject: Subject, rows: &[&State]) -> Evidence {
    match subject {
        Subject::Setup => Digest::of_rows(kind, rows).evidence(kind),
        Subject::Player => {
            let count = |of: fn(&State) -> u32| rows.iter().map(|row| i64::from(of(row))).sum();
            let counts =
                [count(|row| row.rounds), count(|row| row.putts), count(|row| row.conceded), count(|row| row.usable)];
            told(kind, subject, counts, || (kind.player)(rows))
        }
    }
}

/// Returns the nights on which a cause was rather on than off, of each row; `None` where the kind's causes don't switch.
///
/// The rows of a set-up share its switch; those of a player are on a set-up each.
pub(super) fn nights_on(kind: &Kind, subject: Subject, rows: &[&State]) -> Option<Vec<BTreeSet<Date>>> {
    let causes = rows.iter().map(|row| row.switching.causes()).max().filter(|causes| *causes > 0)?;
    let on = |nights: &Nights| -> BTreeSet<Date> {
        let chances = chances(nights, causes);
        nights.keys().zip(chances).filter(|(_, chance)| *chance > 0.5).map(|(night, _)| *night).collect()
    };
    Some(match subject {
        Subject::Player => rows.iter().map(|row| on(&row.switching.nights)).collect(),
        Subject::Setup => vec![on(&Digest::of_rows(kind, rows).nights); rows.len()],
    })
}

/// Tells the evidence, or why there is none.
fn told(kind: &Kind, subject: Subject, counts: [i64; 4], nats: impl FnOnce() -> f64) -> Evidence {
    let [rounds, putts, conceded, usable] = counts;
    let silent = if !kind.subjects.contains(&subject) {
        Some("this kind says nothing about such a subject".to_owned())
    } else if rounds <= 0 {
        Some("no round was received".to_owned())
    } else if usable <= 0 && putts <= 0 && !kind.reads_cards {
        Some(match conceded {
            0 => "no putt was recorded".to_owned(),
            _ => "every recorded putt was conceded".to_owned(),
        })
    } else if usable <= 0 {
        Some(format!("it needs {}; no record has them", kind.needs))
    } else if usable < i64::from(FEWEST_PUTTS) {
        Some(format!("it needs {}; {usable} are too few", kind.needs))
    } else {
        None
    };
    let nats = if silent.is_some() { 0.0 } else { nats() };
    // the cells are finite, so this never happens; a finding must not hang on that
    let log10 = if nats.is_finite() { nats / std::f64::consts::LN_10 } else { 0.0 };
    let count = |n: i64| u32::try_from(n).unwrap_or(0);
    Evidence { log10, usable: count(usable), rounds: count(rounds), silent }
}

/// Returns the factor, as a power of ten, from which on a finding opens.
///
/// # Formula
/// ```text
/// log10(field_size · kinds · 100 / false_alarm_pct) + log10(2) · rulings of "no action" on that subject and kind
/// ```
/// `kinds` counts the pairs of kind and subject that the budget is shared by: a notice is outside it.
///
/// # Source
/// Ville's inequality with the budget shared evenly (a union bound).
pub fn threshold_log10(field_size: u32, false_alarm_pct: f64, no_actions: u32) -> f64 {
    let kinds: usize = KINDS.iter().filter(|kind| !kind.is_notice).map(|kind| kind.subjects.len()).sum();
    let pct = if false_alarm_pct > 0.0 { false_alarm_pct.min(100.0) } else { 1e-9 };
    (f64::from(field_size.max(1)) * kinds as f64 * 100.0 / pct).log10() + f64::from(no_actions) * 2f64.log10()
}

/// Log-likelihood ratios of one row, a cause each, in nats: evidence for that cause, habits weighed out.
pub(super) type Causes = Vec<f64>;

/// Returns the evidence in nats where each row may have a cause of its own, or none.
///
/// # Formula
/// ```text
/// Π over rows of (0.1 + 0.9 · E of the row)
/// ```
/// Each factor's expectation is at most 1 whatever the others are, so the product's is.
pub(super) fn apart(rows: &[Causes]) -> f64 {
    rows.iter().map(|row| ln_sum([ELSEWHERE.ln(), (1.0 - ELSEWHERE).ln() + ln_mean(row)].into_iter())).sum()
}

/// Returns the evidence about a player by a kind that takes the honest family at its `best`, each row's own.
pub(super) fn of_player(rows: &[&State], causes: impl Fn(&State) -> Causes) -> f64 {
    apart(&rows.iter().map(|row| causes(row)).collect::<Vec<_>>())
}

/// Appends a round's log-likelihoods with night form: for each level the mean over what a night may bring. `kernel` weighs
/// a night by how many steps it is from the level.
pub(super) fn smooth<const LEVELS: usize>(row: &[f64; LEVELS], kernel: &[f64], logs: &mut Vec<f64>) {
    if kernel[1] == 0.0 {
        logs.extend(row);
        return;
    }
    let best = best(row);
    let shares = row.map(|log| (log - best).exp());
    logs.extend((0..LEVELS).map(|level| {
        let (mut sum, mut weights) = (0.0, 0.0);
        for night in level.saturating_sub(kernel.len() - 1)..(level + kernel.len()).min(LEVELS) {
            let weight = kernel[night.abs_diff(level)];
            sum += weight * shares[night];
            weights += weight;
        }
        best + (sum / weights).max(f64::MIN_POSITIVE).ln()
    }));
}

/// Returns the place of the cause that fits rows best.
pub(super) fn strongest(rows: &[&State], causes: impl Fn(&State) -> Causes) -> usize {
    let rows: Vec<Causes> = rows.iter().map(|row| causes(row)).collect();
    let Some(first) = rows.first() else { return 0 };
    let sums: Vec<f64> = (0..first.len()).map(|cause| rows.iter().map(|row| row[cause]).sum()).collect();
    best_at(&sums)
}

/// A product of likelihoods that never underflows.
#[derive(Clone)]
pub(super) struct Products {
    /// What was multiplied since the last fold.
    pub(super) shares: Vec<f64>,
    /// The logs of what was multiplied before.
    pub(super) logs: Vec<f64>,
    factors: u32,
}

impl Products {
    /// Begins with a 1 for each cell.
    pub(super) fn ones(cells: usize) -> Self {
        Self { shares: vec![1.0; cells], logs: vec![0.0; cells], factors: 0 }
    }

    /// Counts a factor of each cell, and folds the products into logs every eighth time: eight densities above 1e-30 stay
    /// far above the least float.
    pub(super) fn count(&mut self) {
        self.factors += 1;
        if self.factors.is_multiple_of(8) {
            self.fold();
        }
    }

    /// Folds the products into logs.
    pub(super) fn fold(&mut self) {
        for (log, share) in self.logs.iter_mut().zip(&mut self.shares) {
            *log += share.max(f64::MIN_POSITIVE).ln();
            *share = 1.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_threshold_of_two_hundred_players_is_the_one_worked_by_hand() {
        // 200 · 11 · 100 / 5 = 44,000
        assert!((threshold_log10(200, 5.0, 0) - 44_000f64.log10()).abs() < 1e-12);
        assert!((threshold_log10(200, 5.0, 1) - 88_000f64.log10()).abs() < 1e-12);
        assert!(threshold_log10(0, 0.0, 0).is_finite());
    }

    #[test]
    fn a_row_is_the_same_after_writing_and_reading() {
        let mut state = State { rounds: 3, putts: 70, conceded: 2, ..State::default() };
        state.learn(12, &[-1.0, -2.5, 0.25, -1e9]);
        assert_eq!(state.cells, [-640, -1_408, 0, -MOST_UNITS]);
        let extremes = State { cells: vec![MOST_UNITS, -MOST_UNITS, MOST_UNITS, 0], ..State::default() };
        for state in [state, extremes, State::default()] {
            let mut packer = Packer::default();
            state.pack(&mut packer);
            let bytes = packer.finish();
            assert!(bytes.len() <= state.size());
            let mut reader = Unpacker::of(&bytes);
            assert_eq!(State::unpack(&mut reader), Some(state));
            assert!(reader.is_at_end());
            assert_eq!(State::unpack(&mut Unpacker::of(&bytes[..bytes.len() - 1])), None);
        }
    }

    #[test]
    fn the_rows_of_a_player_may_have_causes_of_their_own() {
        // two rows of one cause each, ratios 100 and 1/100
        let rows = [vec![100f64.ln()], vec![0.01f64.ln()]];
        // (0.1 + 0.9 · 100) (0.1 + 0.9 / 100) = 90.1 · 0.109
        assert!((apart(&rows).exp() - 90.1 * 0.109).abs() < 1e-9);
    }

    #[test]
    fn a_digest_kept_up_step_by_step_is_the_one_made_afresh() {
        let kind = super::super::kind("chosen_records").unwrap();
        let kind = &Kind { digest: |row| row.logs(2), setup: |sums, _| sums[0] - sums[1], ..*kind };
        let kind = &Kind { subjects: super::super::BOTH, ..*kind };
        let row = |logs: [f64; 2]| {
            let mut state = State { rounds: 1, ..State::default() };
            state.learn(12, &logs);
            state
        };
        let (one, two, later) = (row([0.0, -1.5]), row([0.0, -2.0]), row([0.0, -4.0]));
        let kept = Digest::of(kind, &one).plus(&Digest::of(kind, &two));
        let kept = kept.minus(&Digest::of(kind, &two)).plus(&Digest::of(kind, &later));
        assert_eq!(kept.evidence(kind), evidence(kind, Subject::Setup, &[&later, &one]));
        // rows of a set-up share the cause: logs add up
        assert!((kept.evidence(kind).log10 - 5.5 / std::f64::consts::LN_10).abs() < 1e-9);
    }

    #[test]
    fn nothing_learnt_is_an_explanation_as_good_as_any() {
        assert_eq!(State::default().logs(3), vec![0.0; 3]);
        assert_eq!(ln_mean(&[]), 0.0);
    }
}
