//! What an effect is worth: the putts replayed without it.

use super::holed_off_line;
use super::readings::{PuttReading, RoundReadings};
use super::skills::Skills;
use crate::putting::baseline::Baseline;
use crate::units::{Feet, Stimp};
use serde::Serialize;

/// Strokes a round gained by an effect, with a 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Size {
    /// The middle.
    pub strokes_per_round: f64,
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
    /// Putts that were replayed.
    pub putts: u32,
    /// How many of them fell.
    pub holed: u32,
    /// How many would have fallen, in the middle.
    pub expected: f64,
}

/// The error of read and sensor with which a measured line is replayed, in degrees: the middle and both ends.
const ERRORS_DEG: [f64; 3] = [0.55, 0.3, 0.9];
/// The shares of the weight of skills: the middle and both ends of 95 %.
const SKILL_SHARES: [f64; 3] = [0.5, 0.025, 0.975];
/// Half a 95 % interval in standard deviations.
const HALF_INTERVAL_SDS: f64 = 1.96;

/// Replays the putts inside a radius: along the measured line where there is one, else with the skill that the same
/// player's longer putts show. `None` where there is nothing to replay.
///
/// # Formula
/// ```text
/// strokes = Σ (1 if it fell else 0 - chance) · value / rounds      value: expected putts from where a miss stops
/// interval: over the error of the line and the skill, and 1.96 sqrt(Σ chance (1 - chance) value²) beyond
/// ```
/// A miss from d stops at 0.990 + 0.0676 d ft on average.
///
/// # Source
/// The leave and the expected putts are those of the tour's baseline. The interval is an evenfield estimate: the ends of
/// what is not known, and chance.
pub(super) fn replay(players: &[&[RoundReadings]], radius_ft: f64) -> Option<Size> {
    let rounds: usize = players.iter().map(|rounds| rounds.len()).sum();
    let (mut gains, mut square, mut expected) = ([0.0; 3], 0.0, 0.0);
    let (mut putts, mut holed) = (0, 0);
    for player in players {
        let far = |putt: &&PuttReading| putt.distance_ft > radius_ft;
        let skills = Skills::shown_by(player.iter().flat_map(RoundReadings::undeclared).filter(far));
        let skills = SKILL_SHARES.map(|share| skills.quantile(share));
        for round in *player {
            for putt in round.undeclared().filter(|putt| !far(putt)) {
                let chances = chances(putt, round.stimp, skills);
                let value = value(putt.distance_ft);
                for (gain, chance) in gains.iter_mut().zip(chances) {
                    *gain += (f64::from(putt.is_holed) - chance) * value;
                }
                square += chances[0] * (1.0 - chances[0]) * value * value;
                expected += chances[0];
                putts += 1;
                holed += u32::from(putt.is_holed);
            }
        }
    }
    sized(rounds, &gains, square, (putts, holed), expected)
}

/// Puts a size together; the first of `gains` is the middle, the others are its ends by what is not known.
fn sized(rounds: usize, gains: &[f64], square: f64, (putts, holed): (u32, u32), expected: f64) -> Option<Size> {
    if putts == 0 {
        return None;
    }
    let by_chance = HALF_INTERVAL_SDS * square.sqrt();
    let a_round = |gain: f64| gain / rounds as f64;
    Some(Size {
        strokes_per_round: a_round(*gains.first()?),
        low: a_round(gains.iter().copied().fold(f64::INFINITY, f64::min) - by_chance),
        high: a_round(gains.iter().copied().fold(f64::NEG_INFINITY, f64::max) + by_chance),
        putts,
        holed,
        expected,
    })
}

/// Replays the putts that fell, each by the chance that `middle` gives it; the interval takes in the `others` and chance.
/// `None` where none fell that a chance is known of.
pub(super) fn fell<F>(players: &[&[RoundReadings]], middle: F, others: impl Iterator<Item = F>) -> Option<Size>
where
    F: Fn(&PuttReading, Stimp) -> Option<f64>,
{
    let rounds = || players.iter().flat_map(|rounds| rounds.iter());
    let gain_by = |chance_of: &F| {
        let (mut gain, mut square, mut expected, mut putts) = (0.0, 0.0, 0.0, 0);
        for (putt, stimp) in rounds().flat_map(|round| round.undeclared().map(|putt| (putt, round.stimp))) {
            let Some(chance) = chance_of(putt, stimp) else { continue };
            let value = value(putt.distance_ft);
            gain += (1.0 - chance) * value;
            square += chance * (1.0 - chance) * value * value;
            expected += chance;
            putts += 1;
        }
        (gain, square, expected, putts)
    };
    let (gain, square, expected, putts) = gain_by(&middle);
    let gains: Vec<f64> = std::iter::once(gain).chain(others.map(|other| gain_by(&other).0)).collect();
    sized(rounds().count(), &gains, square, (putts, putts), expected)
}

fn chances(putt: &PuttReading, stimp: Stimp, skills: [usize; 3]) -> [f64; 3] {
    match putt.start_line_deg {
        Some(line) => ERRORS_DEG.map(|error| holed_off_line::chance(putt, line, stimp, error)),
        None => skills.map(|skill| Skills::chance(skill, putt.distance_ft)),
    }
}

/// Returns what a miss costs: the expected putts from where it stops.
fn value(distance_ft: f64) -> f64 {
    Feet::new(0.990 + 0.0676 * distance_ft).map_or(1.0, |leave| Baseline::tour().expected_putts(leave))
}
