//! How likely a player's putts are under each size of spread: of line, pace and read, band by band.

use super::calibration::share_below;
use super::capture::{HOLE_RADIUS_IN, reach_ft};
use super::pacing::Rolled;
use super::roll::INCHES_PER_FOOT;
use super::struck::{FEWEST_PUTTS, Struck};
use super::sums::{BAND_EDGES_FT, band_of};
use crate::facts::PuttResult;
use std::f64::consts::PI;

/// The distance bands of a report.
pub(super) const BANDS: usize = BAND_EDGES_FT.len() - 1;
/// The sizes of spread that are tried: usual × 2^((n − 10) / 8), from 0.42 to 8.
pub(super) const SIZES: usize = 35;
pub(super) const SIZES_A_DOUBLING: usize = 8;
const USUAL_SIZE: f64 = 10.0;
/// The usual spreads of an amateur: start line in degrees, pace as a share of the roll meant, read in degrees. Only their
/// proportions to one another matter, since a player is compared with their own level (evenfield estimates).
pub(super) const USUAL: [f64; 3] = [0.9, 0.09, 0.55];
/// The share of readings that may be absurd, and their density (evenfield's own convention).
const MISREAD_SHARE: f64 = 0.02;
const MISREAD_DENSITY: [f64; 2] = [0.05, 0.3];
/// The error of a stop that the recorded speed does not explain: a share of the roll, and feet (evenfield estimates).
const STOP_ERROR_SHARE: f64 = 0.025;
const STOP_ERROR_FT: f64 = 0.25;
/// Shorter putts say nothing of the read: hardly one is missed for it.
const LEAST_READ_FT: f64 = 5.0;
/// Of more putts of a band each counts less: no player's spread is the same all season.
const MOST_PUTTS_OF_A_BAND: f64 = 150.0;
/// Points across the hole, and points around it on each side, at which a ball may have passed or stopped.
const ACROSS: usize = 12;
const AROUND: usize = 20;
/// Putts whose chances are multiplied before a logarithm is taken; none is small enough to vanish.
const PUTTS_A_LOGARITHM: u32 = 8;
const HOLE_FT: f64 = HOLE_RADIUS_IN / INCHES_PER_FOOT;

/// Natural logarithms of the chance of a band's readings, by size of spread.
pub(super) type BySize = [f64; SIZES];

/// What is known of one of line, pace and read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Known {
    /// By band; all 0 in a band without readings.
    pub(super) by_band: [BySize; BANDS],
    /// Readings by band.
    pub(super) readings: [u32; BANDS],
}

impl Known {
    fn nothing() -> Self {
        Self { by_band: [[0.0; SIZES]; BANDS], readings: [0; BANDS] }
    }

    /// Adds up the logarithms of readings, each with its band; nothing is known from fewer than 20.
    fn of(readings: impl Iterator<Item = (u8, BySize)>) -> Self {
        let mut known = Self::nothing();
        let mut products = [[1.0; SIZES]; BANDS];
        for (band, chances) in readings {
            let band = usize::from(band);
            let (product, sum) = (&mut products[band], &mut known.by_band[band]);
            known.readings[band] += 1;
            product.iter_mut().zip(chances).for_each(|(product, chance)| *product *= chance);
            if known.readings[band].is_multiple_of(PUTTS_A_LOGARITHM) {
                sum.iter_mut().zip(product).for_each(|(sum, product)| *sum += std::mem::replace(product, 1.0).ln());
            }
        }
        if (known.all_readings() as usize) < FEWEST_PUTTS {
            return Self::nothing();
        }
        for ((sums, products), readings) in known.by_band.iter_mut().zip(products).zip(known.readings) {
            let weight = (MOST_PUTTS_OF_A_BAND / f64::from(readings.max(1))).min(1.0);
            sums.iter_mut().zip(products).for_each(|(sum, product)| *sum = weight * (*sum + product.ln()));
        }
        known
    }

    pub(super) fn all_readings(&self) -> u32 {
        self.readings.iter().sum()
    }
}

/// Returns the size of spread at a place, over the usual one.
pub(super) fn size(place: f64) -> f64 {
    ((place - USUAL_SIZE) / SIZES_A_DOUBLING as f64).exp2()
}

/// Works out what putts say of line, pace and read, in that order.
///
/// # Formula
/// ```text
/// line:  start line ~ N(mean, σ²)
/// pace:  rolled ÷ meant − 1 ~ N(mean, σ²)
/// read:  line at the hole ~ N(played or else start line, σ²)    stop ~ N(L / ratio², (0.025 L)² + (0.25 ft)²)
///        holed:             chance that the hole takes the ball
///        missed, leave l:   density of a stop at l from the hole, on any side, where the hole did not take the ball
/// ```
/// each mixed with a share of absurd readings. The read is measured by nobody: it is what has to be added to the line for
/// the balls to end where they did.
///
/// # Source
/// evenfield's own model, on the edge of capture of [`capture`](super::capture::capture).
pub(super) fn known(struck: &[Struck], ratio: impl Fn(&Struck) -> f64, means: [f64; 2]) -> [Known; 3] {
    let band = |putt: &Struck| band_of(putt.putt.distance_ft);
    let line = |putt: &Struck| Some((band(putt), direct(putt.putt.start_line_deg?.get() - means[0], 0)));
    let pace = |putt: &Struck| Some((band(putt), direct(Rolled::of(putt)?.error(ratio(putt)) - means[1], 1)));
    let read = |putt: &Struck| Some((band(putt), read(putt, ratio(putt))?));
    [
        Known::of(struck.iter().filter_map(line)),
        Known::of(struck.iter().filter_map(pace)),
        Known::of(struck.iter().filter_map(read)),
    ]
}

