//! Both lines of the same putt: is the one that the simulator used a shrunken copy of the measured one, near the hole
//! only?
//!
//! Honest: `played = c · measured + noise`, with c the sensors' calibration and what noise takes off it. Two noisy
//! readings of one line regress to each other, the more so the straighter the player, so c may also change with
//! distance: by a fifth at a radius, or as a player's spread does. Unfair: c shrinks inside a radius.
//!
//! The cause may switch from night to night, and the honest explanation may change once ([`switching`]).
//!
//! The played line lies in the cell of its step; the measured one may be any of five points of its own.

use super::evidence::{self, Causes, Digest, Products, State, best_at, ln_mean};
use super::geometry::{BINS, bin, middle_ft, normal_below};
use super::readings::{LineField, PuttReading, RoundReadings, STEPS_DEG};
use super::{BOTH, Cause, Kind, Sizing, switching};
use std::sync::LazyLock;

pub(super) static KIND: Kind = Kind {
    name: "softened_line",
    title: "short putts helped on line",
    subjects: BOTH,
    is_notice: false,
    needs: "the measured and the played line of the same putt",
    unfair: "the line of short putts is softened",
    than: "than under the best honest explanation that we know",
    tell: |seen, _| seen.both_lines(),
    reads_cards: false,
    add,
    player: |rows| evidence::of_player(rows, causes),
    digest: |row| vec![row.off_over_honest()],
    setup: |sums, nights| ln_mean(&switching::causes(nights, CAUSES, sums[0])),
    strongest,
    nearest,
    settles: "ten putts from 8 ft on another simulator with both lines recorded, or the simulator's own settings for short putts",
    size: Sizing::InRadius,
    prepare: || {
        LazyLock::force(&TABLES);
    },
};

/// The radii in feet that cut the distances into zones.
const EDGES_FT: [f64; 4] = [12.0, 16.0, 20.0, 24.0];
const ZONES: usize = EDGES_FT.len() + 1;
/// The honest factors: 1.25 down to 0.36 in steps of 5.2 %.
const HONEST_FACTORS: usize = 25;
const GREATEST_FACTOR: f64 = 1.25;
const STEP: f64 = 0.052;
/// Rows of factors before the greatest: an inside a fifth larger.
const BEFORE: usize = 4;
/// By how many steps the inside may differ in the honest family: 1.23, 1.11, 0.90, 0.81.
const HONEST_SHIFTS: [isize; 4] = [-4, -2, 2, 4];
/// The zones that such an inside covers: up to 12 ft and up to 20 ft.
const HONEST_INSIDES: [usize; 2] = [1, 3];
/// The unfair factor inside: 0.7, 0.6, 0.5, 0.35, 0.2, 0.1 in steps; the seventh is 0.
const UNFAIR_SHIFTS: [usize; 6] = [7, 10, 13, 20, 31, 44];
const STRENGTHS: usize = UNFAIR_SHIFTS.len() + 1;
/// The factors that the unfair family starts from: every second from 1.25 to 0.67.
const UNFAIR_FACTORS: usize = 7;
/// Rows of factors; the last one is 0.
const FACTORS: usize = BEFORE + 2 * (UNFAIR_FACTORS - 1) + 44 + 2;
const ZERO_FACTOR: usize = FACTORS - 1;
/// The spread of the played line about the measured one, in degrees, the rounding of both apart.
const NOISES_DEG: [f64; 7] = [0.04, 0.07, 0.12, 0.2, 0.3, 0.45, 0.6];
const NOISES: usize = NOISES_DEG.len();
const UNFAIR_NOISES: usize = 6;
const PLAIN_CELLS: usize = (1 + HONEST_SHIFTS.len() * HONEST_INSIDES.len()) * HONEST_FACTORS * NOISES;
/// Players straight enough for noise to tell: noise of the measured line over its spread at 10 ft, how the spread
/// changes with distance, the mean of the line in degrees, calibration; and for each of them the noise in degrees.
const NOISE_RATIOS: [f64; 7] = [0.35, 0.5, 0.65, 0.85, 1.1, 1.4, 1.8];
const HABITS: [f64; 4] = [-0.3, -0.15, 0.15, 0.3];
const BIASES_DEG: [f64; 5] = [0.0, 0.35, -0.35, 0.9, -0.9];
const CALIBRATIONS: [f64; 2] = [0.95, 1.05];
const PLAYERS: usize = NOISE_RATIOS.len() * HABITS.len() * BIASES_DEG.len() * CALIBRATIONS.len();
const SENSOR_NOISES: usize = 9;
const LEAST_SENSOR_NOISE_DEG: f64 = 0.16;
const SENSOR_NOISE_STEP: f64 = 0.182;
/// The noise of the played line over that of the measured one.
const PLAYED_NOISE: f64 = 0.5;
const STRAIGHT: usize = PLAYERS * SENSOR_NOISES;
const HONEST_CELLS: usize = PLAIN_CELLS + STRAIGHT;
const CAUSES: usize = STRENGTHS * EDGES_FT.len();
/// The habits of a player and the sensors, the same with the cause off and on.
const HABIT_CELLS: usize = UNFAIR_FACTORS * UNFAIR_NOISES;

