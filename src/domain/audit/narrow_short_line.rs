//! One line of each putt: is its spread far narrower near the hole than the same player shows from farther away?
//!
//! Honest: a spread that changes with distance as a power of it, and from night to night. Unfair: the spread shrinks
//! inside a radius. The cause may switch from night to night, and the honest explanation may change once
//! ([`switching`]).

use super::evidence::{self, Causes, Digest, State, best_at, ln_mean, smooth};
use super::geometry::{BINS, bin, middle_ft, normal_below};
use super::readings::{FAR_FT, LineField, Lines, PuttReading, RoundReadings, STEPS_DEG};
use super::{BOTH, Cause, Kind, Sizing, switching};
use std::sync::LazyLock;

pub(super) static KIND: Kind = Kind {
    name: "narrow_short_line",
    title: "short putts too straight",
    subjects: BOTH,
    is_notice: false,
    needs: "the played or the measured line of a putt",
    unfair: "the line of short putts is softened",
    than: "than under the best honest explanation that we know",
    tell: |seen, _| (seen.spreads(), seen.made()),
    reads_cards: false,
    add,
    player: |rows| evidence::of_player(rows, causes),
    digest: |row| vec![row.off_over_honest()],
    setup: |sums, nights| ln_mean(&switching::causes(nights, CAUSES, sums[0])),
    strongest,
    nearest,
    settles: "both lines recorded, or ten putts from 8 ft on another simulator",
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
const HABITS: [f64; 7] = [-0.5, -0.3, -0.15, 0.0, 0.15, 0.3, 0.5];
const UNFAIR_HABITS: [usize; 3] = [2, 3, 4];
/// What the spread inside is multiplied by in the unfair family.
const STRENGTHS: [f64; 6] = [0.06, 0.125, 0.2, 0.3, 0.45, 0.6];
/// Night form: the log-normal spread of a night about the player's level.
const NIGHTS: [f64; 4] = [0.0, 0.12, 0.2, 0.3];
const UNFAIR_NIGHT: usize = 1;
/// The kernels reach this many steps to either side.
const REACH: usize = 10;

const HONEST_CELLS: usize = NIGHTS.len() * HABITS.len() * SPREADS;
/// The habits of a player, the same with the cause off and on.
const HABIT_CELLS: usize = UNFAIR_HABITS.len() * SPREADS;
const CAUSES: usize = STRENGTHS.len() * EDGES_FT.len();

/// Readings of a step up to so many degrees; all larger ones are one outcome.
const WIDEST_DEG: f64 = 10.0;
const OUTLIERS: f64 = 0.03;
/// Spreads of the tables: four phases of a step, from far below the least to far above the greatest.
const PHASES: usize = 4;
const BELOW: usize = 44;
const ABOVE: usize = 22;

struct Tables {
    /// One for each of the steps of readings.
    steps: Vec<Step>,
    /// `[bin][habit]` and `[strength]`: shifts of the spread in quarter steps.
    habits: Vec<[isize; HABITS.len()]>,
    strengths: [isize; STRENGTHS.len()],
    /// `[night][steps apart]`, before the edges are seen to.
    kernels: Vec<Vec<f64>>,
}

struct Step {
    /// `[phase][reading][spread]`: log-likelihoods; the honest ones floored.
    honest: Vec<Vec<Vec<f64>>>,
    unfair: Vec<Vec<Vec<f64>>>,
}

/// Returns how many readings of a step are told apart.
fn readings(step_deg: f64) -> usize {
    (WIDEST_DEG / step_deg).round() as usize + 2
}

fn step(step_deg: f64) -> Step {
    let spread = |phase: usize, at: usize| {
        let steps = at as f64 - BELOW as f64 + phase as f64 / PHASES as f64;
        LEAST_SPREAD_DEG * (STEP * steps).exp()
    };
    let spreads = || 0..BELOW + SPREADS + ABOVE;
    let unfair: Vec<Vec<Vec<f64>>> = (0..PHASES)
        .map(|phase| {
            let row = |reading| spreads().map(|at| log_chance(reading, spread(phase, at), step_deg)).collect();
            (0..readings(step_deg)).map(row).collect()
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
    Step { honest, unfair }
}

static TABLES: LazyLock<Tables> = LazyLock::new(|| {
    let quarters = |ratio_ln: f64| (ratio_ln / STEP * PHASES as f64).round() as isize;
    let kernel = |night: f64| -> Vec<f64> {
        let weight = |apart: usize| (-0.5 * (apart as f64 * STEP / night).powi(2)).exp();
        (0..=REACH).map(|apart| if night == 0.0 { f64::from(apart == 0) } else { weight(apart) }).collect()
    };
    Tables {
        steps: STEPS_DEG.map(step).into(),
        habits: (0..BINS).map(|bin| HABITS.map(|habit| quarters(habit * (middle_ft(bin) / 10.0).ln()))).collect(),
        strengths: STRENGTHS.map(|strength| quarters(strength.ln())),
        kernels: NIGHTS.iter().map(|night| kernel(*night)).collect(),
    }
});

/// Returns ln of the chance of a reading, either side alike, of a line that spreads by `spread` degrees.
///
/// A 3 % part of outliers lies evenly over the readings, half of it beyond 10°. Rounding is part of the interval.
fn log_chance(reading: usize, spread: f64, step_deg: f64) -> f64 {
    let last = readings(step_deg) - 1;
    let (low, high) = ((reading as f64 - 0.5).max(0.0) * step_deg, (reading as f64 + 0.5) * step_deg);
    let chance = match reading {
        _ if reading == last => 2.0 * normal_below(-low / spread),
        _ => 2.0 * (normal_below(high / spread) - normal_below(low / spread)),
    };
    let outlier = if reading == last { 0.5 } else { 0.5 / last as f64 };
    ((1.0 - OUTLIERS) * chance + OUTLIERS * outlier).ln()
}

/// Returns the line that is looked at, with how its field is read: the one that the simulator used, else the measured
/// one; none where it is a zero that is no reading. Zeros beyond the radii stay: they only make the spread there smaller.
fn line(putt: &PuttReading, played: Lines, measured: Lines) -> Option<(f64, Lines)> {
    let (line, lines) = match putt.played_line_deg {
        Some(line) => (line, played),
        None => (putt.start_line_deg?, measured),
    };
    let is_missing = lines.are_zeros_missing && line == 0.0 && putt.distance_ft <= FAR_FT;
    (!is_missing).then_some((line, lines))
}

/// Returns the putts of a round whose line is looked at, with the line and how it is read.
pub(super) fn lines(round: &RoundReadings) -> impl Iterator<Item = (&PuttReading, f64, Lines)> {
    let (played, measured) = (round.lines(LineField::Played), round.lines(LineField::Measured));
    round.undeclared().filter_map(move |putt| line(putt, played, measured).map(|(line, lines)| (putt, line, lines)))
}

type Row = [f64; SPREADS];

/// What a round says, in nats.
struct Round {
    usable: u32,
    honest: Vec<f64>,
    /// Of each habit, the cause being off.
    off: Vec<f64>,
    /// Of each cause's habits, the cause being on.
    on: Vec<f64>,
}

fn add(state: &mut State, round: &RoundReadings) {
    let Round { usable, honest, off, on } = Round::of(round);
    state.learn_switching(usable, round.played_on, [&honest, &off, &on]);
}

impl Round {
    fn of(round: &RoundReadings) -> Self {
        let tables = &*TABLES;
        let mut honest = [[0.0; SPREADS]; HABITS.len()];
        let mut plain = [[[0.0; SPREADS]; HABITS.len()]; ZONES];
        let mut narrow = [[[[0.0; SPREADS]; STRENGTHS.len()]; UNFAIR_HABITS.len()]; ZONES];
        let mut usable = 0;
        for (putt, line, lines) in lines(round) {
            let Step { honest: floored, unfair } = &tables.steps[lines.step];
            usable += 1;
            let zone = EDGES_FT.iter().filter(|edge| putt.distance_ft > **edge).count();
            let reading = (lines.cell(line.abs()) as usize).min(readings(STEPS_DEG[lines.step]) - 1);
            let habits = &tables.habits[bin(putt.distance_ft)];
            for (habit, shift) in habits.iter().enumerate() {
                accumulate(&mut honest[habit], floored, reading, *shift);
                accumulate(&mut plain[zone][habit], unfair, reading, *shift);
            }
            if zone < EDGES_FT.len() {
                for (row, habit) in narrow[zone].iter_mut().zip(UNFAIR_HABITS) {
                    for (row, strength) in row.iter_mut().zip(tables.strengths) {
                        accumulate(row, unfair, reading, habits[habit] + strength);
                    }
                }
            }
        }
        let mut explained = Vec::with_capacity(HONEST_CELLS);
        for kernel in &tables.kernels {
            honest.iter().for_each(|row| smooth(row, kernel, &mut explained));
        }
        // The zones before `inside` are narrowed by a strength.
        let with = |inside: usize, strength: usize, logs: &mut Vec<f64>| {
            for (n, habit) in UNFAIR_HABITS.into_iter().enumerate() {
                let zone = |zone: usize| if zone < inside { &narrow[zone][n][strength] } else { &plain[zone][habit] };
                let row: Row = std::array::from_fn(|at| (0..ZONES).map(|n| zone(n)[at]).sum());
                smooth(&row, &tables.kernels[UNFAIR_NIGHT], logs);
            }
        };
        let (mut off, mut on) = (Vec::with_capacity(HABIT_CELLS), Vec::with_capacity(CAUSES * HABIT_CELLS));
        with(0, 0, &mut off);
        for strength in 0..STRENGTHS.len() {
            (1..ZONES).for_each(|inside| with(inside, strength, &mut on));
        }
        Self { usable, honest: explained, off, on }
    }
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
    switching::causes(&row.switching.nights, CAUSES, row.off_over_honest())
}

fn strongest(rows: &[&State]) -> Option<Cause> {
    let at = best_at(&switching::causes(&Digest::of_rows(&KIND, rows).nights, CAUSES, 0.0));
    Some(Cause { radius_ft: EDGES_FT[at % EDGES_FT.len()], factor: STRENGTHS[at / EDGES_FT.len()] })
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let (at, has_changed) = switching::nearest_honest(&row.cells);
    let spread = LEAST_SPREAD_DEG * (STEP * (at % SPREADS) as f64).exp();
    let habit = HABITS[at / SPREADS % HABITS.len()];
    let how = match habit {
        habit if habit > 0.0 => ", and straighter the nearer the hole",
        habit if habit < 0.0 => ", and straighter the farther from the hole",
        _ => " from every distance",
    };
    let after = if has_changed { switching::AFTER_A_CHANGE } else { "" };
    format!("a player who starts the ball with {spread:.1}° of spread at 10 ft{how}{after}")
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Subject, evidence, nights_on};
    use super::super::simulated::{Draw, on, putt, round};
    use super::*;
    use proptest::collection::vec;

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
        assert!((log_chance(0, 1.0, 0.1) - (0.97f64 * 0.039_88 + 0.03 * 0.5 / 101.0).ln()).abs() < 1e-3);
        // 1.0°, either side: 2 (Φ(1.05) - Φ(0.95)) = 0.048 40
        assert!((log_chance(10, 1.0, 0.1) - (0.97f64 * 0.048_40 + 0.03 * 0.5 / 101.0).ln()).abs() < 1e-3);
        // 1° of a sensor that shows whole degrees: 2 (Φ(1.5) - Φ(0.5)) = 0.483 46
        assert!((log_chance(1, 1.0, 1.0) - (0.97f64 * 0.483_46 + 0.03 * 0.5 / 11.0).ln()).abs() < 1e-3);
    }

    #[test]
    fn the_chances_of_all_readings_add_up_to_1() {
        for (spread, step) in [0.05, 0.7, 6.0].into_iter().flat_map(|spread| STEPS_DEG.map(|step| (spread, step))) {
            let sum: f64 = (0..readings(step)).map(|reading| log_chance(reading, spread, step).exp()).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{spread}, {step}: {sum}");
        }
    }

    #[test]
    fn one_line_far_narrower_near_the_hole_shows_and_an_even_one_does_not() {
        let near = |deg: f64| (0..40).map(move |n| played(7.0, deg * [0.2, -0.9, 1.4, -0.4][n % 4]));
        let far = || (0..30).map(|n| played(28.0, 1.5 * [0.3, -0.8, 1.3, -0.5][n % 4]));
        assert!(log10(near(0.15).chain(far()).collect()) > 4.0);
        assert!(log10(near(1.3).chain(far()).collect()) < 0.0);
    }

    proptest::proptest! {
        /// A cause that changes nothing can speak against nobody.
        #[test]
        fn evidence_of_a_cause_without_strength_is_at_most_1_for_any_records(
            rounds in vec((0..60i32, vec((1.0..60.0f64, -9.0..9.0f64), 1..12)), 1..9),
        ) {
            let mut state = State { rounds: 1, ..State::default() };
            for (day, putts) in rounds {
                let round = on(day, putts.iter().map(|(distance, line)| played(*distance, *line)).collect());
                let Round { usable, honest, off, .. } = Round::of(&round);
                state.learn_switching(usable, round.played_on, [&honest, &off, &off.repeat(CAUSES)]);
                let found = ln_mean(&causes(&state));
                proptest::prop_assert!(found <= 0.0, "{found}");
            }
        }
    }

    /// A player's nights, a week each: 20 putts on each, the lines inside 20 ft narrowed, and all of them.
    fn season(seed: u64, factors: impl Fn(i32) -> (f64, f64)) -> State {
        let mut draw = Draw::new(seed);
        let mut state = State::default();
        for night in 0..20 {
            let (near, everywhere) = factors(night);
            let putts = (0..20).map(|n| {
                let distance = if n < 12 { 3.0 + 1.4 * f64::from(n) } else { 21.0 + 2.0 * f64::from(n - 12) };
                let factor = everywhere * if distance <= 20.0 { near } else { 1.0 };
                played(distance, 1.3 * factor * draw.normal())
            });
            state.add(&KIND, &on(7 * night, putts.collect()));
        }
        state
    }

    #[test]
    fn nights_on_which_short_lines_are_narrowed_show_and_are_named() {
        let state = season(21, |night| (if night >= 10 { 0.125 } else { 1.0 }, 1.0));
        let found = evidence(&KIND, Subject::Setup, &[&state]);
        assert!(found.log10 > 5.0, "{found:?}");
        let named = nights_on(&KIND, Subject::Setup, &[&state]).unwrap().remove(0);
        let due = (10..20).map(|night| on(7 * night, vec![]).played_on);
        assert_eq!(named, due.collect::<std::collections::BTreeSet<_>>());
    }

    #[test]
    fn a_lesson_that_halves_the_spread_is_no_evidence() {
        let state = season(22, |night| (1.0, if night >= 10 { 0.5 } else { 1.0 }));
        let found = evidence(&KIND, Subject::Player, &[&state]);
        assert!(found.log10 < 0.0, "{found:?}");
        assert!(nearest(&[&state]).contains("changed"), "{}", nearest(&[&state]));
    }

    #[test]
    fn evidence_has_a_mean_of_at_most_1_under_honest_explanations() {
        for (spread, habit) in [(0.4, 0.3), (0.7, 0.5), (1.2, 0.0), (2.5, -0.3), (1.6, -0.5)] {
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

    /// A straight player whose sensor shows whole degrees: near the hole nearly every line is shown as 0.
    #[test]
    fn whole_degrees_of_a_straight_player_are_no_evidence() {
        for step in [1.0, 0.5] {
            let mut draw = Draw::new(13);
            let mut state = State::default();
            for _ in 0..30 {
                let putts = (0..30).map(|n| {
                    let distance = if n < 18 { 2.0 + f64::from(n) } else { 20.0 + 2.0 * f64::from(n - 18) };
                    let line = 0.45 * (distance / 10.0).powf(0.25) * draw.normal();
                    PuttReading { played_line_deg: Some((line / step).round() * step), ..putt(distance) }
                });
                state.add(&KIND, &round(putts.collect()));
                let found = evidence(&KIND, Subject::Player, &[&state]).log10;
                assert!(found < 1.0, "{step}: {found}");
            }
        }
    }

    #[test]
    fn zeros_of_a_sensor_that_saw_nothing_are_no_evidence() {
        let near = (0..40).map(|n| played(6.0, if n % 2 == 0 { 0.0 } else { 1.3 * [0.4, -0.9, 1.4, -0.7][n / 2 % 4] }));
        let far = (0..30).map(|n| played(28.0, 1.3 * [0.3, -0.8, 1.3, -0.5][n % 4]));
        assert!(log10(near.chain(far).collect()) < 1.0);
    }
}
