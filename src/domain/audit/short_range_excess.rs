//! Results and leaves alone: are short putts holed far more often than the same player's long ones allow?
//!
//! A single player's skill could explain almost anything, so the honest family is averaged over what players are like:
//! skill is log-normal about a level that is itself unknown and shared by the players of a set-up. Unfair: the line
//! inside a radius is a fraction of the player's, with some read error left.

use super::evidence::{State, Subject, best, ln_sum, subtracted};
use super::geometry::{self, BINS, Beyond, bin, half_width_deg, middle_ft, normal_below};
use super::readings::{PuttReading, RoundReadings};
use super::{BOTH, Kind};
use crate::domain::units::Stimp;
use std::sync::LazyLock;

pub(super) const KIND: Kind = Kind {
    name: "short_range_excess",
    subjects: BOTH,
    is_notice: false,
    needs: "struck putts with their results",
    reads_cards: false,
    add,
    since: subtracted,
    weigh,
    nearest,
    settles: "both lines recorded, or ten putts from 8 ft on another set-up",
    prepare: || {
        LazyLock::force(&TABLES);
    },
};

/// The radii in feet of the unfair family.
const EDGES_FT: [f64; 2] = [16.0, 20.0];
const ZONES: usize = EDGES_FT.len() + 1;
/// Skills: the spread of line at 10 ft, 0.3° to 4.2° in steps of 11.5 %.
const SKILLS: usize = 24;
const LEAST_SKILL_DEG: f64 = 0.3;
const STEP: f64 = 0.115;
/// Levels of play: the median skill of those who share a set-up, and how likely each is (evenfield estimate).
const LEVELS: [(f64, f64); 6] = [(0.6, 0.08), (0.8, 0.12), (1.05, 0.2), (1.35, 0.25), (1.7, 0.2), (2.2, 0.15)];
/// The log-normal spread of skill about the level, and of a night about the player's skill.
const SKILL_SPREAD: f64 = 0.35;
const NIGHT_SPREAD: f64 = 0.12;
/// How the spread changes with distance, as this power of it, and how likely each is.
const HABITS: [(f64, f64); 5] = [(-0.3, 0.08), (-0.15, 0.22), (0.0, 0.4), (0.15, 0.22), (0.3, 0.08)];
const UNFAIR_HABITS: [(usize, f64); 3] = [(1, 0.25), (2, 0.5), (3, 0.25)];
/// Spread of pace as a share and how far past the hole it is meant, in feet; the unfair family has the first three.
const PACES: [(f64, f64); 9] = [
    (0.07, 1.4),
    (0.105, 1.4),
    (0.14, 1.4),
    (0.07, 0.9),
    (0.105, 0.9),
    (0.14, 0.9),
    (0.07, 1.9),
    (0.105, 1.9),
    (0.14, 1.9),
];
const UNFAIR_PACES: usize = 3;
/// What the line inside is multiplied by, and the read error that is left, in degrees.
const STRENGTHS: [(f64, f64); 6] = [(0.0, 0.3), (0.0, 0.55), (0.3, 0.3), (0.3, 0.55), (0.6, 0.3), (0.6, 0.55)];

const HONEST_ROWS: usize = HABITS.len() * PACES.len();
const CAUSE_ROWS: usize = UNFAIR_HABITS.len() * UNFAIR_PACES;
const CAUSES: usize = STRENGTHS.len() * EDGES_FT.len();
const HONEST_CELLS: usize = HONEST_ROWS * SKILLS;
const CELLS: usize = HONEST_CELLS + CAUSES * CAUSE_ROWS * SKILLS;

/// Outcomes: holed; a leave of up to 1, 2, 3, 4.5, 7 ft and more; missed without a leave.
const LEAVES_FT: [f64; 5] = [1.0, 2.0, 3.0, 4.5, 7.0];
const MISSED: usize = LEAVES_FT.len() + 2;
const OUTCOMES: usize = MISSED + 1;
/// An absurd record has any of the outcomes, leaves apart.
const OUTLIERS: f64 = 0.03;
/// Spreads of line in the tables: half steps, from 0.2° on.
const SPREADS: usize = 68;
const LEAST_SPREAD_DEG: f64 = 0.2;
const HALF_STEP: f64 = 0.5 * STEP;
/// The green speed of the tables in feet: others shift every putt's chance alike, which is skill.
const TABLE_STIMP_FT: f64 = 10.0;
/// Points of the sum over pace.
const POINTS: usize = 25;