/// Residuals are looked up in steps of 0.02° to 8°; larger ones are as unlikely as 8°.
const RESIDUALS: usize = 401;
const RESIDUALS_A_DEGREE: f64 = 50.0;
/// The outlier part: 3 %, spread over 20°.
const OUTLIERS: f64 = 0.03;
const OUTLIER_DEG: f64 = 20.0;
/// The finer steps of noise for straight players, from 0.04° in steps of 11 %.
const FINE_NOISES: usize = 32;
const FINE_STEP: f64 = 0.11;

struct Tables {
    /// One for each of the steps of played lines.
    steps: [Step; STEPS_DEG.len()],
    /// For each distance bin and straight player: what is expected of the played line.
    straight: Vec<Vec<Expected>>,
    factors: [f64; FACTORS],
}

/// The chances of played lines of one step.
struct Step {
    /// `[residual][noise]`.
    chances: Vec<[f64; NOISES]>,
    /// `[residual][fine noise]`.
    fine: Vec<[f64; FINE_NOISES]>,
    /// The honest floor: a thousandth of the largest chance.
    floor: f64,
}

fn step(step_deg: f64) -> Step {
    let chance = |residual: usize, noise: f64| {
        let (residual, half) = (residual as f64 / RESIDUALS_A_DEGREE, 0.5 * step_deg);
        let chance = normal_below((residual + half) / noise) - normal_below((residual - half) / noise);
        (1.0 - OUTLIERS) * chance + OUTLIERS * step_deg / OUTLIER_DEG
    };
    let fine_deg = |fine: usize| NOISES_DEG[0] * (FINE_STEP * fine as f64).exp();
    Step {
        chances: (0..RESIDUALS).map(|at| NOISES_DEG.map(|noise| chance(at, noise))).collect(),
        fine: (0..RESIDUALS).map(|at| std::array::from_fn(|fine| chance(at, fine_deg(fine)))).collect(),
        floor: chance(0, NOISES_DEG[0]) / 1000.0,
    }
}

static TABLES: LazyLock<Tables> = LazyLock::new(|| Tables {
    steps: STEPS_DEG.map(step),
    straight: (0..BINS).map(|bin| (0..PLAYERS).map(|player| expected(player, middle_ft(bin))).collect()).collect(),
    factors: std::array::from_fn(|row| match row {
        ZERO_FACTOR => 0.0,
        _ => GREATEST_FACTOR * (-STEP * (row as f64 - BEFORE as f64)).exp(),
    }),
});

/// What is expected of the played line: a factor of the measured one, and so many degrees; and the fine noises.
#[derive(Clone, Copy)]
struct Expected {
    factor: f64,
    degrees: f64,
    fine: [u8; SENSOR_NOISES],
}

/// Returns what noise leaves of a straight player's measured line.
///
/// # Formula
/// ```text
/// Q = (noise / spread)² at this distance     factor = calibration / (1 + Q)
/// degrees = calibration · bias · Q / (1 + Q)     residual² = noise² · (calibration² / (1 + Q) + 0.5²)
/// ```
///
/// # Source
/// Regression of one normal reading on another of the same line (errors in variables; from memory).
fn expected(player: usize, distance_ft: f64) -> Expected {
    let (ratio, habit, bias, calibration) = straight_habits(player);
    let quotient = ratio * ratio * (distance_ft / 10.0).powf(-2.0 * habit);
    let scale = (calibration * calibration / (1.0 + quotient) + PLAYED_NOISE * PLAYED_NOISE).sqrt();
    let factor = calibration / (1.0 + quotient);
    let fine = |noise: usize| ((sensor_noise_deg(noise) * scale / NOISES_DEG[0]).ln() / FINE_STEP).round();
    Expected {
        factor,
        degrees: bias * quotient * factor,
        fine: std::array::from_fn(|noise| fine(noise).clamp(0.0, (FINE_NOISES - 1) as f64) as u8),
    }
}

