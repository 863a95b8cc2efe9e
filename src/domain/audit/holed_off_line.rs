//! The measured line, and the speed where it was recorded, with what became of the putt: do balls fall that started too
//! far off line?
//!
//! Honest: the ball runs along a share of the measured line, with an error of read and sensor, and falls or stops as a
//! ball and a hole allow. Unfair: inside a radius it runs along a smaller share. Putts with and without a speed are two
//! blocks of cells: their habits of pace have nothing in common.

use super::evidence::{self, Causes, Products, State, best, best_at, ln_mean, ln_sum};
use super::geometry::{self, Beyond};
use super::outcome::Outcome;
use super::readings::{PuttReading, RoundReadings};
use super::switching::Nights;
use super::{BOTH, Cause, Kind, Sizing};
use crate::units::Stimp;
use std::sync::LazyLock;

pub(super) static KIND: Kind = Kind {
    name: "holed_off_line",
    title: "putts holed off line",
    subjects: BOTH,
    is_notice: false,
    needs: "the measured line of a putt",
    unfair: "the line of short putts is softened",
    than: "than under the best honest explanation that we know",
    tell: |seen, _| (seen.off_line(), seen.made()),
    reads_cards: false,
    add,
    player: |rows| evidence::of_player(rows, causes),
    digest,
    setup,
    strongest,
    nearest,
    settles: "the played line recorded beside the measured one, or ten putts from 8 ft on another simulator",
    size: Sizing::InRadius,
    prepare: || {
        LazyLock::force(&geometry::NORMAL);
    },
};

/// The radii in feet that cut the distances into zones.
const EDGES_FT: [f64; 4] = [12.0, 16.0, 20.0, 24.0];
const ZONES: usize = EDGES_FT.len() + 1;
/// The share of the measured line that the ball runs along: what a noisy reading keeps of the true line.
const SHARES: [f64; 5] = [1.0, 0.8, 0.65, 0.5, 0.35];
const UNFAIR_SHARES: usize = 2;
/// The noise of a measured line in degrees, and how an honest explanation counts that needs as much (evenfield estimates:
/// most sensors are better than the first).
const LINE_NOISES: [(f64, f64); 4] = [(0.3, 1.0), (0.4, 0.37), (0.5, 0.14), (0.6, 0.05)];
/// Measured over true line at most (evenfield estimate).
const MOST_LINE_RATIO: f64 = 1.1;
/// How many standard errors of the measured lines' variance are given to the honest side (evenfield's own choice).
const GIVEN_ERRORS: f64 = 0.5;
/// The two cells after the others hold the sums of the lines and of their squares, in sixteenths; wider lines count as
/// three degrees.
const LINES: usize = ROLLED.cells() + MEANT.cells();
const CELLS: usize = LINES + 2;
const WIDEST_COUNTED_DEG: f64 = 3.0;
const LINE_UNITS: f64 = 16.0;
/// How likely the unfair family's shares are (evenfield estimate).
const SHARE_PRIORS: [f64; UNFAIR_SHARES] = [0.7, 0.3];
/// The error of read and sensor in degrees; the unfair family leaves out both ends.
const ERRORS_DEG: [f64; 6] = [0.3, 0.45, 0.65, 0.9, 0.2, 1.3];
const UNFAIR_ERRORS: usize = 4;
/// What the share inside is multiplied by in the unfair family, and how likely that is (evenfield estimate).
const STRENGTHS: [f64; 4] = [0.0, 0.15, 0.35, 0.6];
const STRENGTH_PRIORS: [f64; 4] = [0.3, 0.3, 0.25, 0.15];
const CAUSES: usize = STRENGTHS.len() * EDGES_FT.len();
/// Measured over true speed, and the noise of a measured speed as a share.
const CALIBRATIONS: [f64; 9] = [0.86, 0.895, 0.93, 0.965, 1.0, 1.035, 1.075, 1.115, 1.16];
/// How likely these are in either family (evenfield estimates): most sensors are about right.
const CALIBRATION_PRIORS: [f64; 9] = [0.02, 0.06, 0.12, 0.19, 0.22, 0.19, 0.12, 0.06, 0.02];
const SPEED_NOISES: [f64; 3] = [0.02, 0.045, 0.08];
const NOISE_PRIORS: [f64; 3] = [0.5, 0.35, 0.15];
const UNFAIR_NOISE_PRIORS: [f64; 2] = [0.6, 0.4];
/// Without a speed: the spread of pace and how far past the hole it is meant, in feet; the unfair family has the first.
const PACES: [(f64, f64); 12] = [
    (0.07, 1.4),
    (0.11, 1.4),
    (0.15, 1.4),
    (0.2, 1.4),
    (0.07, 0.9),
    (0.11, 0.9),
    (0.15, 0.9),
    (0.2, 0.9),
    (0.07, 1.9),
    (0.11, 1.9),
    (0.15, 1.9),
    (0.2, 1.9),
];
/// A wider line is a misreading: it says nothing about where the ball ran (evenfield estimate: four spreads of a poor
/// putter).
const WIDEST_DEG: f64 = 10.0;
/// The honest floor: this share of the largest unfair density of the same outcome.
const FLOOR: f64 = 1e-3;

