//! The ball speed with holed or missed: do balls fall that never arrive, or arrive too fast to fall?
//!
//! Honest: in each band of distance a putt that arrives slow enough falls at some rate, the same for every pace or as
//! the hole's room for the line narrows with pace, whatever the sensor's calibration and noise. Unfair: it falls at a
//! rate that doesn't know the speed.

use super::evidence::{self, State, Subject, best, best_at, ln_mean, no_digest, no_setup};
use super::geometry::{self, Beyond, SLICES, normal_below};
use super::readings::{PuttReading, RoundReadings};
use super::{Kind, Size, Sizing, size};
use crate::units::Stimp;
use std::sync::LazyLock;

pub(super) static KIND: Kind = Kind {
    name: "unreachable_pace",
    title: "putts holed at impossible speeds",
    subjects: &[Subject::Player],
    is_notice: false,
    needs: "the ball speed of putts of 2 ft and more",
    unfair: "putts fall whatever their speed",
    than: "than under the best honest explanation that we know",
    tell: |seen, _| seen.speeds(),
    reads_cards: false,
    add,
    player: |rows| evidence::of_player(rows, |row| vec![ratio(row)]),
    digest: no_digest,
    setup: no_setup,
    strongest: |_| None,
    nearest,
    settles: "ten putts whose roll is measured on the mat, with the speeds that the sensor shows",
    size: Sizing::Fell(size),
    prepare: || {
        LazyLock::force(&geometry::NORMAL);
        LazyLock::force(&RATES_BY_PACE);
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
/// The rate of a slice of pace: the same for all, or growing with the room for the line until it is certain.
const SHAPES: usize = 2;
/// The share of misread speeds, which lie anywhere up to 20 mph and say nothing about the ball.
const OUTLIERS: f64 = 0.03;
const OUTLIER_MPH: f64 = 20.0;
/// What a player means: this far past the hole, in feet, with a log-normal spread of speed that holds calibration and
/// the poorest pace (evenfield estimate).
const MEANT_PAST_FT: f64 = 1.4;
const MEANT_SPREAD: f64 = 0.15;
/// Half the 95 % point of χ² of one degree: sensors that fit worse are outside the interval of a size.
const NEARLY_NATS: f64 = 1.92;
const HONEST_CELLS: usize = SENSORS * SHAPES * BANDS * RATES.len();
const CELLS: usize = HONEST_CELLS + BANDS * RATES.len();

/// `[shape][rate][slice]`: the chance to fall of a ball that arrives in that slice of pace.
///
/// # Formula
/// ```text
/// 2 Φ(z · room) - 1,  room = sqrt(1 - v / v_max),  z such that a ball of no pace falls at the rate
/// ```
static RATES_BY_PACE: LazyLock<[[[f64; SLICES]; RATES.len()]; SHAPES]> = LazyLock::new(|| {
    let narrowing = RATES.map(|rate| {
        let (mut low, mut high) = (0.0, 8.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if 2.0 * normal_below(middle) - 1.0 < rate { low = middle } else { high = middle }
        }
        std::array::from_fn(|n| {
            let room = (1.0 - (n as f64 + 0.5) / SLICES as f64).sqrt();
            2.0 * normal_below(low * room) - 1.0
        })
    });
    [RATES.map(|rate| [rate; SLICES]), narrowing]
});

fn add(state: &mut State, round: &RoundReadings) {
    let reach_ft = geometry::reach_ft(round.stimp);
    let mut logs = vec![0.0; CELLS];
    let mut usable = 0;
    for putt in round.undeclared().filter(|putt| putt.distance_ft >= LEAST_FT) {
        let Some((roll_ft, speed_mph)) = putt.level_roll_ft.zip(putt.ball_speed_mph) else { continue };
        usable += 1;
        let misread = misread(roll_ft, speed_mph, putt.plays_like_ft);
        let band = BANDS_FT.iter().filter(|edge| putt.distance_ft > **edge).count();
        let log = |chance: f64| if putt.is_holed { chance } else { 1.0 - chance }.ln();
        for sensor in 0..SENSORS {
            let slices = slices(roll_ft, putt.plays_like_ft, reach_ft, sensor);
            for (shape, rates) in RATES_BY_PACE.iter().enumerate() {
                let cells = &mut logs[((sensor * SHAPES + shape) * BANDS + band) * RATES.len()..][..RATES.len()];
                for ((cell, by_pace), rate) in cells.iter_mut().zip(rates).zip(RATES) {
                    let falls: f64 = slices.iter().zip(by_pace).map(|(slice, rate)| slice * rate).sum();
                    *cell += log((1.0 - misread) * falls + misread * rate);
                }
            }
        }
        for (cell, rate) in logs[HONEST_CELLS + band * RATES.len()..][..RATES.len()].iter_mut().zip(RATES) {
            *cell += log(rate);
        }
    }
    state.learn(usable, &logs);
}

/// Returns the chance that a speed was misread, never below the share of misread speeds.
///
/// # Formula
/// ```text
/// π u / (π u + (1 - π) f)     u: evenly up to 20 mph     f: log-normal about the speed for 1.4 ft past the hole
/// ```
/// A speed that nobody would choose from there is a misreading, not a ball that could not arrive.
///
/// # Source
/// Bayes' rule; the spreads are evenfield estimates.
fn misread(roll_ft: f64, speed_mph: f64, plays_like_ft: f64) -> f64 {
    let off = 0.5 * (roll_ft / (plays_like_ft + MEANT_PAST_FT)).ln();
    let struck = (1.0 - OUTLIERS) * geometry::normal_density(off, MEANT_SPREAD) / speed_mph;
    let misread = OUTLIERS / OUTLIER_MPH;
    (misread / (misread + struck)).max(OUTLIERS)
}

/// Returns the chances that the ball arrives in each slice of pace that falls.
fn slices(roll_ft: f64, plays_like_ft: f64, reach_ft: f64, sensor: usize) -> [f64; SLICES] {
    let (calibration, noise) = (CALIBRATIONS[sensor % CALIBRATIONS.len()], NOISES[sensor / CALIBRATIONS.len()]);
    let roll_ft = roll_ft / (calibration * calibration);
    let sd_ft = (2.0 * noise * roll_ft).hypot(geometry::STOP_NOISE_FT);
    Beyond { mean_ft: roll_ft - plays_like_ft, sd_ft }.slices(reach_ft)
}

/// Returns ln of the evidence: rates are averaged in the unfair family and at their best in the honest one.
fn ratio(row: &State) -> f64 {
    let logs = row.logs(CELLS);
    let (honest, unfair) = logs.split_at(HONEST_CELLS);
    let unfair: f64 = unfair.chunks(RATES.len()).map(ln_mean).sum();
    unfair - best(&sensors(honest))
}

/// Replays the putts that fell: each with the chance that its speed let it, the sensor being as its calibration and
/// noise fit the records best; the interval takes in the sensors that fit nearly as well.
fn size(rows: &[&State], players: &[&[RoundReadings]]) -> Option<Size> {
    let mut fits = [0.0; SENSORS];
    for row in rows {
        let shapes = sensors(&row.logs(CELLS)[..HONEST_CELLS]);
        fits.iter_mut().zip(shapes.chunks(SHAPES)).for_each(|(fit, shapes)| *fit += best(shapes));
    }
    let chances = |sensor: usize| {
        move |putt: &PuttReading, stimp: Stimp| {
            let (roll_ft, speed_mph) = putt.level_roll_ft.zip(putt.ball_speed_mph)?;
            let arrives: f64 = slices(roll_ft, putt.plays_like_ft, geometry::reach_ft(stimp), sensor).iter().sum();
            let misread = misread(roll_ft, speed_mph, putt.plays_like_ft);
            (putt.is_holed && putt.distance_ft >= LEAST_FT).then_some((1.0 - misread) * arrives + misread)
        }
    };
    let close = (0..SENSORS).filter(|sensor| fits[*sensor] >= best(&fits) - NEARLY_NATS);
    size::fell(players, chances(best_at(&fits)), close.map(chances))
}

fn sensors(honest: &[f64]) -> Vec<f64> {
    let sensors = honest.chunks(BANDS * RATES.len());
    sensors.map(|bands| bands.chunks(RATES.len()).map(best).sum()).collect()
}

fn nearest(rows: &[&State]) -> String {
    let Some(row) = rows.iter().max_by_key(|row| row.usable) else { return String::new() };
    let at = best_at(&sensors(&row.logs(CELLS)[..HONEST_CELLS])) / SHAPES;
    let (reads, noise) = (100.0 * (CALIBRATIONS[at % CALIBRATIONS.len()] - 1.0), NOISES[at / CALIBRATIONS.len()]);
    let how = match reads {
        reads if reads > 1.0 => format!("{reads:.0} % high"),
        reads if reads < -1.0 => format!("{:.0} % low", -reads),
        _ => "true".to_owned(),
    };
    format!("a sensor that reads speeds {how}, with {:.0} % of noise", 100.0 * noise)
}

#[cfg(test)]
mod tests {
    use super::super::evidence::evidence;
    use super::super::readings::PuttReading;
    use super::super::simulated::{Draw, putt, round};
    use super::*;

    fn at(distance_ft: f64, roll_ft: f64, is_holed: bool) -> PuttReading {
        // the speed that rolls so far on a green of 10 ft: sqrt(2 a d) / 0.9
        let speed = (1.83f64 * 1.83 / 10.0 * roll_ft).sqrt() / 0.9 / 0.447_04;
        PuttReading { level_roll_ft: Some(roll_ft), ball_speed_mph: Some(speed), is_holed, ..putt(distance_ft) }
    }

    fn log10(putts: Vec<PuttReading>) -> f64 {
        let mut state = State::default();
        state.add(&KIND, &round(putts));
        evidence(&KIND, Subject::Player, &[&state]).log10
    }

    #[test]
    fn balls_that_fall_without_arriving_show() {
        let usual = || (0..20).map(|n| at(10.0, 11.0 + 0.1 * f64::from(n), n % 2 == 0));
        assert!(log10(usual().chain((0..12).map(|_| at(10.0, 5.0, true))).collect()) > 3.0);
        assert!(log10(usual().chain((0..12).map(|_| at(10.0, 5.0, false))).collect()) < 0.0);
    }

    #[test]
    fn a_speed_that_nobody_would_choose_is_a_misreading() {
        // 0.03 / 20 over itself plus 0.97 · 2.66 / 5.2 at the meant speed: 0.3 %, so the least share holds
        assert_eq!(misread(11.4, 5.2, 10.0), OUTLIERS);
        assert!(misread(0.4, 1.0, 10.0) > 0.99);
    }

    #[test]
    fn the_narrowing_rates_are_the_named_ones_for_a_ball_of_no_pace() {
        // z of a rate of one half is 0.6745; the first slice has room sqrt(1 - 1/12)
        let half = RATES.iter().position(|rate| *rate == 0.5).unwrap();
        let expect = 2.0 * normal_below(0.6745 * (11.0f64 / 12.0).sqrt()) - 1.0;
        assert!((RATES_BY_PACE[1][half][0] - expect).abs() < 1e-4);
        assert_eq!(RATES_BY_PACE[0][half], [0.5; SLICES]);
    }

    #[test]
    fn evidence_has_a_mean_of_at_most_1_under_honest_explanations() {
        let reach = geometry::reach_ft(round(vec![]).stimp);
        for (rate, sensor, shape) in [(5, 4, 0), (3, 26, 1), (8, 9, 0)] {
            let mut draw = Draw::new(13);
            let evidence = draw.mean_of_evidence(1_000, |draw| {
                let putts = (0..20).map(|n| {
                    let distance = 3.0 + 1.3 * f64::from(n);
                    let calibration = CALIBRATIONS[sensor % CALIBRATIONS.len()];
                    let rolled = (distance + 1.4 + 0.12 * distance * draw.normal()).max(0.5);
                    let reading = at(distance, rolled * calibration * calibration, false);
                    let (roll, speed) = (rolled * calibration * calibration, reading.ball_speed_mph.unwrap());
                    let slices = slices(roll, distance, reach, sensor);
                    let falls: f64 =
                        slices.iter().zip(RATES_BY_PACE[shape][rate]).map(|(slice, rate)| slice * rate).sum();
                    let misread = misread(roll, speed, distance);
                    let chance = (1.0 - misread) * falls + misread * RATES[rate];
                    PuttReading { is_holed: draw.uniform() < chance, ..reading }
                });
                log10(putts.collect())
            });
            assert!(evidence.is_at_most_1(), "{rate}, {sensor}: {evidence:?}");
        }
    }
}