fn sensor_noise_deg(noise: usize) -> f64 {
    LEAST_SENSOR_NOISE_DEG * (SENSOR_NOISE_STEP * noise as f64).exp()
}

fn straight_habits(player: usize) -> (f64, f64, f64, f64) {
    let (ratio, rest) = (NOISE_RATIOS[player % NOISE_RATIOS.len()], player / NOISE_RATIOS.len());
    let (habit, rest) = (HABITS[rest % HABITS.len()], rest / HABITS.len());
    (ratio, habit, BIASES_DEG[rest % BIASES_DEG.len()], CALIBRATIONS[rest / BIASES_DEG.len()])
}

fn lines(putt: &PuttReading) -> Option<(f64, f64)> {
    putt.start_line_deg.zip(putt.played_line_deg)
}

fn add(state: &mut State, round: &RoundReadings) {
    let Round { usable, honest, off, on } = Round::of(round);
    state.learn_switching(usable, round.played_on, [&honest, &off, &on]);
}

/// What a round says, in nats.
struct Round {
    usable: u32,
    honest: Vec<f64>,
    /// Of each habit, the cause being off.
    off: Vec<f64>,
    /// Of each cause's habits, the cause being on.
    on: Vec<f64>,
}

impl Round {
    fn of(round: &RoundReadings) -> Self {
        let tables = &*TABLES;
        let mut honest = vec![Products::ones(FACTORS * NOISES); ZONES];
        let mut unfair = honest.clone();
        let mut straight = Products::ones(STRAIGHT);
        let (measures, plays) = (round.lines(LineField::Measured), round.lines(LineField::Played));
        let Step { chances, fine, floor } = &tables.steps[plays.step];
        let mut usable = 0;
        for putt in round.undeclared() {
            let Some((measured, played)) = lines(putt) else { continue };
            usable += 1;
            let zone = EDGES_FT.iter().filter(|edge| putt.distance_ft > **edge).count();
            let (points, played) = (measures.points_deg(measured), plays.middle_deg(played));
            let residual = |line: f64| (((played - line).abs() * RESIDUALS_A_DEGREE + 0.5) as usize).min(RESIDUALS - 1);
            let share = 1.0 / points.len() as f64;
            let cells = honest[zone].shares.chunks_mut(NOISES).zip(unfair[zone].shares.chunks_mut(NOISES));
            for ((honest, unfair), factor) in cells.zip(tables.factors) {
                let rows = points.map(|point| &chances[residual(factor * point)]);
                for noise in 0..NOISES {
                    let chance = share * rows.iter().map(|row| row[noise]).sum::<f64>();
                    honest[noise] *= chance.max(*floor);
                    unfair[noise] *= chance;
                }
            }
            honest[zone].count();
            unfair[zone].count();
            for (cells, expected) in
                straight.shares.chunks_mut(SENSOR_NOISES).zip(&tables.straight[bin(putt.distance_ft)])
            {
                let rows = points.map(|point| &fine[residual(expected.factor * point + expected.degrees)]);
                for (cell, noise) in cells.iter_mut().zip(expected.fine) {
                    let chance = share * rows.iter().map(|row| row[usize::from(noise)]).sum::<f64>();
                    *cell *= chance.max(*floor);
                }
            }
            straight.count();
        }
        honest.iter_mut().chain(&mut unfair).chain([&mut straight]).for_each(Products::fold);
        let mut explained = vec![0.0; HONEST_CELLS];
        spread_honest(&honest, &mut explained[..PLAIN_CELLS]);
        explained[PLAIN_CELLS..].copy_from_slice(&straight.logs);
        Self { usable, honest: explained, off: without_cause(&unfair), on: with_causes(&unfair) }
    }
}

/// Returns the sum over zones, with the first `inside` of them taken from another row.
fn across(zones: &[Products], inside: usize, rows: (usize, usize), noise: usize) -> f64 {
    let (near, far) = rows;
    let row = |zone: usize| if zone < inside { near } else { far };
    zones.iter().enumerate().map(|(zone, products)| products.logs[row(zone) * NOISES + noise]).sum()
}