struct Tables {
    /// `[bin][outcome][pace][spread]`: log-likelihoods.
    logs: Vec<[[[f32; SPREADS]; PACES.len()]; OUTCOMES]>,
    /// `[bin][habit][skill]`: the spread.
    plain: Vec<[[u8; SKILLS]; HABITS.len()]>,
    /// `[bin][strength][unfair habit][skill]`: the spread where the line is softened.
    near: Vec<[[[u8; SKILLS]; UNFAIR_HABITS.len()]; STRENGTHS.len()]>,
    /// `[level][skill]`: ln of the prior.
    priors: [[f64; SKILLS]; LEVELS.len()],
    kernel: [f64; 4],
}

static TABLES: LazyLock<Tables> = LazyLock::new(|| {
    let stimp = Stimp::new(TABLE_STIMP_FT).expect("a green speed in range");
    let at_spread = |deg: f64| ((deg / LEAST_SPREAD_DEG).ln() / HALF_STEP).round().clamp(0.0, (SPREADS - 1) as f64);
    let spread = |bin: usize, habit: f64, skill: usize| skill_deg(skill) * (middle_ft(bin) / 10.0).powf(habit);
    Tables {
        logs: (0..BINS).map(|bin| outcomes(middle_ft(bin), geometry::reach_ft(stimp))).collect(),
        plain: (0..BINS)
            .map(|bin| HABITS.map(|(habit, _)| std::array::from_fn(|skill| at_spread(spread(bin, habit, skill)) as u8)))
            .collect(),
        near: (0..BINS)
            .map(|bin| {
                STRENGTHS.map(|(strength, read)| {
                    UNFAIR_HABITS.map(|(habit, _)| {
                        let line = |skill| (strength * spread(bin, HABITS[habit].0, skill)).hypot(read);
                        std::array::from_fn(|skill| at_spread(line(skill)) as u8)
                    })
                })
            })
            .collect(),
        priors: LEVELS.map(|(median, _)| {
            let apart = |skill| (f64::ln(skill_deg(skill) / median) / SKILL_SPREAD).powi(2);
            let logs: [f64; SKILLS] = std::array::from_fn(|skill| -0.5 * apart(skill));
            let all = ln_sum(logs.into_iter());
            logs.map(|log| log - all)
        }),
        kernel: std::array::from_fn(|apart| (-0.5 * (apart as f64 * STEP / NIGHT_SPREAD).powi(2)).exp()),
    }
});

fn skill_deg(skill: usize) -> f64 {
    LEAST_SKILL_DEG * (STEP * skill as f64).exp()
}

/// Returns ln of the chance of each outcome of a putt, by pace and spread of line.
///
/// # Formula
/// ```text
/// line ~ N(0, spread²)      stop ~ N(d + past, (pace · (d + past))² + 0.25²)
/// holed inside the room that the pace leaves; else the leave is the hypotenuse of what it ran past and went wide
/// ```
fn outcomes(distance_ft: f64, reach_ft: f64) -> [[[f32; SPREADS]; PACES.len()]; OUTCOMES] {
    let mut logs = [[[0.0; SPREADS]; PACES.len()]; OUTCOMES];
    for (pace, (share, past)) in PACES.into_iter().enumerate() {
        let beyond = Beyond::meant(distance_ft, past, share);
        for spread in 0..SPREADS {
            let spread_deg = LEAST_SPREAD_DEG * (HALF_STEP * spread as f64).exp();
            let mut chances = [0.0; MISSED];
            for point in 0..POINTS {
                let sds = (point as f64 - (POINTS / 2) as f64) * 0.28;
                let along = beyond.mean_ft + sds * beyond.sd_ft;
                let weight = 0.28 * geometry::normal_density(sds, 1.0);
                let within = |deg: f64| 2.0 * normal_below(deg / spread_deg) - 1.0;
                let mut inside = within(half_width_deg(distance_ft, along, reach_ft));
                chances[0] += weight * inside;
                for (leave, chance) in LEAVES_FT.into_iter().zip(&mut chances[1..]) {
                    let wide_ft = (leave * leave - along * along).max(0.0).sqrt();
                    let next = within(wide_ft.atan2(distance_ft).to_degrees()).max(inside);
                    *chance += weight * (next - inside);
                    inside = next;
                }
                chances[MISSED - 1] += weight * (1.0 - inside);
            }
            let all: f64 = chances.iter().sum();
            for (outcome, chance) in chances.iter().enumerate() {
                let outlier = if outcome == 0 { 0.5 } else { 0.5 / (MISSED - 1) as f64 };
                logs[outcome][pace][spread] = ((1.0 - OUTLIERS) * chance / all + OUTLIERS * outlier).ln() as f32;
            }
            let missed = 1.0 - chances[0] / all;
            logs[MISSED][pace][spread] = ((1.0 - OUTLIERS) * missed + OUTLIERS * 0.5).ln() as f32;
        }
    }
    logs
}

