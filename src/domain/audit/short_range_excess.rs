//! Results and leaves alone: are short putts holed far more often than the same player's long ones allow?
//!
//! A single player's skill could explain almost anything, so the honest family is averaged over what players are like:
//! skill is log-normal about a level that the players of a set-up share. The level is taken at its best, so that a bay
//! full of elite players is as safe as any. Unfair: the line
//! inside a radius is a fraction of the player's, with some read error left.

use super::evidence::{Digest, State, best, best_at, ln_mean, ln_sum, smooth};
use super::geometry::{self, BINS, Beyond, bin, half_width_deg, middle_ft, normal_below};
use super::readings::{PuttReading, RoundReadings};
use super::{BOTH, Cause, Kind, Sizing};
use crate::units::Stimp;
use std::sync::LazyLock;

pub(super) static KIND: Kind = Kind {
    name: "short_range_excess",
    title: "too many short putts holed",
    subjects: BOTH,
    is_notice: false,
    needs: "struck putts with their results",
    unfair: "the line of short putts is softened",
    than: "than for honest players as we know them",
    tell: |seen, _| (seen.results(), seen.made()),
    reads_cards: false,
    add,
    player: |rows| weigh(&Averaged::of(&summed(rows)).flat()),
    digest: |row| Averaged::of(&row.logs(CELLS)).flat(),
    setup: |sums, _| weigh(sums),
    strongest,
    nearest,
    settles: "both lines recorded, or ten putts from 8 ft on another simulator",
    size: Sizing::InRadius,
    prepare: || {
        LazyLock::force(&TABLES);
    },
};

/// The radii in feet of the unfair family.
const EDGES_FT: [f64; 2] = [16.0, 20.0];
const ZONES: usize = EDGES_FT.len() + 1;
/// Skills: the spread of line at 10 ft, 0.3° to 3.8° in steps of 17 %.
pub(super) const SKILLS: usize = 16;
const LEAST_SKILL_DEG: f64 = 0.3;
const STEP: f64 = 0.17;
/// Levels of play: the median skill of those who share a set-up, and how likely each is (evenfield estimate).
pub(super) const LEVELS: [(f64, f64); 6] =
    [(0.6, 0.08), (0.8, 0.12), (1.05, 0.2), (1.35, 0.25), (1.7, 0.2), (2.2, 0.15)];
/// The log-normal spread of skill about the level, and of a night about the player's skill.
const SKILL_SPREAD: f64 = 0.35;
const NIGHT_SPREAD: f64 = 0.12;
/// How the spread changes with distance, as this power of it, and how likely each is. Softened lines hardly show it: the
/// unfair family has the middle one alone.
const HABITS: [(f64, f64); 7] =
    [(-0.5, 0.02), (-0.3, 0.08), (-0.15, 0.21), (0.0, 0.38), (0.15, 0.21), (0.3, 0.08), (0.5, 0.02)];
/// Spread of pace as a share, how far past the hole it is meant, in feet, and the share by which it is misjudged. Both
/// families have all of them, or a player's pace would speak for one of the two.
const PACES: [(f64, f64, f64); 15] = [
    (0.07, 1.4, 0.0),
    (0.105, 1.4, 0.0),
    (0.14, 1.4, 0.0),
    (0.07, 0.9, 0.0),
    (0.105, 0.9, 0.0),
    (0.14, 0.9, 0.0),
    (0.07, 1.9, 0.0),
    (0.105, 1.9, 0.0),
    (0.14, 1.9, 0.0),
    (0.07, 1.4, -0.045),
    (0.105, 1.4, -0.045),
    (0.14, 1.4, -0.045),
    (0.07, 1.4, 0.045),
    (0.105, 1.4, 0.045),
    (0.14, 1.4, 0.045),
];
/// The middle habit and pace, for replaying putts.
pub(super) const MIDDLE_HABIT: usize = 3;
pub(super) const MIDDLE_PACE: usize = 1;
/// What the line inside is multiplied by: the set-up's.
const STRENGTHS: [f64; 3] = [0.0, 0.3, 0.6];
/// The read error that is left, in degrees: each player's own.
const READS_DEG: [f64; 2] = [0.3, 0.55];

