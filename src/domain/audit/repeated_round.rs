//! The sequence of (distance, speed, line): was a round, or part of it, handed in before?
//!
//! Honest: two rounds share a run of putts by chance alone. The chance of each reading is taken from the player's own
//! other putts of that distance, and never below what the straightest and steadiest player would show, so that a
//! coarse sensor does not look like a copy.

use super::evidence::{State, Subject, no_digest, no_setup};
use super::readings::{PuttReading, RoundReadings};
use super::{Kind, Sizing};
use std::collections::HashMap;

pub(super) static KIND: Kind = Kind {
    name: "repeated_round",
    title: "same putts in two rounds",
    subjects: &[Subject::Player],
    is_notice: false,
    needs: "putts with their speed and line",
    unfair: "readings of an earlier round were handed in again",
    than: "than under the best honest explanation that we know",
    tell: |seen, rows| seen.copies(rows),
    reads_cards: false,
    add,
    player: weigh,
    digest: no_digest,
    setup: no_setup,
    strongest: |_| None,
    nearest: |_| "the same card handed in for two events by mistake".to_owned(),
    settles: "the sensor's own record of both nights",
    size: Sizing::Untold("what was struck on the later night is not known"),
    prepare: || {},
};

/// The most that a steady player's speed and line repeat: a reading of 0.1 over the width of the narrowest
/// distribution, 4 % of the speed and 0.35° (evenfield estimate: below any that was simulated).
const READING: f64 = 0.1;
const NARROWEST_SPEED: f64 = 0.04;
const NARROWEST_LINE_DEG: f64 = 0.35;
/// How many readings' worth the model weighs beside the player's own.
const MODEL_READINGS: f64 = 2.0;
/// Cells before a round's putts: its place among the received (three cells of 22 bits) and how many putts follow.
const HEADER: usize = 4;
const PLACE_BITS: u32 = 22;
/// Cells of a putt: its distance, and its speed and line together.
const SHOT_CELLS: usize = 2;
/// The most cells that are kept; the oldest rounds go first.
const MOST_KEPT: usize = 5_400;
/// Lines lie within 450 tenths either way.
const MIDDLE_LINE: i32 = 512;
const LINES: i32 = 1_024;

/// A putt in tenths of a foot, a mile an hour and a degree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Shot {
    distance: i32,
    speed: i32,
    line: i32,
}

struct Sequence {
    received: u64,
    shots: Vec<Shot>,
}

fn shot(putt: &PuttReading) -> Option<Shot> {
    let line = putt.start_line_deg.or(putt.played_line_deg)?;
    let tenths = |x: f64| (10.0 * x).round() as i32;
    Some(Shot { distance: tenths(putt.distance_ft), speed: tenths(putt.ball_speed_mph?), line: tenths(line) })
}

fn add(state: &mut State, round: &RoundReadings) {
    let shots: Vec<Shot> = round.putts.iter().filter_map(shot).collect();
    if shots.is_empty() {
        return;
    }
    state.usable += shots.len() as u32;
    let place = |n: u32| (round.received >> (n * PLACE_BITS) & ((1 << PLACE_BITS) - 1)) as i32;
    state.cells.extend([place(2), place(1), place(0), shots.len() as i32]);
    // speeds are at most 400 tenths
    state.cells.extend(shots.iter().flat_map(|shot| [shot.distance, shot.speed * LINES + shot.line + MIDDLE_LINE]));
    while state.cells.len() > MOST_KEPT {
        let oldest = HEADER + SHOT_CELLS * state.cells[HEADER - 1].max(0) as usize;
        state.cells.drain(..oldest.min(state.cells.len()));
    }
}

fn sequences(cells: &[i32]) -> Vec<Sequence> {
    let (mut found, mut rest) = (Vec::new(), cells);
    while let [high, middle, low, count, after @ ..] = rest {
        let (shots, next) = after.split_at((SHOT_CELLS * (*count).max(0) as usize).min(after.len()));
        let received =
            [high, middle, low].iter().fold(0, |place, part| place << PLACE_BITS | u64::from(part.unsigned_abs()));
        let (shots, _) = shots.as_chunks::<SHOT_CELLS>();
        let shot = |cells: &[i32; SHOT_CELLS]| {
            let [distance, both] = *cells;
            Shot { distance, speed: both / LINES, line: both % LINES - MIDDLE_LINE }
        };
        found.push(Sequence { received, shots: shots.iter().map(shot).collect() });
        rest = next;
    }
    found
}