const ROLLED: Block = Block { paces: CALIBRATIONS.len() * SPEED_NOISES.len(), unfair_paces: CALIBRATIONS.len() * 2 };
const MEANT: Block = Block { paces: PACES.len(), unfair_paces: 3 };

/// The cells of the putts with, or of those without a speed.
#[derive(Clone, Copy)]
struct Block {
    paces: usize,
    unfair_paces: usize,
}

impl Block {
    const fn honest(self) -> usize {
        SHARES.len() * ERRORS_DEG.len() * self.paces
    }

    const fn habits(self) -> usize {
        UNFAIR_SHARES * UNFAIR_ERRORS * self.unfair_paces
    }

    const fn cells(self) -> usize {
        self.honest() + CAUSES * self.habits()
    }
}

/// Returns the paces that a putt with a speed may have rolled at.
fn rolled(putt: &PuttReading, level_roll_ft: f64) -> impl Iterator<Item = Beyond> {
    SPEED_NOISES.into_iter().flat_map(move |noise| {
        CALIBRATIONS.into_iter().map(move |calibration| {
            let roll_ft = level_roll_ft / (calibration * calibration);
            let sd_ft = (2.0 * noise * roll_ft).hypot(geometry::STOP_NOISE_FT);
            Beyond { mean_ft: roll_ft - putt.plays_like_ft, sd_ft }
        })
    })
}

/// Returns the chance that a putt falls if the ball runs along the measured line, with this error of read and sensor.
///
/// The speed counts where it was recorded, as a true sensor with little noise shows it; else the pace is the middle one.
pub(super) fn chance(putt: &PuttReading, line_deg: f64, stimp: Stimp, error_deg: f64) -> f64 {
    let pace = match putt.level_roll_ft {
        Some(roll_ft) => {
            let sd_ft = (2.0 * SPEED_NOISES[1] * roll_ft).hypot(geometry::STOP_NOISE_FT);
            Beyond { mean_ft: roll_ft - putt.plays_like_ft, sd_ft }
        }
        None => Beyond::meant(putt.plays_like_ft, PACES[1].1, PACES[1].0),
    };
    let holed = PuttReading { is_holed: true, leave_ft: None, ..*putt };
    let mut chance = [0.0];
    Outcome::of(&holed, line_deg, stimp, [pace].into_iter()).likelihoods(1.0, error_deg, &mut chance);
    chance[0]
}