const HONEST_ROWS: usize = HABITS.len() * PACES.len();
const CAUSE_ROWS: usize = READS_DEG.len() * PACES.len();
const CAUSES: usize = STRENGTHS.len() * EDGES_FT.len();
const HONEST_CELLS: usize = HONEST_ROWS * SKILLS;
const CELLS: usize = HONEST_CELLS + CAUSES * CAUSE_ROWS * SKILLS;

/// Outcomes: holed; a leave of up to 1, 2, 3, 4.5, 7 ft and more; missed without a leave.
const LEAVES_FT: [f64; 5] = [1.0, 2.0, 3.0, 4.5, 7.0];
const MISSED: usize = LEAVES_FT.len() + 2;
const OUTCOMES: usize = MISSED + 1;
/// An absurd record is a putt of anybody's: spreads of 0.5, 1, 1.9 and 3.6°, at the poorest pace.
const OUTLIERS: f64 = 0.03;
const ANYBODYS: [usize; 4] = [16, 28, 39, 50];
const ANYBODYS_PACE: usize = 2;
/// Spreads of line in the tables: half steps, from 0.2° on.
const SPREADS: usize = 68;
const LEAST_SPREAD_DEG: f64 = 0.2;
const HALF_STEP: f64 = 0.5 * STEP;
/// The green speed of the tables in feet: others shift every putt's chance alike, which is skill.
const TABLE_STIMP_FT: f64 = 10.0;
/// The sum over pace: how far apart its points are and how far out it goes, in standard deviations.
const POINT_SDS: f64 = 0.12;
const TAIL_SDS: f64 = 3.6;
/// No outcome is impossible: far below what any single putt could show.
const LEAST_CHANCE: f64 = 1e-6;

pub(super) struct Tables {
    /// `[bin][outcome][pace][spread]`: log-likelihoods.
    pub(super) logs: Vec<[[[f32; SPREADS]; PACES.len()]; OUTCOMES]>,
    /// `[bin][habit][skill]`: the spread.
    pub(super) plain: Vec<[[u8; SKILLS]; HABITS.len()]>,
    /// `[bin][strength][read error][skill]`: the spread where the line is softened.
    near: Vec<[[[u8; SKILLS]; READS_DEG.len()]; STRENGTHS.len()]>,
    /// `[level][skill]`: ln of the prior.
    pub(super) priors: [[f64; SKILLS]; LEVELS.len()],
    kernel: [f64; 4],
}

