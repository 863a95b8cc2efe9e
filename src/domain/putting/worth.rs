//! What a smaller spread of line, pace or read would save.

use super::baseline::Baseline;
use super::make::{Scatter, make};
use super::pacing::MEANT_PAST_FT;
use super::roll::INCHES_PER_FOOT;
use super::spread_chances::{BANDS, USUAL, size};
use super::struck::Struck;
use super::sums::band_of;
use super::weakness::Belief;
use crate::units::{Degrees, DistanceSpread, Feet, LineSpread, OutOfRange, Overrun, Stimp};

/// How good the model of strokes itself is taken to be, as a share (evenfield's own convention).
const MODEL_ERROR: f64 = 0.06;
/// What is left of a spread after practice (evenfield's own convention).
const LEFT_AFTER_PRACTICE: f64 = 0.75;

/// The three spreads that a putt suffers from: line and read in degrees, pace as a share of the roll meant.
pub(super) type Spreads = [f64; 3];

/// A player's putts of one band, as that many putts of their mean distance on their mean green.
#[derive(Clone, Copy, Debug)]
struct BandOfPutts {
    band: usize,
    putts: f64,
    distance: Feet,
    stimp: Stimp,
}

/// A player's putts and mean errors, for asking what smaller spreads would save.
pub(super) struct Game<'a> {
    bands: Vec<BandOfPutts>,
    /// Mean of the line in degrees, mean of the pace as a share.
    means: [f64; 2],
    recorded_holes: u32,
    baseline: &'a Baseline,
}

/// Strokes for 18 recorded holes, with their standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Worth {
    pub(super) strokes: f64,
    pub(super) sd: f64,
}

impl<'a> Game<'a> {
    pub(super) fn of(struck: &[Struck], means: [f64; 2], recorded_holes: u32, baseline: &'a Baseline) -> Self {
        Self { bands: bands(struck), means, recorded_holes, baseline }
    }

    /// Works out what is saved in some bands when the spread of one focus shrinks by a quarter.
    ///
    /// A quarter, not the tour's spread: everyone has a next step, and the same one is asked of each focus.
    ///
    /// # Formula
    /// ```text
    /// strokes(d) = 1 + (1 - p(d)) · E(leave)            p: the make model at the player's spreads
    /// leave² = (1 ft + bias · m)² + (σ_pace · m)² + (d · tan σ)²      m = d + 1 ft     σ² = σ_line² + σ_read²
    /// saved = Σ putts of the band a round · (strokes at these spreads - strokes with one of them at 0.75 of itself)
    /// ```
    /// The interval is ± 1.96 standard deviations: what one doubling of a spread would change is taken as even, the error
    /// of a spread's size in part as common to its bands and else as each band's own, and the model's own error as six in a
    /// hundred. Each band is worked out at its mean distance and green speed, as level.
    ///
    /// # Source
    /// evenfield estimate.
    pub(super) fn saved(&self, focus: usize, is_in: impl Fn(usize) -> bool, beliefs: &[Belief; 3]) -> Worth {
        let (mut strokes, mut common, mut variance) = (0.0, [0.0; 3], 0.0);
        for band in self.bands.iter().filter(|band| is_in(band.band)) {
            let with = |moved: Option<usize>| {
                let place = |one: usize| beliefs[one].size[band.band].0 + f64::from(u8::from(moved == Some(one)));
                self.gain(band, std::array::from_fn(|one| USUAL[one] * size(place(one))), focus)
            };
            let here = with(None);
            strokes += here;
            for (one, (belief, common)) in beliefs.iter().zip(&mut common).enumerate() {
                let slope = with(Some(one)) - here;
                let sd = belief.size[band.band].1;
                let shared = belief.common.min(sd);
                *common += slope * shared;
                variance += slope * slope * (sd * sd - shared * shared);
            }
        }
        let of_model = MODEL_ERROR * strokes;
        let sd = (variance + common.iter().map(|one| one * one).sum::<f64>() + of_model * of_model).sqrt();
        Worth { strokes, sd }
    }

    /// Returns what is saved in a band, for 18 recorded holes.
    fn gain(&self, band: &BandOfPutts, spreads: Spreads, focus: usize) -> f64 {
        let mut practised = spreads;
        practised[focus] *= LEFT_AFTER_PRACTICE;
        let a_round = 18.0 * band.putts / f64::from(self.recorded_holes);
        a_round * (self.strokes(band, spreads) - self.strokes(band, practised))
    }

    fn strokes(&self, band: &BandOfPutts, spreads: Spreads) -> f64 {
        let distance = band.distance.get();
        let meant = distance + MEANT_PAST_FT;
        let past = MEANT_PAST_FT + self.means[1] * meant;
        let beside = distance * spreads[0].hypot(spreads[2]).to_radians().tan();
        let leave = past.hypot(spreads[1] * meant).hypot(beside);
        let left = Feet::new(leave.min(Feet::MAX)).map_or(1.0, |leave| self.baseline.expected_putts(leave));
        1.0 + (1.0 - self.chance(band, spreads)) * left
    }

    /// Returns the chance to hole a putt of the band; 0 for a spread beyond every range.
    fn chance(&self, band: &BandOfPutts, [line, pace, read]: Spreads) -> f64 {
        let distance = band.distance.get();
        let meant = distance + MEANT_PAST_FT;
        // a player who leaves putts short on average is taken to stop at the hole on average
        let past = (meant * (1.0 + self.means[1]) - distance).clamp(0.0, Overrun::MAX / INCHES_PER_FOOT);
        let scatter = || {
            Ok::<_, OutOfRange>(Scatter {
                line: LineSpread::new(line.hypot(read).min(LineSpread::MAX))?,
                distance: DistanceSpread::new((pace * meant / (distance + past)).min(DistanceSpread::MAX))?,
                past: Overrun::new(past * INCHES_PER_FOOT)?,
                bias: Degrees::new(self.means[0])?,
            })
        };
        scatter().map_or(0.0, |scatter| make(band.distance, &scatter, band.stimp).make_probability)
    }
}

/// Returns the bands that putts were struck in, nearest first.
fn bands(struck: &[Struck]) -> Vec<BandOfPutts> {
    let mut sums = [(0.0, 0.0, 0.0); BANDS];
    for putt in struck {
        let (putts, distance, stimp) = &mut sums[usize::from(band_of(putt.putt.distance_ft))];
        *putts += 1.0;
        *distance += putt.putt.distance_ft.get();
        *stimp += putt.stimp.get();
    }
    let mean = |(band, (putts, distance, stimp)): (usize, &(f64, f64, f64))| {
        // without a putt these are no numbers, and no number is refused
        let (distance, stimp) = (Feet::new(distance / putts).ok()?, Stimp::new(stimp / putts).ok()?);
        Some(BandOfPutts { band, putts: *putts, distance, stimp })
    };
    sums.iter().enumerate().filter_map(mean).collect()
}
