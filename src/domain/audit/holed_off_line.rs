//! The measured line, and the speed where it was recorded, with what became of the putt: do balls fall that started too
//! far off line?
//!
//! Honest: the ball runs along a share of the measured line, with an error of read and sensor, and falls or stops as a
//! ball and a hole allow. Unfair: inside a radius it runs along a smaller share. Putts with and without a speed are two
//! blocks of cells: their habits of pace have nothing in common.

use super::evidence::{self, Causes, State, Subject, best, best_at, ln_mean, ln_sum, subtracted};
use super::geometry::{self, Beyond, SLICES, chance_inside, half_width_deg};
use super::readings::{PuttReading, RoundReadings};
use super::{BOTH, Kind};
use crate::domain::units::Stimp;
use std::sync::LazyLock;

pub(super) const KIND: Kind = Kind {
    name: "holed_off_line",
    subjects: BOTH,
    is_notice: false,
    needs: "the measured line of a putt",
    reads_cards: false,
    add,
    since: subtracted,
    weigh,
    nearest,
    settles: "the played line recorded beside the measured one, or ten putts from 8 ft on another set-up",
    prepare: || {
        LazyLock::force(&geometry::NORMAL);
    },
};

/// The radii in feet that cut the distances into zones.
const EDGES_FT: [f64; 4] = [12.0, 16.0, 20.0, 24.0];
const ZONES: usize = EDGES_FT.len() + 1;
/// The share of the measured line that the ball runs along: what a noisy reading keeps of the true line.
const SHARES: [f64; 3] = [1.0, 0.8, 0.65];
const UNFAIR_SHARES: usize = 2;
/// How likely the unfair family's shares are (evenfield estimate).
const SHARE_PRIORS: [f64; UNFAIR_SHARES] = [0.7, 0.3];
/// The error of read and sensor in degrees; the unfair family leaves out both ends.
const ERRORS_DEG: [f64; 6] = [0.3, 0.45, 0.65, 0.9, 0.2, 1.3];
const UNFAIR_ERRORS: usize = 4;
/// What the share inside is multiplied by in the unfair family.
const STRENGTHS: [f64; 4] = [0.0, 0.15, 0.35, 0.6];
const CAUSES: usize = STRENGTHS.len() * EDGES_FT.len();
/// Measured over true speed, and the noise of a measured speed as a share.
const CALIBRATIONS: [f64; 9] = [0.86, 0.895, 0.93, 0.965, 1.0, 1.035, 1.075, 1.115, 1.16];
/// How likely the unfair family's calibrations are (evenfield estimate): most sensors are about right.
const CALIBRATION_PRIORS: [f64; 9] = [0.02, 0.06, 0.12, 0.19, 0.22, 0.19, 0.12, 0.06, 0.02];
const SPEED_NOISES: [f64; 3] = [0.02, 0.045, 0.08];
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
const OUTLIERS: f64 = 0.03;
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

/// What a putt did, seen under each pace.
struct Outcome {
    distance_ft: f64,
    line_deg: f64,
    is_holed: bool,
    widths: [f64; SLICES],
    slices: Vec<[f64; SLICES]>,
    /// A miss that stopped somewhere: the room for the line at that pace, and the densities of short and long.
    stopped: Option<(f64, Vec<(f64, f64)>)>,
    outlier: f64,
}

impl Outcome {
    fn of(putt: &PuttReading, line_deg: f64, stimp: Stimp, paces: impl Iterator<Item = Beyond>) -> Self {
        let reach_ft = geometry::reach_ft(stimp);
        let paces: Vec<Beyond> = paces.collect();
        let leave = putt.leave_ft.filter(|_| !putt.is_holed);
        // an absurd record holes half of the time, and leaves anything of the size of a leave
        let scale_ft = 2.0 + 0.1 * putt.distance_ft;
        Self {
            distance_ft: putt.distance_ft,
            line_deg,
            is_holed: putt.is_holed,
            widths: geometry::slice_widths_deg(putt.distance_ft, reach_ft),
            slices: paces.iter().map(|pace| pace.slices(reach_ft)).collect(),
            stopped: leave.map(|leave| {
                let width = half_width_deg(putt.distance_ft, leave, reach_ft);
                (width, paces.iter().map(|pace| (pace.density(-leave), pace.density(leave))).collect())
            }),
            outlier: OUTLIERS * 0.5 * leave.map_or(1.0, |leave| (-leave / scale_ft).exp() / scale_ft),
        }
    }

    /// Writes the likelihoods of the outcome, a pace each, if the ball runs along `share` of the measured line.
    ///
    /// # Formula
    /// ```text
    /// holed: Σ over slices of pace · chance of the line inside the slice's room
    /// missed, leave l: density(short by l) + density(long by l) · chance of the line outside the room at that pace
    /// ```
    /// A leave is taken as the distance along the line: so the chances of all outcomes add up to 1.
    fn likelihoods(&self, share: f64, error_deg: f64, to: &mut [f64]) {
        let mean = share * self.line_deg;
        if let (false, Some((width, densities))) = (self.is_holed, &self.stopped) {
            let outside = 1.0 - chance_inside(*width, mean, error_deg);
            for (to, (short, long)) in to.iter_mut().zip(densities) {
                *to = (1.0 - OUTLIERS) * (short + long * outside) + self.outlier;
            }
            return;
        }
        let chances = self.widths.map(|width| chance_inside(width, mean, error_deg));
        for (to, slices) in to.iter_mut().zip(&self.slices) {
            let holed: f64 = slices.iter().zip(chances).map(|(slice, chance)| slice * chance).sum();
            *to = (1.0 - OUTLIERS) * if self.is_holed { holed } else { 1.0 - holed } + self.outlier;
        }
    }
}

