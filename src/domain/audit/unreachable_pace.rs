//! The ball speed with holed or missed: do balls fall that never arrive, or arrive too fast to fall?
//!
//! Honest: in each band of distance a putt falls at some rate, times the chance that it arrives slow enough, whatever
//! the sensor's calibration and noise. Unfair: it falls at a rate that doesn't know the speed.

use super::evidence::{self, State, Subject, best, best_at, ln_mean, subtracted};
use super::geometry::{self, Beyond, normal_below};
use super::readings::RoundReadings;
use super::Kind;
use std::sync::LazyLock;

pub(super) const KIND: Kind = Kind {
    name: "unreachable_pace",
    subjects: &[Subject::Player],
    is_notice: false,
    needs: "the ball speed of putts of 2 ft and more",
    reads_cards: false,
    add,
    since: subtracted,
    weigh: |subject, rows| evidence::weigh_best(subject, rows, |row| vec![ratio(row)]),
    nearest,
    settles: "ten putts whose roll is measured on the mat, with the speeds that the sensor shows",
    prepare: || {
        LazyLock::force(&geometry::NORMAL);
    },
};

/// The bands of distance in feet, each with a rate of its own; shorter putts lie outside what the roll is calibrated on.
const LEAST_FT: f64 = 2.0;
const BANDS_FT: [f64; 4] = [4.0, 7.0, 12.0, 22.0];
const BANDS: usize = BANDS_FT.len() + 1;
const RATES: [f64; 10] = [0.02, 0.06, 0.12, 0.22, 0.35, 0.5, 0.65, 0.8, 0.91, 0.975];
/// Measured over true speed, and the noise of a measured speed as a share.
const CALIBRATIONS: [f64; 9] = [0.85, 0.885, 0.92, 0.96, 1.0, 1.04, 1.08, 1.115, 1.15];
const NOISES: [f64; 4] = [0.02, 0.035, 0.055, 0.08];
const SENSORS: usize = CALIBRATIONS.len() * NOISES.len();
/// An absurd speed says nothing about the ball.
const OUTLIERS: f64 = 0.03;
const HONEST_CELLS: usize = SENSORS * BANDS * RATES.len();
const CELLS: usize = HONEST_CELLS + BANDS * RATES.len();

fn add(state: &mut State, round: &RoundReadings) {
    let reach_ft = geometry::reach_ft(round.stimp);
    let mut logs = vec![0.0; CELLS];
    let mut usable = 0;
    for putt in round.undeclared().filter(|putt| putt.distance_ft >= LEAST_FT) {
        let Some(roll_ft) = putt.level_roll_ft else { continue };
        usable += 1;
        let band = BANDS_FT.iter().filter(|edge| putt.distance_ft > **edge).count();
        let log = |chance: f64| if putt.is_holed { chance } else { 1.0 - chance }.ln();
        for sensor in 0..SENSORS {
            let arrives = arrives(roll_ft, putt.plays_like_ft, reach_ft, sensor);
            let cells = &mut logs[(sensor * BANDS + band) * RATES.len()..][..RATES.len()];
            for (cell, rate) in cells.iter_mut().zip(RATES) {
                *cell += log(rate * arrives);
            }
        }
        for (cell, rate) in logs[HONEST_CELLS + band * RATES.len()..][..RATES.len()].iter_mut().zip(RATES) {
            *cell += log(rate);
        }
    }
    state.learn(usable, &logs);
}

/// Returns the chance that the ball arrives, and slow enough to fall.
fn arrives(roll_ft: f64, plays_like_ft: f64, reach_ft: f64, sensor: usize) -> f64 {
    let (calibration, noise) = (CALIBRATIONS[sensor % CALIBRATIONS.len()], NOISES[sensor / CALIBRATIONS.len()]);
    let roll_ft = roll_ft / (calibration * calibration);
    let sd_ft = (2.0 * noise * roll_ft).hypot(geometry::STOP_NOISE_FT);
    let beyond = Beyond { mean_ft: roll_ft - plays_like_ft, sd_ft };
    let below = |feet: f64| normal_below((feet - beyond.mean_ft) / beyond.sd_ft);
    (1.0 - OUTLIERS) * (below(reach_ft) - below(0.0)) + OUTLIERS
}

/// Returns ln of the evidence: rates are averaged in the unfair family and at their best in the honest one.
fn ratio(row: &State) -> f64 {
    let logs = row.logs(CELLS);
    let (honest, unfair) = logs.split_at(HONEST_CELLS);
    let unfair: f64 = unfair.chunks(RATES.len()).map(ln_mean).sum();
    unfair - best(&sensors(honest))
}

fn sensors(honest: &[f64]) -> Vec<f64> {
    let sensors = honest.chunks(BANDS * RATES.len());
    sensors.map(|bands| bands.chunks(RATES.len()).map(best).sum()).collect()
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let at = best_at(&sensors(&row.logs(CELLS)[..HONEST_CELLS]));
    let (reads, noise) = (100.0 * (CALIBRATIONS[at % CALIBRATIONS.len()] - 1.0), NOISES[at / CALIBRATIONS.len()]);
    let how = match reads {
        reads if reads > 1.0 => format!("{reads:.0} % high"),
        reads if reads < -1.0 => format!("{:.0} % low", -reads),
        _ => "true".to_owned(),
    };
    format!("a sensor that reads speeds {how}, with {:.0} % of noise", 100.0 * noise)
}
