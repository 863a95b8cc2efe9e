//! One line of each putt: is its spread far narrower near the hole than the same player shows from farther away?
//!
//! Honest: a spread that changes with distance as a power of it, and from night to night. Unfair: the spread shrinks
//! inside a radius.

use super::evidence::{self, Causes, State, best_at, ln_mean, smooth};
use super::geometry::{BINS, bin, middle_ft, normal_below};
use super::readings::{PuttReading, RoundReadings};
use super::{BOTH, Cause, Kind, Sizing};
use std::sync::LazyLock;

pub(super) static KIND: Kind = Kind {
    name: "narrow_short_line",
    subjects: BOTH,
    is_notice: false,
    needs: "the played or the measured line of a putt",
    unfair: "the line of short putts is softened",
    than: "than under the best honest explanation that we know",
    tell: |seen, _| (seen.spreads(), seen.made()),
    reads_cards: false,
    add,
    player: |rows| evidence::of_player(rows, causes),
    digest: causes,
    setup: |sums| ln_mean(sums),
    strongest,
    nearest,
    settles: "both lines recorded, or ten putts from 8 ft on another set-up",
    size: Sizing::InRadius,
    prepare: || {
        LazyLock::force(&TABLES);
    },
};

/// The radii in feet that cut the distances into zones.
const EDGES_FT: [f64; 3] = [12.0, 16.0, 20.0];
const ZONES: usize = EDGES_FT.len() + 1;
/// The spreads at 10 ft: 0.25° to 5.3° in steps of 9 %.
const SPREADS: usize = 35;
const LEAST_SPREAD_DEG: f64 = 0.25;
const STEP: f64 = 0.09;
/// How the spread changes with distance: as this power of it.
const HABITS: [f64; 5] = [-0.3, -0.15, 0.0, 0.15, 0.3];
const UNFAIR_HABITS: [usize; 3] = [1, 2, 3];
/// What the spread inside is multiplied by in the unfair family.
const STRENGTHS: [f64; 6] = [0.06, 0.125, 0.2, 0.3, 0.45, 0.6];
/// Night form: the log-normal spread of a night about the player's level.
const NIGHTS: [f64; 4] = [0.0, 0.12, 0.2, 0.3];
const UNFAIR_NIGHT: usize = 1;
/// The kernels reach this many steps to either side.
const REACH: usize = 10;

const HONEST_CELLS: usize = NIGHTS.len() * HABITS.len() * SPREADS;
const HABIT_CELLS: usize = UNFAIR_HABITS.len() * SPREADS;
const CAUSES: usize = STRENGTHS.len() * EDGES_FT.len();
const CELLS: usize = HONEST_CELLS + CAUSES * HABIT_CELLS;

/// Readings of 0.1° up to 10°; all larger ones are one outcome.
const READINGS: usize = 102;
const OUTLIERS: f64 = 0.03;
/// Spreads of the tables: four phases of a step, from far below the least to far above the greatest.
const PHASES: usize = 4;
const BELOW: usize = 44;
const ABOVE: usize = 10;

struct Tables {
    /// `[phase][reading][spread]`: log-likelihoods; the honest ones floored.
    honest: Vec<Vec<Vec<f64>>>,
    unfair: Vec<Vec<Vec<f64>>>,
    /// `[bin][habit]` and `[strength]`: shifts of the spread in quarter steps.
    habits: Vec<[isize; HABITS.len()]>,
    strengths: [isize; STRENGTHS.len()],
    /// `[night][steps apart]`, before the edges are seen to.
    kernels: Vec<Vec<f64>>,
}