/// Returns a block's log-likelihoods of a round's putts.
fn block_logs(block: Block, outcomes: &[Outcome]) -> Vec<f64> {
    let (paces, unfair_paces) = (block.paces, block.unfair_paces);
    let mut honest = Products::ones(block.honest());
    let mut plain = vec![Products::ones(block.habits()); ZONES];
    let mut near = vec![Products::ones(STRENGTHS.len() * block.habits()); ZONES - 1];
    let mut likelihoods = vec![0.0; block.honest()];
    let mut likelihood = vec![0.0; paces];
    for outcome in outcomes {
        let zone = EDGES_FT.iter().filter(|edge| outcome.distance_ft > **edge).count();
        let mut rows = likelihoods.chunks_mut(paces);
        for share in SHARES {
            for (error, row) in ERRORS_DEG.into_iter().zip(rows.by_ref()) {
                outcome.likelihoods(share, error, row);
            }
        }
        let mut largest = 0.0f64;
        let mut cells = plain[zone].shares.chunks_mut(unfair_paces);
        for share in 0..UNFAIR_SHARES {
            for (error, cells) in (0..UNFAIR_ERRORS).zip(cells.by_ref()) {
                let row = &likelihoods[(share * ERRORS_DEG.len() + error) * paces..][..unfair_paces];
                largest = multiply(cells, row, largest);
            }
        }
        plain[zone].count();
        if let Some(near) = near.get_mut(zone) {
            let mut cells = near.shares.chunks_mut(unfair_paces);
            for strength in STRENGTHS {
                for share in &SHARES[..UNFAIR_SHARES] {
                    for (error, cells) in ERRORS_DEG[..UNFAIR_ERRORS].iter().zip(cells.by_ref()) {
                        outcome.likelihoods(strength * share, *error, &mut likelihood);
                        largest = multiply(cells, &likelihood[..unfair_paces], largest);
                    }
                }
            }
            near.count();
        }
        for (cell, likelihood) in honest.shares.iter_mut().zip(&likelihoods) {
            *cell *= likelihood.max(FLOOR * largest);
        }
        honest.count();
    }
    honest.fold();
    plain.iter_mut().chain(&mut near).for_each(Products::fold);
    let mut logs = honest.logs;
    for strength in 0..STRENGTHS.len() {
        for inside in 1..ZONES {
            for habit in 0..block.habits() {
                let near = near[..inside].iter().map(|zone| zone.logs[strength * block.habits() + habit]);
                let far = plain[inside..].iter().map(|zone| zone.logs[habit]);
                logs.push(near.chain(far).sum());
            }
        }
    }
    logs
}

/// Multiplies likelihoods into cells and returns the largest seen.
fn multiply(cells: &mut [f64], likelihoods: &[f64], mut largest: f64) -> f64 {
    for (cell, likelihood) in cells.iter_mut().zip(likelihoods) {
        *cell *= likelihood;
        largest = largest.max(*likelihood);
    }
    largest
}

fn add(state: &mut State, round: &RoundReadings) {
    let (mut with_speed, mut without, mut sums) = (Vec::new(), Vec::new(), [0.0; 2]);
    for putt in round.undeclared() {
        let Some(line) = putt.start_line_deg.filter(|line| line.abs() <= WIDEST_DEG) else { continue };
        let counted = line.clamp(-WIDEST_COUNTED_DEG, WIDEST_COUNTED_DEG);
        sums = [sums[0] + counted, sums[1] + counted * counted];
        match putt.level_roll_ft {
            Some(roll) => with_speed.push(Outcome::of(putt, line, round.stimp, rolled(putt, roll))),
            None => {
                let paces = PACES.iter().map(|(spread, past)| Beyond::meant(putt.plays_like_ft, *past, *spread));
                without.push(Outcome::of(putt, line, round.stimp, paces));
            }
        }
    }
    let usable = (with_speed.len() + without.len()) as u32;
    if usable > 0 {
        let mut logs = block_logs(ROLLED, &with_speed);
        logs.extend(block_logs(MEANT, &without));
        state.cells.resize(CELLS, 0);
        for (cell, sum) in state.cells[LINES..].iter_mut().zip(sums) {
            *cell += (sum * LINE_UNITS).round() as i32;
        }
        state.learn(usable, &logs);
    }
}

/// Returns the least share that this noise explains where measured lines spread with this variance in degrees².
///
/// # Formula
/// ```text
/// share = (1 - noise² / variance) / ratio
/// ```
///
/// # Source
/// Regression of the true line on a noisy reading (errors in variables; from memory).
fn least_share(variance: f64, noise_deg: f64) -> f64 {
    let share = (1.0 - noise_deg * noise_deg / variance.max(f64::MIN_POSITIVE)) / MOST_LINE_RATIO;
    share.clamp(SHARES[SHARES.len() - 1], 1.0)
}