fn spread_honest(zones: &[Products], logs: &mut [f64]) {
    let insides = HONEST_INSIDES.iter().flat_map(|inside| HONEST_SHIFTS.map(|shift| (*inside, shift)));
    let mut cells = logs.iter_mut();
    for (inside, shift) in [(0, 0)].into_iter().chain(insides) {
        for factor in BEFORE..BEFORE + HONEST_FACTORS {
            let near = factor.saturating_add_signed(shift);
            for (noise, cell) in cells.by_ref().take(NOISES).enumerate() {
                *cell = across(zones, inside, (near, factor), noise);
            }
        }
    }
}

/// Returns the factors that habits start from.
fn unfair_factors() -> impl Iterator<Item = usize> {
    (0..UNFAIR_FACTORS).map(|n| BEFORE + 2 * n)
}

fn without_cause(zones: &[Products]) -> Vec<f64> {
    let noises = |factor| (0..UNFAIR_NOISES).map(move |noise| across(zones, 0, (factor, factor), noise));
    unfair_factors().flat_map(noises).collect()
}

fn with_causes(zones: &[Products]) -> Vec<f64> {
    let mut logs = Vec::with_capacity(CAUSES * HABIT_CELLS);
    for strength in 0..STRENGTHS {
        for inside in 1..ZONES {
            for factor in unfair_factors() {
                let near = UNFAIR_SHIFTS.get(strength).map_or(ZERO_FACTOR, |shift| factor + shift);
                logs.extend((0..UNFAIR_NOISES).map(|noise| across(zones, inside, (near, factor), noise)));
            }
        }
    }
    logs
}

fn causes(row: &State) -> Causes {
    switching::causes(&row.switching.nights, CAUSES, row.off_over_honest())
}

fn strongest(rows: &[&State]) -> Option<Cause> {
    let at = best_at(&switching::causes(&Digest::of_rows(&KIND, rows).nights, CAUSES, 0.0));
    let (strength, radius) = (at / EDGES_FT.len(), at % EDGES_FT.len());
    let factor = UNFAIR_SHIFTS.get(strength).map_or(0.0, |shift| (-STEP * *shift as f64).exp());
    Some(Cause { radius_ft: EDGES_FT[radius], factor })
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let (at, has_changed) = switching::nearest_honest(&row.cells);
    let after = if has_changed { switching::AFTER_A_CHANGE } else { "" };
    format!("{}{after}", explanation(at))
}