/// A product of likelihoods that never underflows.
#[derive(Clone)]
struct Products {
    shares: Vec<f64>,
    logs: Vec<f64>,
    factors: u32,
}

impl Products {
    fn ones(cells: usize) -> Self {
        Self { shares: vec![1.0; cells], logs: vec![0.0; cells], factors: 0 }
    }

    /// Folds the products into logs every eighth factor: eight densities above 1e-30 stay far above the least float.
    fn count(&mut self) {
        self.factors += 1;
        if self.factors.is_multiple_of(8) {
            self.fold();
        }
    }

    fn fold(&mut self) {
        for (log, share) in self.logs.iter_mut().zip(&mut self.shares) {
            *log += share.max(f64::MIN_POSITIVE).ln();
            *share = 1.0;
        }
    }
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
    let (mut with_speed, mut without) = (Vec::new(), Vec::new());
    for putt in round.undeclared() {
        let Some(line) = putt.start_line_deg.filter(|line| line.abs() <= WIDEST_DEG) else { continue };
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
        state.learn(usable, &logs);
    }
}

/// A row's log-likelihoods with the player's own habits seen to, for each pace of a block: the best honest ones, and
/// the mean of each cause.
struct ByPace {
    honest: Vec<f64>,
    unfair: Vec<Vec<f64>>,
}

impl ByPace {
    fn of(block: Block, logs: &[f64]) -> Self {
        let (honest, unfair) = logs.split_at(block.honest());
        let at = |logs: &[f64], paces: usize, pace: usize| -> Vec<f64> {
            logs.iter().skip(pace).step_by(paces).copied().collect()
        };
        let habit = |n: usize| (SHARE_PRIORS[n / UNFAIR_ERRORS] / UNFAIR_ERRORS as f64).ln();
        let mean = |logs: Vec<f64>| ln_sum(logs.into_iter().enumerate().map(|(n, log)| habit(n) + log));
        let unfair = unfair.chunks(block.habits());
        Self {
            honest: (0..block.paces).map(|pace| best(&at(honest, block.paces, pace))).collect(),
            unfair: unfair
                .map(|cause| {
                    let paces = 0..block.unfair_paces;
                    paces.map(|pace| mean(at(cause, block.unfair_paces, pace))).collect()
                })
                .collect(),
        }
    }

    /// Adds another player's: the sensor is the same one.
    fn joined(mut self, other: Self) -> Self {
        let add = |to: &mut [f64], from: &[f64]| to.iter_mut().zip(from).for_each(|(to, from)| *to += from);
        add(&mut self.honest, &other.honest);
        self.unfair.iter_mut().zip(&other.unfair).for_each(|(to, from)| add(to, from));
        self
    }

    fn causes(&self, prior: impl Fn(usize) -> f64) -> Causes {
        let honest = best(&self.honest);
        let weigh = |paces: &Vec<f64>| ln_sum(paces.iter().enumerate().map(|(pace, log)| prior(pace).ln() + log));
        self.unfair.iter().map(|paces| weigh(paces) - honest).collect()
    }
}

/// Returns a row's two blocks.
fn blocks(row: &State) -> (ByPace, ByPace) {
    let logs = row.logs(ROLLED.cells() + MEANT.cells());
    let (rolled, meant) = logs.split_at(ROLLED.cells());
    (ByPace::of(ROLLED, rolled), ByPace::of(MEANT, meant))
}

fn rolled_prior(pace: usize) -> f64 {
    CALIBRATION_PRIORS[pace % CALIBRATIONS.len()] / 2.0
}

fn meant_causes(meant: &ByPace) -> Causes {
    meant.causes(|_| 1.0 / MEANT.unfair_paces as f64)
}

fn causes(row: &State) -> Causes {
    let (rolled, meant) = blocks(row);
    rolled.causes(rolled_prior).iter().zip(meant_causes(&meant)).map(|(rolled, meant)| rolled + meant).collect()
}

/// Weighs rows. The players of a set-up share its sensor: calibration and noise of its speeds are the same for all.
fn weigh(subject: Subject, rows: &[&State]) -> f64 {
    if subject == Subject::Player {
        return evidence::weigh_best(subject, rows, causes);
    }
    let (rolled, meant): (Vec<ByPace>, Vec<ByPace>) = rows.iter().map(|row| blocks(row)).unzip();
    let shared = rolled.into_iter().reduce(ByPace::joined).map(|all| all.causes(rolled_prior));
    let own = meant.iter().map(meant_causes);
    let sums = own.chain(shared).reduce(|all, one| all.iter().zip(one).map(|(a, b)| a + b).collect());
    ln_mean(&sums.unwrap_or_default())
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let logs = row.logs(ROLLED.cells() + MEANT.cells());
    let (rolled, meant) = logs.split_at(ROLLED.cells());
    let spread = |logs: &[f64]| best(logs) - logs.iter().copied().fold(f64::INFINITY, f64::min);
    let is_rolled = spread(&rolled[..ROLLED.honest()]) >= spread(&meant[..MEANT.honest()]);
    let (block, logs) = if is_rolled { (ROLLED, rolled) } else { (MEANT, meant) };
    let at = best_at(&logs[..block.honest()]);
    let (pace, error, share) =
        (at % block.paces, at / block.paces % ERRORS_DEG.len(), at / block.paces / ERRORS_DEG.len());
    let mut text = format!(
        "a ball that runs along {:.0} % of the measured line, with {:.2}° of read and sensor error",
        100.0 * SHARES[share],
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