/// Returns the largest evidence that any round gave, as soon as it was there.
///
/// # Formula
/// ```text
/// E = 1 / (n (n-1)² · A · Π)    n: the round's number   A: starts in both rounds   Π: chance of the shared run
/// ```
/// For one start in each, the chance that a run of chance Π is shared is at most Π; so with (n-1) earlier rounds of A
/// starts each, the chance that round n ever reaches 1/α is at most α / (n (n-1)), and the sum over n is α.
///
/// # Source
/// A union bound (evenfield's own derivation).
fn weigh(rows: &[&State]) -> f64 {
    let mut rounds: Vec<Sequence> = rows.iter().flat_map(|row| sequences(&row.cells)).collect();
    rounds.sort_by_key(|round| round.received);
    let frequencies = Frequencies::of(&rounds);
    // Alike readings share their chance; it takes a look at all of their band.
    let mut chances: HashMap<Shot, f64> = HashMap::new();
    let mut places: HashMap<Shot, Vec<(usize, usize)>> = HashMap::new();
    let mut best = 0.0f64;
    for (n, round) in rounds.iter().enumerate() {
        for (start, shot) in round.shots.iter().enumerate() {
            for (earlier, at) in places.get(shot).into_iter().flatten() {
                let other = &rounds[*earlier].shots;
                // a run is weighed from its first putt only
                if start > 0 && *at > 0 && round.shots[start - 1] == other[at - 1] {
                    continue;
                }
                let run = round.shots[start..].iter().zip(&other[*at..]).take_while(|(here, there)| here == there);
                let mut chance_of =
                    |shot: &Shot| *chances.entry(*shot).or_insert_with(|| frequencies.chance(shot).ln());
                let chance: f64 = run.map(|(shot, _)| chance_of(shot)).sum();
                let starts = (round.shots.len() * other.len()) as f64;
                best = best.max(-((n + 1) as f64 * (n * n) as f64 * starts).ln() - chance);
            }
        }
        for (at, shot) in round.shots.iter().enumerate() {
            places.entry(*shot).or_default().push((n, at));
        }
    }
    best
}

/// The longest run that two rounds share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct SharedRun {
    /// Places of the two rounds among the received.
    pub(super) rounds: (u64, u64),
    /// How many putts in a row are alike.
    pub(super) putts: usize,
}

/// Returns the longest run that two rounds share; the first of equals.
pub(super) fn longest_run(rows: &[&State]) -> Option<SharedRun> {
    let mut rounds: Vec<Sequence> = rows.iter().flat_map(|row| sequences(&row.cells)).collect();
    rounds.sort_by_key(|round| round.received);
    let mut longest: Option<SharedRun> = None;
    for (n, later) in rounds.iter().enumerate() {
        for earlier in &rounds[..n] {
            for start in 0..later.shots.len() {
                for at in 0..earlier.shots.len() {
                    let pairs = later.shots[start..].iter().zip(&earlier.shots[at..]);
                    let putts = pairs.take_while(|(here, there)| here == there).count();
                    if putts > longest.map_or(0, |run| run.putts) {
                        longest = Some(SharedRun { rounds: (earlier.received, later.received), putts });
                    }
                }
            }
        }
    }
    longest
}

/// How often readings occur among the player's putts of the same foot of distance.
struct Frequencies {
    bands: HashMap<i32, Vec<Shot>>,
    lines: HashMap<i32, usize>,
    all: usize,
}

impl Frequencies {
    fn of(rounds: &[Sequence]) -> Self {
        let mut found = Self { bands: HashMap::new(), lines: HashMap::new(), all: 0 };
        for shot in rounds.iter().flat_map(|round| &round.shots) {
            found.bands.entry(shot.distance / 10).or_default().push(*shot);
            *found.lines.entry(shot.line).or_default() += 1;
            found.all += 1;
        }
        found
    }

    /// Returns the chance of a putt's speed and line, given its distance: the two putts that match left out.
    fn chance(&self, shot: &Shot) -> f64 {
        let narrow = |width: f64| (READING / (width * (2.0 * std::f64::consts::PI).sqrt())).min(1.0);
        let share = |model: f64, same: usize, all: usize| {
            let (same, all) = (same.saturating_sub(2) as f64, all.saturating_sub(2) as f64);
            model.max((same + MODEL_READINGS * model) / (all + MODEL_READINGS))
        };
        let band = self.bands.get(&(shot.distance / 10)).map(Vec::as_slice).unwrap_or_default();
        let speed = narrow(NARROWEST_SPEED * f64::from(shot.speed.max(1)) / 10.0);
        let same_speed = band.iter().filter(|other| other.speed == shot.speed).count();
        let same_line = self.lines.get(&shot.line).copied().unwrap_or(0);
        share(speed, same_speed, band.len()) * share(narrow(NARROWEST_LINE_DEG), same_line, self.all)
    }
}