/// Returns the variance of a row's measured lines, as small as it may be.
fn variance(row: &State) -> f64 {
    let putts = f64::from(row.usable.max(1));
    let mean = |cell: usize| row.cells.get(cell).map_or(0.0, |units| f64::from(*units) / LINE_UNITS / putts);
    let variance = mean(LINES + 1) - mean(LINES) * mean(LINES);
    variance * (1.0 - GIVEN_ERRORS * (2.0 / putts).sqrt()).max(0.0)
}

/// Returns the honest log-likelihoods of the shares above the least one, and of that: between the grid's they lie on a
/// line of logs.
fn allowed(block: Block, honest: &[f64], least: f64) -> Vec<f64> {
    let cells = ERRORS_DEG.len() * block.paces;
    let above = shares_above(least).max(1);
    let part = (SHARES[above - 1] - least) / (SHARES[above - 1] - SHARES[above]);
    let (whole, below) = (&honest[..above * cells], &honest[above * cells..][..cells]);
    let last = whole[(above - 1) * cells..].iter().zip(below).map(|(above, below)| above + part * (below - above));
    whole.iter().copied().chain(last).collect()
}

/// Returns how many shares of the grid lie above one; the last never does.
fn shares_above(least: f64) -> usize {
    SHARES.iter().filter(|share| **share > least).count()
}

/// Returns the log-likelihoods of one pace.
fn at_pace(logs: &[f64], paces: usize, pace: usize) -> impl Iterator<Item = f64> + Clone {
    logs.iter().skip(pace).step_by(paces).copied()
}

fn best_by_pace(block: Block, honest: &[f64], least: f64) -> impl Iterator<Item = f64> {
    let logs = allowed(block, honest, least);
    (0..block.paces).map(move |pace| at_pace(&logs, block.paces, pace).fold(f64::NEG_INFINITY, f64::max))
}

/// Returns a cause's mean over the player's habits, for each pace.
fn mean_by_pace(block: Block, cause: &[f64]) -> impl Iterator<Item = f64> {
    let habit = |n: usize| (SHARE_PRIORS[n / UNFAIR_ERRORS] / UNFAIR_ERRORS as f64).ln();
    let mean = move |pace| {
        let logs = at_pace(cause, block.unfair_paces, pace).enumerate();
        ln_sum(logs.map(|(n, log)| habit(n) + log))
    };
    (0..block.unfair_paces).map(mean)
}

/// A row's part in its set-up's evidence: the players share its sensor, so that the noise of its lines and the
/// calibration and noise of its speeds are weighed after adding up; other habits are each player's own.
fn digest(row: &State) -> Vec<f64> {
    let (logs, variance) = (row.logs(CELLS), variance(row));
    let (rolled, meant) = logs.split_at(ROLLED.cells());
    let (honest, unfair) = rolled.split_at(ROLLED.honest());
    let least = LINE_NOISES.map(|(noise_deg, _)| least_share(variance, noise_deg));
    let mut parts: Vec<f64> = least.iter().flat_map(|least| best_by_pace(ROLLED, honest, *least)).collect();
    parts.extend(unfair.chunks(ROLLED.habits()).flat_map(|cause| mean_by_pace(ROLLED, cause)));
    let (honest, unfair) = meant[..MEANT.cells()].split_at(MEANT.honest());
    parts.extend(least.iter().map(|least| best(&allowed(MEANT, honest, *least))));
    parts.extend(unfair.chunks(MEANT.habits()).map(|cause| ln_mean(&mean_by_pace(MEANT, cause).collect::<Vec<_>>())));
    parts
}

/// The numbers of a digest, apart.
struct Parts<'a> {
    honest_rolled: &'a [f64],
    unfair_rolled: &'a [f64],
    honest_meant: &'a [f64],
    unfair_meant: &'a [f64],
}