fn outcome(putt: &PuttReading) -> usize {
    match (putt.is_holed, putt.leave_ft) {
        (true, _) => 0,
        (false, Some(leave)) => 1 + LEAVES_FT.iter().filter(|edge| leave > **edge).count(),
        (false, None) => MISSED,
    }
}

type Row = [f64; SKILLS];

fn add(state: &mut State, round: &RoundReadings) {
    let tables = &*TABLES;
    let mut plain = [[[[0.0; SKILLS]; PACES.len()]; HABITS.len()]; ZONES];
    let mut near = [[[[[0.0; SKILLS]; UNFAIR_PACES]; UNFAIR_HABITS.len()]; STRENGTHS.len()]; ZONES - 1];
    let mut usable = 0;
    for putt in round.undeclared() {
        usable += 1;
        let zone = EDGES_FT.iter().filter(|edge| putt.distance_ft > **edge).count();
        let bin = bin(putt.distance_ft);
        let logs = &tables.logs[bin][outcome(putt)];
        for (rows, spreads) in plain[zone].iter_mut().zip(&tables.plain[bin]) {
            accumulate(rows, logs, spreads);
        }
        if let Some(near) = near.get_mut(zone) {
            for (rows, spreads) in near.iter_mut().zip(&tables.near[bin]) {
                for (rows, spreads) in rows.iter_mut().zip(spreads) {
                    accumulate(rows, logs, spreads);
                }
            }
        }
    }
    if usable == 0 {
        return;
    }
    let mut logs = Vec::with_capacity(CELLS);
    for habit in 0..HABITS.len() {
        for pace in 0..PACES.len() {
            let row: Row = std::array::from_fn(|skill| plain.iter().map(|zone| zone[habit][pace][skill]).sum());
            smooth(&row, &tables.kernel, &mut logs);
        }
    }
    for strength in 0..STRENGTHS.len() {
        for inside in 1..ZONES {
            for (n, (habit, _)) in UNFAIR_HABITS.into_iter().enumerate() {
                for pace in 0..UNFAIR_PACES {
                    let row: Row = std::array::from_fn(|skill| {
                        let near = near[..inside].iter().map(|zone| zone[strength][n][pace][skill]);
                        near.chain(plain[inside..].iter().map(|zone| zone[habit][pace][skill])).sum()
                    });
                    smooth(&row, &tables.kernel, &mut logs);
                }
            }
        }
    }
    state.learn(usable, &logs);
}

fn accumulate(rows: &mut [Row], logs: &[[f32; SPREADS]], spreads: &[u8; SKILLS]) {
    for (row, logs) in rows.iter_mut().zip(logs) {
        for (cell, spread) in row.iter_mut().zip(spreads) {
            *cell += f64::from(logs[usize::from(*spread)]);
        }
    }
}