#[cfg(test)]
mod tests {
    use super::super::evidence::evidence;
    use super::super::ledger::{About, Ledger, Restarts, Taken};
    use super::super::simulated;
    use super::*;
    use crate::ids::MemberId;
    use std::collections::BTreeSet;

    fn putt(distance_ft: f64, speed: Option<f64>, line: Option<f64>) -> PuttReading {
        PuttReading { ball_speed_mph: speed, start_line_deg: line, ..simulated::putt(distance_ft) }
    }

    /// A round of 20 putts, none like another round's.
    fn round(received: u64, seed: u64) -> RoundReadings {
        let putts = (0..20u64).map(|n| {
            let (distance, mix) = (3.0 + n as f64, (n * 37 + seed * 101) % 97);
            putt(distance, Some(3.0 + 0.1 * (mix % 23) as f64), Some(0.1 * mix as f64 - 4.8))
        });
        RoundReadings { received, ..simulated::round(putts.collect()) }
    }

    fn log10(rounds: &[RoundReadings]) -> f64 {
        let mut state = State::default();
        rounds.iter().for_each(|round| state.add(&KIND, round));
        evidence(&KIND, Subject::Player, &[&state]).log10
    }

    #[test]
    fn a_round_handed_in_again_is_found_and_other_rounds_are_not() {
        let other: Vec<_> = (1..=10).map(|n| round(n, n)).collect();
        assert_eq!(log10(&other), 0.0);
        let mut again = other.clone();
        again.push(RoundReadings { received: 11, ..round(11, 4) });
        assert!(log10(&again) > 10.0, "{}", log10(&again));
    }

    #[test]
    fn a_shared_run_weighs_what_is_worked_out_by_hand() {
        let mut second = round(2, 2);
        second.putts[5] = round(1, 1).putts[5];
        second.putts[6] = round(1, 1).putts[6];
        let found = log10(&[round(1, 1), second.clone()]);
        // n = 2, 20 · 20 starts; a line and a speed that nobody else shows: the model's chance
        let chance = |n: usize| {
            let speed = second.putts[n].ball_speed_mph.unwrap();
            (0.1 / (0.04 * speed * 2.506_628)).min(1.0) * (0.1 / (0.35 * 2.506_628))
        };
        let expect = -(2.0 * 400.0 * chance(5) * chance(6)).log10();
        assert!((found - expect.max(0.0)).abs() < 0.01, "{found} against {expect}");
    }

    #[test]
    fn a_sensor_that_shows_one_value_only_is_no_copy() {
        let same = |received| RoundReadings {
            putts: (0..20).map(|n| putt(3.0 + f64::from(n), Some(5.0), Some(0.0))).collect(),
            ..round(received, 1)
        };
        let rounds: Vec<_> = (1..=6).map(same).collect();
        assert!(log10(&rounds) < 1.0, "{}", log10(&rounds));
    }

    #[test]
    fn putts_without_speed_or_line_do_not_count() {
        let bare = |received| RoundReadings {
            putts: (0..20).map(|n| putt(3.0 + f64::from(n), None, Some(0.2))).collect(),
            ..round(received, 1)
        };
        assert_eq!(log10(&[bare(1), bare(2)]), 0.0);
    }

    #[test]
    fn a_long_season_forgets_its_first_rounds_and_stays_small() {
        let mut state = State::default();
        (1..=400).for_each(|n| state.add(&KIND, &round(n, n)));
        assert!(state.cells.len() <= MOST_KEPT);
        assert_eq!(sequences(&state.cells).last().map(|last| last.received), Some(400));
    }

    #[test]
    fn a_copy_from_before_a_ruling_is_not_counted_again() {
        let member = MemberId(uuid::Uuid::nil());
        let taken = |seq: i64, seed: u64| Taken { seq, member, setup: None, readings: round(seq as u64, seed) };
        let rounds = [taken(1, 1), taken(2, 1), taken(3, 3)];
        let about = About::Player(member);
        assert!(Ledger::default().with(&rounds).evidence(&KIND, about).log10 > 0.0);
        let ruled = Restarts::from([((KIND.name, about), vec![2])]);
        assert_eq!(Ledger::new(ruled, BTreeSet::new()).with(&rounds).evidence(&KIND, about).log10, 0.0);
    }
}