static TABLES: LazyLock<Tables> = LazyLock::new(|| {
    let spread = |phase: usize, at: usize| {
        let steps = at as f64 - BELOW as f64 + phase as f64 / PHASES as f64;
        LEAST_SPREAD_DEG * (STEP * steps).exp()
    };
    let spreads = || 0..BELOW + SPREADS + ABOVE;
    let unfair: Vec<Vec<Vec<f64>>> = (0..PHASES)
        .map(|phase| {
            (0..READINGS).map(|reading| spreads().map(|at| log_chance(reading, spread(phase, at))).collect()).collect()
        })
        .collect();
    let floor = |reading: usize| {
        let all = unfair.iter().flat_map(|phase| phase[reading].iter().copied());
        all.fold(f64::NEG_INFINITY, f64::max) - 1000f64.ln()
    };
    let honest = unfair
        .iter()
        .map(|phase| {
            let rows = phase.iter().enumerate();
            rows.map(|(reading, row)| row.iter().map(|log| log.max(floor(reading))).collect()).collect()
        })
        .collect();
    let quarters = |ratio_ln: f64| (ratio_ln / STEP * PHASES as f64).round() as isize;
    let kernel = |night: f64| -> Vec<f64> {
        let weight = |apart: usize| (-0.5 * (apart as f64 * STEP / night).powi(2)).exp();
        (0..=REACH).map(|apart| if night == 0.0 { f64::from(apart == 0) } else { weight(apart) }).collect()
    };
    Tables {
        honest,
        habits: (0..BINS).map(|bin| HABITS.map(|habit| quarters(habit * (middle_ft(bin) / 10.0).ln()))).collect(),
        strengths: STRENGTHS.map(|strength| quarters(strength.ln())),
        unfair,
        kernels: NIGHTS.iter().map(|night| kernel(*night)).collect(),
    }
});

/// Returns ln of the chance of a reading, either side alike, of a line that spreads by `spread` degrees.
///
/// A 3 % part of outliers lies evenly over the readings, half of it beyond 10°. Rounding is part of the interval.
fn log_chance(reading: usize, spread: f64) -> f64 {
    let last = READINGS - 1;
    let (low, high) = ((reading as f64 - 0.5).max(0.0) / 10.0, (reading as f64 + 0.5) / 10.0);
    let chance = match reading {
        _ if reading == last => 2.0 * normal_below(-low / spread),
        _ => 2.0 * (normal_below(high / spread) - normal_below(low / spread)),
    };
    let outlier = if reading == last { 0.5 } else { 0.5 / last as f64 };
    ((1.0 - OUTLIERS) * chance + OUTLIERS * outlier).ln()
}

/// The line that is looked at: the one that the simulator used, else the measured one.
fn line(putt: &PuttReading) -> Option<f64> {
    putt.played_line_deg.or(putt.start_line_deg)
}

type Row = [f64; SPREADS];

fn add(state: &mut State, round: &RoundReadings) {
    let tables = &*TABLES;
    let mut honest = [[0.0; SPREADS]; HABITS.len()];
    let mut plain = [[[0.0; SPREADS]; HABITS.len()]; ZONES];
    let mut narrow = [[[[0.0; SPREADS]; STRENGTHS.len()]; UNFAIR_HABITS.len()]; ZONES];
    let mut usable = 0;
    for putt in round.undeclared() {
        let Some(line) = line(putt) else { continue };
        usable += 1;
        let zone = EDGES_FT.iter().filter(|edge| putt.distance_ft > **edge).count();
        let reading = ((line.abs() * 10.0).round() as usize).min(READINGS - 1);
        let habits = &tables.habits[bin(putt.distance_ft)];
        for (habit, shift) in habits.iter().enumerate() {
            accumulate(&mut honest[habit], &tables.honest, reading, *shift);
            accumulate(&mut plain[zone][habit], &tables.unfair, reading, *shift);
        }
        if zone < EDGES_FT.len() {
            for (row, habit) in narrow[zone].iter_mut().zip(UNFAIR_HABITS) {
                for (row, strength) in row.iter_mut().zip(tables.strengths) {
                    accumulate(row, &tables.unfair, reading, habits[habit] + strength);
                }
            }
        }
    }
    if usable == 0 {
        return;
    }
    let mut logs = Vec::with_capacity(CELLS);
    for kernel in &tables.kernels {
        for row in &honest {
            smooth(row, kernel, &mut logs);
        }
    }
    for (strength, _) in STRENGTHS.iter().enumerate() {
        for inside in 1..ZONES {
            for (n, habit) in UNFAIR_HABITS.into_iter().enumerate() {
                let row: Row = std::array::from_fn(|at| {
                    (0..ZONES)
                        .map(|zone| if zone < inside { narrow[zone][n][strength][at] } else { plain[zone][habit][at] })
                        .sum()
                });
                smooth(&row, &tables.kernels[UNFAIR_NIGHT], &mut logs);
            }
        }
    }
    state.learn(usable, &logs);
}