impl<'a> Parts<'a> {
    fn of(digest: &'a [f64]) -> Self {
        let (honest_rolled, rest) = digest.split_at(LINE_NOISES.len() * ROLLED.paces);
        let (unfair_rolled, rest) = rest.split_at(CAUSES * ROLLED.unfair_paces);
        let (honest_meant, unfair_meant) = rest.split_at(LINE_NOISES.len());
        Self { honest_rolled, unfair_rolled, honest_meant, unfair_meant }
    }

    /// The honest family by the noise of lines. Speeds are weighed alike in both families: a sensor's calibration is no
    /// habit that could excuse.
    fn honest(&self) -> Vec<f64> {
        let prior = |pace: usize| calibration_prior(pace) * NOISE_PRIORS[pace / CALIBRATIONS.len()];
        let by_noise = self.honest_rolled.chunks(ROLLED.paces).zip(self.honest_meant).zip(LINE_NOISES);
        by_noise.map(|((rolled, meant), (_, weight))| weight.ln() + weigh(rolled, prior) + meant).collect()
    }

    /// Each cause's evidence with what it has of the prior, so that their mean is the evidence.
    fn causes(&self) -> Causes {
        let honest = best(&self.honest());
        let prior = |pace: usize| calibration_prior(pace) * UNFAIR_NOISE_PRIORS[pace / CALIBRATIONS.len()];
        let causes = self.unfair_rolled.chunks(ROLLED.unfair_paces).zip(self.unfair_meant).enumerate();
        let strength = |cause: usize| (STRENGTHS.len() as f64 * STRENGTH_PRIORS[cause / EDGES_FT.len()]).ln();
        causes.map(|(n, (rolled, meant))| weigh(rolled, prior) + meant + strength(n) - honest).collect()
    }
}

fn calibration_prior(pace: usize) -> f64 {
    CALIBRATION_PRIORS[pace % CALIBRATIONS.len()]
}

/// Returns ln of the weighted sum over paces.
fn weigh(paces: &[f64], prior: impl Fn(usize) -> f64) -> f64 {
    ln_sum(paces.iter().enumerate().map(|(pace, log)| prior(pace).ln() + log))
}

fn causes(row: &State) -> Causes {
    Parts::of(&digest(row)).causes()
}

fn setup(sums: &[f64], _: &Nights) -> f64 {
    ln_mean(&Parts::of(sums).causes())
}