/// Returns exp(−q · (widest ÷ size)²) for every size, `q` being that of the widest: four sizes on, the square.
fn bells(q: f64) -> BySize {
    let mut bells = [0.0; SIZES];
    let last = SIZES - 1;
    for (n, step) in [1.0, 1.189_207_115_002_721, std::f64::consts::SQRT_2, 1.681_792_830_507_429].iter().enumerate() {
        bells[last - n] = (-q * step).exp();
    }
    for n in (0..SIZES - 4).rev() {
        bells[n] = bells[n + 4] * bells[n + 4];
    }
    bells
}

fn direct(off: f64, focus: usize) -> BySize {
    let widest = USUAL[focus] * size((SIZES - 1) as f64);
    let mut chances = bells(0.5 * (off / widest) * (off / widest));
    for (n, chance) in chances.iter_mut().enumerate() {
        let density = *chance / (USUAL[focus] * size(n as f64) * (2.0 * PI).sqrt());
        *chance = (1.0 - MISREAD_SHARE) * density + MISREAD_SHARE * MISREAD_DENSITY[focus];
    }
    chances
}

/// Returns the chances of where a putt ended by size of the read's spread.
fn read(struck: &Struck, ratio: f64) -> Option<BySize> {
    let distance = struck.putt.distance_ft.get();
    let line = struck.putt.played_line_deg.or(struck.putt.start_line_deg)?;
    if distance <= LEAST_READ_FT {
        return None;
    }
    let Rolled { plays_like_ft, level_ft } = Rolled::of(struck)?;
    let roll = level_ft / (ratio * ratio);
    let sd = (STOP_ERROR_SHARE * roll).hypot(STOP_ERROR_FT);
    let off = distance * line.get().to_radians().tan();
    let reach = reach_ft(struck.stimp);
    let widest = distance * (USUAL[2] * size((SIZES - 1) as f64)).to_radians();
    let mut sums = [0.0; SIZES];
    let mut add = |beside: f64, weight: f64| {
        if weight > 1e-9 {
            let sds = (beside - off) / widest;
            sums.iter_mut().zip(bells(0.5 * sds * sds)).for_each(|(sum, bell)| *sum += weight * bell);
        }
    };
    let absurd = match (struck.putt.result, struck.leave_ft) {
        (PuttResult::Holed, _) => {
            let width = 2.0 * HOLE_FT / ACROSS as f64;
            for n in 0..ACROSS {
                let beside = width * (n as f64 + 0.5) - HOLE_FT;
                let room = reach * room(beside) * room(beside);
                let below = |stop: f64| share_below((stop - roll) / sd);
                add(beside, width * (below(plays_like_ft + room) - below(plays_like_ft)));
            }
            0.5
        }
        (PuttResult::Missed, Some(leave)) => {
            let leave = leave.get();
            // what is left short is short along the putt, which may climb or fall
            let over = roll - plays_like_ft;
            let scale = if over > 0.0 { 1.0 } else { distance / plays_like_ft };
            let (along, sd) = (over * scale, sd * scale);
            let end = |sign: f64| ((along + sign * 4.0 * sd) / leave).clamp(-1.0, 1.0).acos();
            let (from, step) = (end(1.0), (end(-1.0) - end(1.0)) / AROUND as f64);
            for n in 0..AROUND {
                let (sin, cos) = (from + step * (n as f64 + 0.5)).sin_cos();
                let sds = (leave * cos - along) / sd;
                let weight = leave * step * (-0.5 * sds * sds).exp() / (sd * (2.0 * PI).sqrt());
                let (beside, past) = (leave * sin, leave * cos);
                let is_taken = past > 0.0 && beside < HOLE_FT && past < reach * room(beside) * room(beside);
                if !is_taken {
                    add(beside, weight);
                    add(-beside, weight);
                }
            }
            1.0 / distance
        }
        _ => return None,
    };
    for (n, sum) in sums.iter_mut().enumerate() {
        let sd = distance * (USUAL[2] * size(n as f64)).to_radians();
        *sum = (1.0 - MISREAD_SHARE) * *sum / (sd * (2.0 * PI).sqrt()) + MISREAD_SHARE * absurd;
    }
    Some(sums)
}

/// Returns the fastest roll that falls when it passes so far beside the middle, over that of the middle.
fn room(beside_ft: f64) -> f64 {
    1.0 - (beside_ft / HOLE_FT) * (beside_ft / HOLE_FT)
}