/// Adds the log-likelihoods of one reading for every spread at 10 ft, `shift` quarter steps away.
fn accumulate(row: &mut Row, table: &[Vec<Vec<f64>>], reading: usize, shift: isize) {
    let quarters = (BELOW * PHASES).saturating_add_signed(shift);
    let (phase, from) = (quarters % PHASES, (quarters / PHASES).min(BELOW + ABOVE));
    for (cell, log) in row.iter_mut().zip(&table[phase][reading][from..from + SPREADS]) {
        *cell += log;
    }
}

fn causes(row: &State) -> Causes {
    evidence::alike_causes(&row.logs(CELLS), HONEST_CELLS, HABIT_CELLS)
}

fn strongest(rows: &[&State]) -> Option<Cause> {
    let at = evidence::strongest(rows, causes);
    Some(Cause { radius_ft: EDGES_FT[at % EDGES_FT.len()], factor: STRENGTHS[at / EDGES_FT.len()] })
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let at = best_at(&row.logs(CELLS)[..HONEST_CELLS]);
    let spread = LEAST_SPREAD_DEG * (STEP * (at % SPREADS) as f64).exp();
    let habit = HABITS[at / SPREADS % HABITS.len()];
    let how = match habit {
        habit if habit > 0.0 => ", and straighter the nearer the hole",
        habit if habit < 0.0 => ", and straighter the farther from the hole",
        _ => " from every distance",
    };
    format!("a player who starts the ball with {spread:.1}° of spread at 10 ft{how}")
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Subject, evidence};
    use super::super::simulated::{Draw, putt, round};
    use super::*;

    fn log10(putts: Vec<PuttReading>) -> f64 {
        let mut state = State::default();
        state.add(&KIND, &round(putts));
        evidence(&KIND, Subject::Player, &[&state]).log10
    }

    fn played(distance_ft: f64, line: f64) -> PuttReading {
        PuttReading { played_line_deg: Some((line * 10.0).round() / 10.0), ..putt(distance_ft) }
    }

    #[test]
    fn a_reading_has_the_chance_that_is_worked_out_by_hand() {
        // 0.0° at a spread of 1°: within 0.05° lie 3.988 %; the outliers' half part over 101 readings
        assert!((log_chance(0, 1.0) - (0.97f64 * 0.039_88 + 0.03 * 0.5 / 101.0).ln()).abs() < 1e-3);
        // 1.0°, either side: 2 (Φ(1.05) - Φ(0.95)) = 0.048 40
        assert!((log_chance(10, 1.0) - (0.97f64 * 0.048_40 + 0.03 * 0.5 / 101.0).ln()).abs() < 1e-3);
    }

    #[test]
    fn the_chances_of_all_readings_add_up_to_1() {
        for spread in [0.05, 0.7, 6.0] {
            let sum: f64 = (0..READINGS).map(|reading| log_chance(reading, spread).exp()).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{spread}: {sum}");
        }
    }

    #[test]
    fn one_line_far_narrower_near_the_hole_shows_and_an_even_one_does_not() {
        let near = |deg: f64| (0..40).map(move |n| played(7.0, deg * [0.2, -0.9, 1.4, -0.4][n % 4]));
        let far = || (0..30).map(|n| played(28.0, 1.5 * [0.3, -0.8, 1.3, -0.5][n % 4]));
        assert!(log10(near(0.15).chain(far()).collect()) > 4.0);
        assert!(log10(near(1.3).chain(far()).collect()) < 0.0);
    }

    #[test]
    fn evidence_has_a_mean_of_at_most_1_under_honest_explanations() {
        for (spread, habit) in [(0.4, 0.3), (1.2, 0.0), (2.5, -0.3)] {
            let mut draw = Draw::new(11);
            let evidence = draw.mean_of_evidence(2_000, |draw| {
                let distances =
                    (0..24).map(|n| if n < 16 { 3.0 + f64::from(n) } else { 22.0 + 2.0 * f64::from(n - 16) });
                let line = |distance: f64, draw: &mut Draw| spread * (distance / 10.0).powf(habit) * draw.normal();
                log10(distances.map(|distance| played(distance, line(distance, draw))).collect())
            });
            assert!(evidence.is_at_most_1(), "{spread}, {habit}: {evidence:?}");
        }
    }
}