/// Appends a round's log-likelihoods with night form: for each skill the mean over what a night may bring.
fn smooth(row: &Row, kernel: &[f64; 4], logs: &mut Vec<f64>) {
    let best = best(row);
    let shares: Row = row.map(|log| (log - best).exp());
    logs.extend((0..SKILLS).map(|skill| {
        let (mut sum, mut weights) = (0.0, 0.0);
        for night in skill.saturating_sub(kernel.len() - 1)..(skill + kernel.len()).min(SKILLS) {
            let weight = kernel[night.abs_diff(skill)];
            sum += weight * shares[night];
            weights += weight;
        }
        best + (sum / weights).max(f64::MIN_POSITIVE).ln()
    }));
}

/// A player's log-likelihoods with skill and habits weighed out, by level of play.
struct Averaged {
    honest: [f64; LEVELS.len()],
    unfair: Vec<[f64; LEVELS.len()]>,
}

impl Averaged {
    fn of(logs: &[f64]) -> Self {
        let honest_row = |row: usize| (HABITS[row / PACES.len()].1 / PACES.len() as f64).ln();
        let cause_row = |row: usize| (UNFAIR_HABITS[row / UNFAIR_PACES].1 / UNFAIR_PACES as f64).ln();
        let causes = logs[HONEST_CELLS..].chunks(CAUSE_ROWS * SKILLS);
        Self {
            honest: by_level(&logs[..HONEST_CELLS], honest_row),
            unfair: causes.map(|cause| by_level(cause, cause_row)).collect(),
        }
    }
}

/// Returns ln of the mean over habits and skills, for each level of play.
fn by_level(logs: &[f64], weight: impl Fn(usize) -> f64) -> [f64; LEVELS.len()] {
    // habits first: they don't hang on the level
    let by_skill: Row = std::array::from_fn(|skill| {
        let rows = (0..logs.len() / SKILLS).map(|row| weight(row) + logs[row * SKILLS + skill]);
        ln_sum(rows)
    });
    TABLES.priors.map(|prior| ln_sum(prior.into_iter().zip(by_skill).map(|(prior, log)| prior + log)))
}

fn weigh(subject: Subject, rows: &[&State]) -> f64 {
    let players: Vec<Averaged> = match subject {
        // one player: skill and cause are the same on every set-up
        Subject::Player => vec![Averaged::of(&summed(rows))],
        Subject::Setup => rows.iter().map(|row| Averaged::of(&row.logs(CELLS))).collect(),
    };
    let levels = || LEVELS.iter().enumerate().map(|(level, (_, weight))| (level, weight.ln()));
    let honest = levels().map(|(level, weight)| weight + players.iter().map(|p| p.honest[level]).sum::<f64>());
    let unfair = (0..CAUSES).flat_map(|cause| {
        let players = &players;
        levels().map(move |(level, weight)| weight + players.iter().map(|p| p.unfair[cause][level]).sum::<f64>())
    });
    ln_sum(unfair) - (CAUSES as f64).ln() - ln_sum(honest)
}

fn summed(rows: &[&State]) -> Vec<f64> {
    let mut sum = vec![0.0; CELLS];
    for row in rows {
        for (sum, log) in sum.iter_mut().zip(row.logs(CELLS)) {
            *sum += log;
        }
    }
    sum
}

fn nearest(rows: &[&State]) -> String {
    let logs = summed(rows);
    let level = |skill: usize| {
        let weights = TABLES.priors.iter().zip(LEVELS).map(|(prior, (_, weight))| prior[skill] + weight.ln());
        ln_sum(weights)
    };
    let cells = (0..HONEST_CELLS).map(|at| {
        let habit = HABITS[at / SKILLS / PACES.len()].1;
        logs[at] + habit.ln() + level(at % SKILLS)
    });
    let likeliest: Vec<f64> = cells.collect();
    let at = super::evidence::best_at(&likeliest);
    let how = match HABITS[at / SKILLS / PACES.len()].0 {
        habit if habit > 0.0 => ", straighter the nearer the hole",
        habit if habit < 0.0 => ", straighter the farther from the hole",
        _ => "",
    };
    let who = if rows.len() > 1 { "players who on the whole putt" } else { "a player who putts" };
    format!("{who} with {:.1}° of spread at 10 ft{how}", skill_deg(at % SKILLS))
}