fn strongest(rows: &[&State]) -> Option<Cause> {
    let at = evidence::strongest(rows, causes);
    Some(Cause { radius_ft: EDGES_FT[at % EDGES_FT.len()], factor: STRENGTHS[at / EDGES_FT.len()] })
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let (logs, digest) = (row.logs(CELLS), digest(row));
    let (noise_deg, _) = LINE_NOISES[best_at(&Parts::of(&digest).honest())];
    let least = least_share(variance(row), noise_deg);
    let (rolled, meant) = (allowed(ROLLED, &logs, least), allowed(MEANT, &logs[ROLLED.cells()..], least));
    let spread = |logs: &[f64]| best(logs) - logs.iter().copied().fold(f64::INFINITY, f64::min);
    let is_rolled = spread(&rolled) >= spread(&meant);
    let (block, logs) = if is_rolled { (ROLLED, rolled) } else { (MEANT, meant) };
    let at = best_at(&logs);
    let (pace, error) = (at % block.paces, at / block.paces % ERRORS_DEG.len());
    let share = at / block.paces / ERRORS_DEG.len();
    let share = if share < shares_above(least).max(1) { SHARES[share] } else { least };
    let mut text = format!(
        "a ball that runs along {:.0} % of the measured line, with {:.2}° of read and sensor error",
        100.0 * share,
        ERRORS_DEG[error]
    );
    if is_rolled {
        let reads = 100.0 * (CALIBRATIONS[pace % CALIBRATIONS.len()] - 1.0);
        text.push_str(&match reads {
            reads if reads > 1.0 => format!(", and a sensor that reads speeds {reads:.0} % high"),
            reads if reads < -1.0 => format!(", and a sensor that reads speeds {:.0} % low", -reads),
            _ => String::new(),
        });
    } else {
        text.push_str(&format!(", and a pace that spreads by {:.0} %", 100.0 * PACES[pace].0));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Subject, evidence};
    use super::super::geometry::{chance_inside, half_width_deg};
    use super::super::simulated::{Draw, putt, round};
    use super::*;

    fn log10(putts: Vec<PuttReading>) -> f64 {
        let mut state = State::default();
        state.add(&KIND, &round(putts));
        evidence(&KIND, Subject::Player, &[&state]).log10
    }

    fn at(distance_ft: f64, line: f64, roll: Option<f64>, leave_ft: Option<f64>) -> PuttReading {
        PuttReading {
            start_line_deg: Some(line),
            level_roll_ft: roll,
            ball_speed_mph: roll.map(|_| 5.0),
            is_holed: leave_ft.is_none(),
            leave_ft,
            ..putt(distance_ft)
        }
    }

    #[test]
    fn a_straight_putt_has_the_chance_that_is_worked_out_by_hand() {
        // 8 ft on a green of 10 ft, 1.5 ft past: reach 10 · 1.63² / 1.83² = 7.934 ft, room 2.125 sqrt(1 - 0.4348) in,
        // 0.9534° wide; without doubt about the pace 2 Φ(0.9534 / 0.45) - 1 = 0.9659
        let stimp = Stimp::new(10.0).unwrap();
        let reach = geometry::reach_ft(stimp);
        assert!((reach - 7.934).abs() < 1e-3);
        let width = half_width_deg(8.0, 1.5, reach);
        assert!((width - 0.9534).abs() < 1e-3, "{width}");
        assert!((chance_inside(width, 0.0, 0.45) - 0.9659).abs() < 1e-3);
        // with it, the ball comes up short one time in twenty-two
        let found = chance(&at(8.0, 0.0, Some(9.5), None), 0.0, stimp, 0.45);
        assert!((0.86..0.94).contains(&found), "{found}");
    }

    #[test]
    fn balls_that_fall_far_off_line_show_and_balls_that_miss_there_do_not() {
        let line = |n: usize| [2.2, -1.9, 2.6, -2.4][n % 4];
        for roll in [Some(9.5), None] {
            let fell = (0..40).map(|n| at(8.0, line(n), roll, None));
            let missed = (0..40).map(|n| at(8.0, line(n), roll, Some(1.5)));
            assert!(log10(fell.collect()) > 4.0, "{roll:?}");
            assert!(log10(missed.collect()) < 0.0, "{roll:?}");
        }
    }

    #[test]
    fn an_absurd_line_says_nothing() {
        let mut state = State::default();
        state.add(&KIND, &round((0..20).map(|_| at(8.0, 25.0, Some(9.5), None)).collect()));
        assert_eq!(state.usable, 0);
    }

    #[test]
    fn evidence_has_a_mean_of_at_most_1_under_honest_explanations() {
        let stimp = Stimp::new(10.0).unwrap();
        let reach = geometry::reach_ft(stimp);
        // the spread of the measured lines goes with the share; the noise that it needs has its weight
        for (share, spread, error, calibration, noise, weight) in [
            (1.0, 1.6, 0.45, 1.0, 0.02, 1.0f64),
            (0.8, 0.85, 0.2, 0.86, 0.045, 1.0),
            (0.65, 0.95, 1.3, 1.115, 0.08, 0.05),
        ] {
            let mut draw = Draw::new(5);
            let evidence = draw.mean_of_evidence(400, |draw| {
                let putts = (0..16).map(|n| {
                    let distance = 4.0 + 1.5 * f64::from(n);
                    let (measured, past) = (spread * draw.normal(), 1.4 + 0.1 * distance * draw.normal());
                    let shown = (distance + past) * calibration * calibration;
                    let sd = (2.0 * noise * shown / (calibration * calibration)).hypot(geometry::STOP_NOISE_FT);
                    let beyond = past + sd * draw.normal();
                    let line = share * measured + error * draw.normal();
                    let falls = line.abs() < half_width_deg(distance, beyond, reach);
                    at(distance, measured, Some(shown.max(0.1)), (!falls).then_some(beyond.abs()))
                });
                log10(putts.collect()) + weight.log10()
            });
            assert!(evidence.is_at_most_1(), "{share}, {error}: {evidence:?}");
        }
    }
}
