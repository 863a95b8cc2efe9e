//! What a player would gain most from practising.

use super::baseline::Baseline;
use super::make::{Scatter, make};
use super::pacing::MEANT_PAST_FT;
use super::roll::INCHES_PER_FOOT;
use super::spread::{Spread, Z_975};
use super::sums::{BAND_EDGES_FT, band_of};
use crate::domain::putting::PuttResult;
use crate::domain::putting::struck::{Struck, rounded};
use crate::domain::units::{Degrees, DistanceSpread, Feet, LineSpread, Overrun, Stimp};
use serde::Serialize;

/// How many things to practise are named.
const MOST_ADVICE: usize = 2;
/// What is left of a spread after practice (evenfield's own convention).
const LEFT_AFTER_PRACTICE: f64 = 0.75;
/// The widest spread of line that is looked for, in degrees.
const WIDEST_LINE_DEG: f64 = 10.0;
/// Steps of the search for the spread of line that the makes imply; each halves what is left.
const SEARCH_STEPS: u32 = 14;

/// What to practise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Focus {
    /// Starting the ball on the intended line.
    Line,
    /// Rolling it the intended distance.
    Pace,
    /// Choosing the line.
    Read,
}

/// One thing to practise, at one distance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Practice {
    /// What.
    pub focus: Focus,
    /// The band's lower edge, excluded.
    pub from_ft: f64,
    /// The band's upper edge, included.
    pub to_ft: f64,
    /// Strokes gained for 18 recorded holes if that spread shrank by a quarter.
    pub strokes_per_round: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of it.
    pub high: f64,
}

/// A player's measured line (degrees) and pace (a share of the roll meant).
#[derive(Clone, Copy, Debug)]
pub(super) struct Habits {
    pub(super) line: Spread,
    pub(super) pace: Spread,
}

/// The three spreads that a putt suffers from: line and read in degrees, pace as a share of the roll meant.
#[derive(Clone, Copy, Debug)]
struct Spreads {
    line: f64,
    pace: f64,
    read: f64,
}

/// A player's putts of one band, as that many putts of their mean distance on their mean green.
#[derive(Clone, Copy, Debug)]
struct BandOfPutts {
    band: usize,
    putts: f64,
    distance: Feet,
    stimp: Stimp,
}

/// Returns what would gain the player most if that spread shrank by a quarter: two pairs of focus and distance band, of
/// bands whose lower edge in feet `is_of_use`.
///
/// A quarter, not the tour's spread: everyone has a next step, and the same one is asked of each focus.
///
/// # Formula
/// ```text
/// strokes(d) = 1 + (1 - p(d)) · E(leave)            p: the make model at the player's spreads
/// leave² = (1 ft + bias · m)² + (σ_pace · m)² + (d · tan σ)²      m = d + 1 ft     σ² = σ_line² + σ_read²
/// gain = putts of the band a round · (strokes at these spreads - strokes with one of them at 0.75 of itself)
/// ```
/// σ_read is not measured: it is what has to be added to the start line's spread for the model to hole as many putts as
/// the player did; none where the player holes more than line and pace explain. The interval takes the ends of the
/// spread's own interval, the others held; for the read those of the makes, ± 1.96 standard deviations. Each band is
/// worked out at its mean distance and green speed, as level.
///
/// # Source
/// evenfield estimate.
pub(super) fn practice(
    struck: &[Struck],
    habits: &Habits,
    recorded_holes: u32,
    baseline: &Baseline,
    is_of_use: impl Fn(f64) -> bool,
) -> Vec<Practice> {
    if recorded_holes == 0 {
        return Vec::new();
    }
    let bands = bands(struck);
    let game = Game { habits, baseline };
    let made = struck.iter().filter(|putt| putt.putt.result == PuttResult::Holed).count() as f64;
    let (read, read_low, read_high) = game.read(&bands, made);
    let now = Spreads { line: habits.line.sd, pace: habits.pace.sd, read };
    let a_round = |band: &BandOfPutts| 18.0 * band.putts / f64::from(recorded_holes);

    let mut gains: Vec<(Focus, &BandOfPutts, f64)> = Vec::with_capacity(3 * bands.len());
    for band in bands.iter().filter(|band| is_of_use(BAND_EDGES_FT[band.band])) {
        let strokes = game.strokes(band, now);
        for focus in [Focus::Line, Focus::Pace, Focus::Read] {
            let gain = a_round(band) * (strokes - game.strokes(band, now.practised(focus)));
            gains.push((focus, band, gain));
        }
    }
    // a stable sort: equal gains keep the order of bands and focuses
    gains.sort_by(|a, b| b.2.total_cmp(&a.2));
    gains.retain(|(_, _, gain)| rounded(*gain) > 0.0);
    gains.truncate(MOST_ADVICE);
    gains
        .into_iter()
        .map(|(focus, band, gain)| {
            let ends = match focus {
                Focus::Line => [habits.line.low, habits.line.high].map(|line| Spreads { line, ..now }),
                Focus::Pace => [habits.pace.low, habits.pace.high].map(|pace| Spreads { pace, ..now }),
                Focus::Read => [read_low, read_high].map(|read| Spreads { read, ..now }),
            };
            let [a, b] = ends.map(|spreads| a_round(band) * game.gain(band, spreads, focus));
            Practice {
                focus,
                from_ft: BAND_EDGES_FT[band.band],
                to_ft: BAND_EDGES_FT[band.band + 1],
                strokes_per_round: rounded(gain),
                low: rounded(a.min(b).min(gain)),
                high: rounded(a.max(b).max(gain)),
            }
        })
        .collect()
}