pub(super) static TABLES: LazyLock<Tables> = LazyLock::new(|| {
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
                STRENGTHS.map(|strength| {
                    READS_DEG.map(|read| {
                        let line = |skill| (strength * spread(bin, HABITS[MIDDLE_HABIT].0, skill)).hypot(read);
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
/// line ~ N(0, spread²)      stop ~ N(roll, (pace · roll)² + 0.25²)      roll: (d + past) · (1 + misjudged)
/// holed inside the room that the pace leaves; else the leave is the hypotenuse of what it ran past and went wide
/// ```
fn outcomes(distance_ft: f64, reach_ft: f64) -> [[[f32; SPREADS]; PACES.len()]; OUTCOMES] {
    let chances: Vec<Vec<[f64; MISSED]>> = PACES
        .iter()
        .map(|pace| {
            let beyond = beyond(distance_ft, *pace);
            (0..SPREADS).map(|spread| chances(distance_ft, reach_ft, beyond, spread_deg(spread))).collect()
        })
        .collect();
    // an absurd record is somebody else's putt
    let anybody: Vec<&[f64; MISSED]> = ANYBODYS.iter().map(|spread| &chances[ANYBODYS_PACE][*spread]).collect();
    let log = |chance: f64, outcomes: &dyn Fn(&[f64; MISSED]) -> f64| {
        let outlier = anybody.iter().map(|chances| outcomes(chances)).sum::<f64>() / anybody.len() as f64;
        ((1.0 - OUTLIERS) * chance + OUTLIERS * outlier).ln() as f32
    };
    std::array::from_fn(|outcome| {
        std::array::from_fn(|pace| {
            std::array::from_fn(|spread| {
                let of = |chances: &[f64; MISSED]| match outcome {
                    MISSED => 1.0 - chances[0],
                    outcome => chances[outcome],
                };
                log(of(&chances[pace][spread]), &of)
            })
        })
    })
}

/// Returns where a putt stops that is meant to roll a little past, and by which share that is misjudged.
fn beyond(distance_ft: f64, (share, past_ft, misjudged): (f64, f64, f64)) -> Beyond {
    Beyond::meant(distance_ft, past_ft + misjudged * (distance_ft + past_ft), share)
}

fn spread_deg(spread: usize) -> f64 {
    LEAST_SPREAD_DEG * (HALF_STEP * spread as f64).exp()
}

/// Returns the chances of a putt to fall and to leave each leave.
fn chances(distance_ft: f64, reach_ft: f64, beyond: Beyond, spread_deg: f64) -> [f64; MISSED] {
    let mut chances = [0.0; MISSED];
    let step_ft = POINT_SDS * beyond.sd_ft;
    // the points lie evenly about the hole, where the chance to fall jumps
    let first = ((beyond.mean_ft - TAIL_SDS * beyond.sd_ft) / step_ft).floor();
    for point in 0..(2.0 * TAIL_SDS / POINT_SDS) as usize + 2 {
        let along = (first + point as f64 + 0.5) * step_ft;
        let weight = beyond.density(along) * step_ft;
        let within = |deg: f64| 2.0 * normal_below(deg / spread_deg) - 1.0;
        let mut inside = within(half_width_deg(distance_ft, along, reach_ft));
        chances[0] += weight * inside;
        for (leave, chance) in LEAVES_FT.into_iter().zip(&mut chances[1..]) {
            let wide_ft = (leave * leave - along * along).max(0.0).sqrt();
            let next = within(wide_ft.atan2((distance_ft + along).max(0.1)).to_degrees()).max(inside);
            *chance += weight * (next - inside);
            inside = next;
        }
        chances[MISSED - 1] += weight * (1.0 - inside);
    }
    let all: f64 = chances.iter().sum();
    chances.map(|chance| (chance / all).max(LEAST_CHANCE))
}

pub(super) fn outcome(putt: &PuttReading) -> usize {
    match (putt.is_holed, putt.leave_ft) {
        (true, _) => 0,
        (false, Some(leave)) => 1 + LEAVES_FT.iter().filter(|edge| leave > **edge).count(),
        (false, None) => MISSED,
    }
}

pub(super) type Row = [f64; SKILLS];

fn add(state: &mut State, round: &RoundReadings) {
    let tables = &*TABLES;
    let mut plain = [[[[0.0; SKILLS]; PACES.len()]; HABITS.len()]; ZONES];
    let mut near = [[[[[0.0; SKILLS]; PACES.len()]; READS_DEG.len()]; STRENGTHS.len()]; ZONES - 1];
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
            for read in 0..READS_DEG.len() {
                for pace in 0..PACES.len() {
                    let row: Row = std::array::from_fn(|skill| {
                        let near = near[..inside].iter().map(|zone| zone[strength][read][pace][skill]);
                        near.chain(plain[inside..].iter().map(|zone| zone[MIDDLE_HABIT][pace][skill])).sum()
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

/// A player's log-likelihoods with skill and habits weighed out, by level of play.
struct Averaged {
    honest: [f64; LEVELS.len()],
    unfair: Vec<[f64; LEVELS.len()]>,
}

impl Averaged {
    fn of(logs: &[f64]) -> Self {
        let honest_row = |row: usize| (HABITS[row / PACES.len()].1 / PACES.len() as f64).ln();
        let cause_row = |_| -(CAUSE_ROWS as f64).ln();
        let causes = logs[HONEST_CELLS..].chunks(CAUSE_ROWS * SKILLS);
        Self {
            honest: by_level(&logs[..HONEST_CELLS], honest_row),
            unfair: causes.map(|cause| by_level(cause, cause_row)).collect(),
        }
    }

    fn flat(&self) -> Vec<f64> {
        self.honest.iter().chain(self.unfair.iter().flatten()).copied().collect()
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

/// Returns ln of each cause, levels weighed out, and of the honest family at its best level. A bay full of elite players
/// is rare, but it must not pay for that. `sums` are those of the players, flat.
fn pooled(sums: &[f64]) -> (Vec<f64>, f64) {
    let (honest, unfair) = sums.split_at(LEVELS.len());
    let weigh = |logs: &[f64]| ln_sum(logs.iter().zip(LEVELS).map(|(log, (_, weight))| weight.ln() + log));
    (unfair.chunks(LEVELS.len()).map(weigh).collect(), best(honest))
}

fn weigh(sums: &[f64]) -> f64 {
    let (causes, honest) = pooled(sums);
    ln_mean(&causes) - honest
}

fn strongest(rows: &[&State]) -> Option<Cause> {
    let at = best_at(&pooled(&Digest::of_rows(&KIND, rows).nats()).0);
    Some(Cause { radius_ft: EDGES_FT[at % EDGES_FT.len()], factor: STRENGTHS[at / EDGES_FT.len()] })
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
    let at = best_at(&likeliest);
    let how = match HABITS[at / SKILLS / PACES.len()].0 {
        habit if habit > 0.0 => ", straighter the nearer the hole",
        habit if habit < 0.0 => ", straighter the farther from the hole",
        _ => "",
    };
    let who = if rows.len() > 1 { "players who on the whole putt" } else { "a player who putts" };
    format!("{who} with {:.1}° of spread at 10 ft{how}", skill_deg(at % SKILLS))
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Subject, evidence};
    use super::super::simulated::{Draw, putt, round};
    use super::*;

    fn at(distance_ft: f64, outcome: usize) -> PuttReading {
        let leaves = [0.5, 1.5, 2.5, 4.0, 6.0, 9.0];
        let leave_ft = outcome.checked_sub(1).map(|leave| leaves[leave]);
        PuttReading { is_holed: outcome == 0, leave_ft, ..putt(distance_ft) }
    }

    #[test]
    fn the_chances_of_all_outcomes_add_up_to_1() {
        for bin in [3, 15, 39, 70] {
            for pace in 0..PACES.len() {
                for spread in [0, 30, SPREADS - 1] {
                    let chance = |outcome: usize| f64::from(TABLES.logs[bin][outcome][pace][spread]).exp();
                    let sum: f64 = (0..MISSED).map(chance).sum();
                    // 1e-5: the tables are single floats
                    assert!((sum - 1.0).abs() < 1e-5, "{sum}");
                    assert!((chance(MISSED) - (1.0 - chance(0))).abs() < 1e-5);
                }
            }
        }
    }

    #[test]
    fn the_chance_to_hole_is_the_one_of_the_putting_model() {
        use crate::putting::make::{Scatter, make};
        use crate::units::{Degrees, DistanceSpread, Feet, LineSpread, Overrun};
        let (bin, spread) = (bin(10.0), 30);
        let scatter = Scatter {
            line: LineSpread::new(LEAST_SPREAD_DEG * (HALF_STEP * 30.0).exp()).unwrap(),
            distance: DistanceSpread::new(0.105).unwrap(),
            past: Overrun::new(12.0 * 1.4).unwrap(),
            bias: Degrees::new(0.0).unwrap(),
        };
        let exact = make(Feet::new(middle_ft(bin)).unwrap(), &scatter, Stimp::new(10.0).unwrap()).make_probability;
        let found = f64::from(TABLES.logs[bin][0][MIDDLE_PACE][spread]).exp();
        // 0.01: the sum over pace is coarse, and a quarter of a foot of noise is added
        assert!((found - (0.97 * exact + 0.015)).abs() < 0.01, "{found} against {exact}");
    }

    #[test]
    fn short_putts_that_always_fall_beside_poor_long_ones_show_when_players_share_a_set_up() {
        let soft = round(
            (0..30)
                .map(|n| at(6.0 + f64::from(n % 10), 0))
                .chain((0..20).map(|n| at(24.0 + f64::from(n), 3)))
                .collect(),
        );
        let mut state = State::default();
        (0..4).for_each(|_| state.add(&KIND, &soft));
        let found = |players: usize| evidence(&KIND, Subject::Setup, &vec![&state; players]).log10;
        assert!(found(1) > 0.0 && found(4) > 2.0 * found(1), "{} and {}", found(1), found(4));
    }

    #[test]
    fn a_misjudged_pace_is_a_share_of_the_whole_roll() {
        // 18.6 ft and 1.4 past are 20 ft, 4.5 % of them 0.9; the spread is a tenth of the 19.1 that are left, and 0.25
        let beyond = beyond(18.6, (0.1, 1.4, -0.045));
        assert!((beyond.mean_ft - 0.5).abs() < 1e-9 && (beyond.sd_ft - 1.91f64.hypot(0.25)).abs() < 1e-9, "{beyond:?}");
    }

    /// Draws nights of a bay whose lines inside 20 ft are set straight, and whose players differ in what they read.
    fn softened(pace: usize, nights: usize, draw: &mut Draw) -> Vec<State> {
        let skill = 8;
        (0..4)
            .map(|player| {
                let mut state = State::default();
                for _ in 0..nights {
                    let putts = (0..24).map(|n| {
                        let distance = [3.0, 6.0, 9.0, 12.0, 15.0, 18.0, 25.0, 35.0][n % 8];
                        let bin = bin(distance);
                        let spread = match distance <= 20.0 {
                            true => TABLES.near[bin][0][player % READS_DEG.len()][skill],
                            false => TABLES.plain[bin][MIDDLE_HABIT][skill],
                        };
                        let mut left = draw.uniform();
                        let falls = |outcome: &usize| {
                            left -= f64::from(TABLES.logs[bin][*outcome][pace][usize::from(spread)]).exp();
                            left < 0.0
                        };
                        at(distance, (0..MISSED).find(falls).unwrap_or(MISSED - 1))
                    });
                    state.add(&KIND, &round(putts.collect()));
                }
                state
            })
            .collect()
    }

    #[test]
    fn no_players_pace_or_read_hides_a_softened_set_up() {
        let mut draw = Draw::new(7);
        for (pace, of) in PACES.iter().enumerate() {
            let rows = softened(pace, 16, &mut draw);
            let found = evidence(&KIND, Subject::Setup, &rows.iter().collect::<Vec<_>>()).log10;
            assert!(found > 4.64, "{of:?}: {found}");
        }
    }

    #[test]
    fn evidence_has_a_mean_of_1_over_honest_players_as_the_family_draws_them() {
        let tables = &*TABLES;
        let mut draw = Draw::new(3);
        let pick = |mut weights: &mut dyn Iterator<Item = f64>, draw: &mut Draw| {
            let mut left = draw.uniform();
            Iterator::position(&mut weights, |weight| {
                left -= weight;
                left < 0.0
            })
        };
        for subject in [Subject::Player, Subject::Setup] {
            let evidence = draw.mean_of_evidence(600, |draw| {
                let level = pick(&mut LEVELS.iter().map(|level| level.1), draw).unwrap_or(0);
                let players = if subject == Subject::Setup { 3 } else { 1 };
                let rows: Vec<State> = (0..players)
                    .map(|_| {
                        let skill =
                            pick(&mut tables.priors[level].iter().map(|log| log.exp()), draw).unwrap_or(SKILLS - 1);
                        let habit = pick(&mut HABITS.iter().map(|habit| habit.1), draw).unwrap_or(MIDDLE_HABIT);
                        let pace = pick(&mut [1.0 / PACES.len() as f64; PACES.len()].into_iter(), draw).unwrap_or(0);
                        let reach = (tables.kernel.len() - 1) as isize;
                        let nights: Vec<usize> = (-reach..=reach)
                            .filter_map(|apart| skill.checked_add_signed(apart))
                            .filter(|n| *n < SKILLS)
                            .collect();
                        let weight = |night: &usize| tables.kernel[night.abs_diff(skill)];
                        let all: f64 = nights.iter().map(weight).sum();
                        let mut state = State::default();
                        for _ in 0..3 {
                            let night =
                                pick(&mut nights.iter().map(|n| weight(n) / all), draw).map_or(skill, |n| nights[n]);
                            let putts = (0..20).map(|n| {
                                let distance = [3.0, 6.0, 9.0, 14.0, 18.0, 25.0, 35.0][n % 7];
                                let bin = bin(distance);
                                let spread = usize::from(tables.plain[bin][habit][night]);
                                let chance = |outcome: usize| f64::from(tables.logs[bin][outcome][pace][spread]).exp();
                                at(distance, pick(&mut (0..MISSED).map(chance), draw).unwrap_or(MISSED - 1))
                            });
                            state.add(&KIND, &round(putts.collect()));
                        }
                        state
                    })
                    .collect();
                evidence(&KIND, subject, &rows.iter().collect::<Vec<_>>()).log10
            });
            assert!(evidence.is_at_most_1(), "{subject:?}: {evidence:?}");
        }
    }
}