/// Says an honest explanation in words.
fn explanation(at: usize) -> String {
    if at >= PLAIN_CELLS {
        let (player, noise) =
            ((at - PLAIN_CELLS) / SENSOR_NOISES, sensor_noise_deg((at - PLAIN_CELLS) % SENSOR_NOISES));
        let (_, habit, ..) = straight_habits(player);
        let how = if habit > 0.0 { "straighter near the hole" } else { "straighter from afar" };
        return format!("a straight player, {how}, measured with {noise:.2}° of noise, which hides part of the line");
    }
    let (group, factor, noise) = (at / NOISES / HONEST_FACTORS, at / NOISES % HONEST_FACTORS, at % NOISES);
    let factor = TABLES.factors[BEFORE + factor];
    let noise = NOISES_DEG[noise];
    let mut text =
        format!("a simulator that plays {:.0} % of the measured line, with {noise:.2}° of noise", 100.0 * factor);
    if group > 0 {
        let shift = HONEST_SHIFTS[(group - 1) % HONEST_SHIFTS.len()];
        let radius = EDGES_FT[HONEST_INSIDES[(group - 1) / HONEST_SHIFTS.len()] - 1];
        let ratio = (-STEP * shift as f64).exp();
        text.push_str(&format!(", and {:.0} % of that inside {radius:.0} ft", 100.0 * ratio));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Subject, evidence, nights_on};
    use super::super::simulated::{Draw, on, putt, round};
    use super::*;
    use proptest::collection::vec;
    use std::collections::BTreeSet;

    proptest::proptest! {
        /// A cause that changes nothing can speak against nobody.
        #[test]
        fn evidence_of_a_cause_without_strength_is_at_most_1_for_any_records(
            rounds in vec((0..60i32, vec((1.0..60.0f64, -6.0..6.0f64, -6.0..6.0f64), 1..12)), 1..9),
        ) {
            let mut state = State { rounds: 1, ..State::default() };
            for (day, putts) in rounds {
                let tenth = |line: f64| Some((10.0 * line).round() / 10.0);
                let reading = |(distance, measured, played): &(f64, f64, f64)| PuttReading {
                    start_line_deg: tenth(*measured),
                    played_line_deg: tenth(*played),
                    ..putt(*distance)
                };
                let round = on(day, putts.iter().map(reading).collect());
                let Round { usable, honest, off, .. } = Round::of(&round);
                state.learn_switching(usable, round.played_on, [&honest, &off, &off.repeat(CAUSES)]);
                let found = ln_mean(&causes(&state));
                proptest::prop_assert!(found <= 0.0, "{found}");
            }
        }
    }

    /// A player's nights, a week each: 18 putts on each, the ones inside 20 ft played at a factor of their line.
    fn season(seed: u64, factor: impl Fn(i32) -> (f64, f64)) -> State {
        let mut draw = Draw::new(seed);
        let mut state = State::default();
        for night in 0..20 {
            let (near, everywhere) = factor(night);
            let putts = (0..18).map(|n| {
                let distance = if n < 10 { 2.0 + 2.0 * f64::from(n) } else { 10.0 + 2.0 * f64::from(n) };
                let measured = 1.2 * draw.normal();
                let factor = everywhere * if distance <= 20.0 { near } else { 1.0 };
                played(distance, (10.0 * measured).round() / 10.0, factor)
            });
            state.add(&KIND, &on(7 * night, putts.collect()));
        }
        state
    }

    #[test]
    fn softening_on_some_nights_shows_and_names_them() {
        let from_the_eleventh = |night: i32| night >= 10;
        let every_third = |night: i32| night % 3 == 2;
        for (seed, is_soft) in [(1, from_the_eleventh as fn(i32) -> bool), (2, every_third)] {
            let state = season(seed, |night| (if is_soft(night) { 0.125 } else { 1.0 }, 1.0));
            assert!(evidence(&KIND, Subject::Player, &[&state]).log10 > 5.0);
            for subject in [Subject::Player, Subject::Setup] {
                let named = nights_on(&KIND, subject, &[&state]).unwrap();
                let due = (0..20).filter(|night| is_soft(*night)).map(|night| on(7 * night, vec![]).played_on);
                assert_eq!(named, [due.collect::<BTreeSet<_>>()]);
            }
        }
    }

    #[test]
    fn a_sensor_that_is_calibrated_anew_is_no_evidence_and_is_told() {
        for (seed, times) in [(3, 0.8), (4, 1.25)] {
            let state = season(seed, |night| (1.0, if night < 9 { 1.0 } else { times }));
            let found = evidence(&KIND, Subject::Player, &[&state]);
            assert!(found.log10 < 0.0, "{found:?}");
            assert!(nearest(&[&state]).contains("changed"), "{}", nearest(&[&state]));
        }
    }

    fn log10(putts: Vec<PuttReading>) -> f64 {
        let mut state = State::default();
        state.add(&KIND, &round(putts));
        evidence(&KIND, Subject::Player, &[&state]).log10
    }

    fn played(distance_ft: f64, measured: f64, factor: f64) -> PuttReading {
        let shown = (measured * factor * 10.0).round() / 10.0;
        PuttReading { start_line_deg: Some(measured), played_line_deg: Some(shown), ..putt(distance_ft) }
    }

    #[test]
    fn a_reading_has_the_chance_that_is_worked_out_by_hand() {
        let [whole, _, _, tenth] = &TABLES.steps;
        // no residual, 0.04° of noise: within 0.05°, 1.25 spreads, lie 78.87 %; 0.97 · 0.7887 + 0.03 · 0.1 / 20
        assert!((tenth.chances[0][0] - (0.97 * 0.788_7 + 0.000_15)).abs() < 1e-4);
        // a residual of 2°: the outlier part alone; the honest floor is a thousandth of the best
        assert!((tenth.chances[100][0] - 0.000_15).abs() < 1e-9);
        assert!((tenth.floor - tenth.chances[0][0] / 1000.0).abs() < 1e-12);
        // whole degrees, 0.3° of noise, 0.4° off the middle: Φ(0.9 / 0.3) - Φ(-0.1 / 0.3) = 0.6292
        assert!((whole.chances[20][4] - (0.97 * 0.629_2 + 0.001_5)).abs() < 1e-3);
    }

    #[test]
    fn the_factors_are_the_ones_named() {
        let factor = |steps: usize| (-STEP * steps as f64).exp();
        for (steps, expect) in UNFAIR_SHIFTS.into_iter().zip([0.7, 0.6, 0.5, 0.35, 0.2, 0.1]) {
            assert!((factor(steps) - expect).abs() < 0.015, "{steps}");
        }
        assert!((TABLES.factors[BEFORE] - 1.25).abs() < 1e-12);
        assert!(TABLES.factors[BEFORE + HONEST_FACTORS - 1] > 0.35 && TABLES.factors[ZERO_FACTOR] == 0.0);
    }

    #[test]
    fn noise_hides_nearly_half_of_a_line_that_is_hardly_wider() {
        // noise 0.85 of the spread at 10 ft: Q = 0.7225, factor 0.95 / 1.7225 = 0.5515; 0.9° of bias leave
        // 0.9 · 0.7225 · 0.5515 = 0.3586°
        let player = (0..PLAYERS).find(|n| straight_habits(*n) == (0.85, 0.3, 0.9, 0.95)).unwrap();
        let found = expected(player, 10.0);
        assert!((found.factor - 0.5515).abs() < 1e-4 && (found.degrees - 0.3586).abs() < 1e-4);
        // 0.16° of noise: 0.16 sqrt(0.9025 / 1.7225 + 0.25) = 0.1408°, within half a fine step
        let residual = NOISES_DEG[0] * (FINE_STEP * f64::from(found.fine[0])).exp();
        assert!((residual / 0.1408).ln().abs() <= 0.5 * FINE_STEP, "{residual}");
    }

    #[test]
    fn a_shrunken_line_near_the_hole_shows_at_once_and_a_shrunken_line_everywhere_does_not() {
        let line = |n: usize| if n.is_multiple_of(2) { 1.7 } else { -1.1 };
        let near = |factor| (0..16).map(move |n| played(6.0, line(n), factor));
        let far = |factor| (0..10).map(move |n| played(30.0, line(n), factor));
        assert!(log10(near(0.2).chain(far(1.0)).collect()) > 6.0);
        assert!(log10(near(0.8).chain(far(0.8)).collect()) < 0.0);
        assert!(log10(near(1.0).chain(far(1.0)).collect()) < 0.0);
    }

    /// A straight player, two sensors that show whole or half degrees: the one line says little about the other.
    #[test]
    fn coarse_lines_of_a_straight_player_are_no_evidence() {
        for (step, seed) in [(1.0, 3), (1.0, 4), (0.5, 5), (0.5, 6)] {
            let mut draw = Draw::new(seed);
            let mut state = State::default();
            for _ in 0..30 {
                let putts = (0..30).map(|n| {
                    let distance = if n < 18 { 2.0 + f64::from(n) } else { 20.0 + 2.0 * f64::from(n - 18) };
                    let line = 0.5 * (distance / 10.0).powf(0.25) * draw.normal();
                    let shown = |line: f64| Some((line / step).round() * step);
                    PuttReading {
                        start_line_deg: shown(line + 0.2 * draw.normal()),
                        played_line_deg: shown(line + 0.1 * draw.normal()),
                        ..putt(distance)
                    }
                });
                state.add(&KIND, &round(putts.collect()));
                let found = evidence(&KIND, Subject::Player, &[&state]).log10;
                assert!(found < 1.0, "{step}: {found}");
            }
        }
    }

    #[test]
    fn evidence_has_a_mean_of_at_most_1_under_honest_explanations() {
        for (factor, noise, inside) in [(1.0, 0.04, 1.0), (0.62, 0.3, 1.0), (0.9, 0.12, 0.81), (0.4, 0.6, 1.23)] {
            let mut draw = Draw::new(7);
            let evidence = draw.mean_of_evidence(500, |draw| {
                let putts = (0..14).map(|n| {
                    let (distance, measured) = if n < 9 { (8.0, 1.3 * draw.normal()) } else { (30.0, draw.normal()) };
                    let measured = (measured * 10.0).round() / 10.0;
                    let factor = if n < 9 { factor * inside } else { factor };
                    let seen = factor * measured + noise * draw.normal();
                    PuttReading {
                        start_line_deg: Some(measured),
                        played_line_deg: Some((seen * 10.0).round() / 10.0),
                        ..putt(distance)
                    }
                });
                log10(putts.collect())
            });
            assert!(evidence.is_at_most_1(), "{factor}, {noise}: {evidence:?}");
        }
    }
}