impl Spreads {
    fn practised(mut self, focus: Focus) -> Self {
        match focus {
            Focus::Line => self.line *= LEFT_AFTER_PRACTICE,
            Focus::Pace => self.pace *= LEFT_AFTER_PRACTICE,
            Focus::Read => self.read *= LEFT_AFTER_PRACTICE,
        }
        self
    }

    fn line_and_read(&self) -> f64 {
        self.line.hypot(self.read)
    }
}

struct Game<'a> {
    habits: &'a Habits,
    baseline: &'a Baseline,
}

impl Game<'_> {
    fn gain(&self, band: &BandOfPutts, spreads: Spreads, focus: Focus) -> f64 {
        self.strokes(band, spreads) - self.strokes(band, spreads.practised(focus))
    }

    fn strokes(&self, band: &BandOfPutts, spreads: Spreads) -> f64 {
        let distance = band.distance.get();
        let meant = distance + MEANT_PAST_FT;
        let past = MEANT_PAST_FT + self.habits.pace.mean * meant;
        let beside = distance * spreads.line_and_read().to_radians().tan();
        let leave = past.hypot(spreads.pace * meant).hypot(beside);
        let left = Feet::new(leave.min(Feet::MAX)).map_or(1.0, |leave| self.baseline.expected_putts(leave));
        1.0 + (1.0 - self.chance(band, spreads)) * left
    }

    /// Returns the chance to hole a putt of the band; 0 for a spread beyond every range.
    fn chance(&self, band: &BandOfPutts, spreads: Spreads) -> f64 {
        let distance = band.distance.get();
        let meant = distance + MEANT_PAST_FT;
        // a player who leaves putts short on average is taken to stop at the hole on average
        let past = (meant * (1.0 + self.habits.pace.mean) - distance).clamp(0.0, Overrun::MAX / INCHES_PER_FOOT);
        let scatter = || {
            Ok::<_, crate::domain::units::OutOfRange>(Scatter {
                line: LineSpread::new(spreads.line_and_read().min(LineSpread::MAX))?,
                distance: DistanceSpread::new((spreads.pace * meant / (distance + past)).min(DistanceSpread::MAX))?,
                past: Overrun::new(past * INCHES_PER_FOOT)?,
                bias: Degrees::new(self.habits.line.mean)?,
            })
        };
        scatter().map_or(0.0, |scatter| make(band.distance, &scatter, band.stimp).make_probability)
    }

    /// Returns the spread of the read that the makes imply, and the ends of its 95 % interval.
    fn read(&self, bands: &[BandOfPutts], made: f64) -> (f64, f64, f64) {
        let (line, pace) = (self.habits.line.sd, self.habits.pace.sd);
        let expected = |total: f64| -> (f64, f64) {
            let spreads = Spreads { line: total, pace, read: 0.0 };
            bands.iter().fold((0.0, 0.0), |(mean, variance), band| {
                let chance = self.chance(band, spreads);
                (mean + band.putts * chance, variance + band.putts * chance * (1.0 - chance))
            })
        };
        let (mut from, mut to) = (line, WIDEST_LINE_DEG.max(line));
        let (most, _) = expected(line);
        if most > made {
            for _ in 0..SEARCH_STEPS {
                let middle = 0.5 * (from + to);
                if expected(middle).0 > made {
                    from = middle;
                } else {
                    to = middle;
                }
            }
        } else {
            to = from;
        }
        let total = 0.5 * (from + to);
        let (here, variance) = expected(total);
        let step = 0.05 * total + 1e-3;
        let slope = (here - expected(total + step).0) / step;
        let half = if slope > 0.0 { Z_975 * variance.sqrt() / slope } else { WIDEST_LINE_DEG };
        let read = |total: f64| (total * total - line * line).max(0.0).sqrt();
        (read(total), read((total - half).max(0.0)), read((total + half).min(to.max(WIDEST_LINE_DEG))))
    }
}

/// Returns the bands that putts were struck in, nearest first.
fn bands(struck: &[Struck]) -> Vec<BandOfPutts> {
    let mut sums = [(0.0, 0.0, 0.0); BAND_EDGES_FT.len() - 1];
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
