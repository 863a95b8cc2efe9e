//! What a player's weaknesses may be, and how probable each is.

use super::spread_chances::{BANDS, BySize, Known, SIZES, SIZES_A_DOUBLING};
use std::f64::consts::LN_2;

/// How probable it is that one of line, pace and read is a player's weakness at all.
const WEAK: f64 = 0.2;
/// Of those: at every distance alike; in one band; from a band on or up to one.
const WEAK_EVERYWHERE: f64 = 0.5;
const WEAK_IN_ONE: f64 = 0.25;
/// How much a weakness widens a spread, in places of the scale of sizes: from 1.4 to 3.4 times.
const WIDER: std::ops::RangeInclusive<usize> = 4..=14;
/// A player's level over the usual, as natural logarithms: mean and standard deviation.
const LN_LEVEL: (f64, f64) = (0.15, 0.4);
/// How far line, pace and read lie from the player's level without being a weakness, and a band from the rest of them.
const LN_APART: f64 = 0.15;
const LN_BAND_APART: f64 = 0.1;
/// Two sizes that follow one another, as a natural logarithm.
const LN_STEP: f64 = LN_2 / SIZES_A_DOUBLING as f64;
const USUAL_PLACE: f64 = 10.0;

/// What is believed of one of line, pace and read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Belief {
    /// How probable it is that it is a weakness.
    pub(super) weak: f64,
    /// How probable: at every distance.
    pub(super) everywhere: f64,
    /// How probable: in a band, but not everywhere.
    pub(super) by_band: [f64; BANDS],
    /// The place of its size in each band on the scale of sizes: mean and standard deviation.
    pub(super) size: [(f64, f64); BANDS],
    /// The standard deviation that the bands have in common.
    pub(super) common: f64,
}

/// One of line, pace and read as it may be: weak in some bands or in none.
#[derive(Clone, Copy, Debug)]
struct Case {
    /// The first and the last of the known bands in which it is weak.
    weak: Option<(usize, usize)>,
    wider: usize,
    prior: f64,
}

/// Works out how probable each weakness is.
///
/// # Formula
/// ```text
/// ln σ(focus, band) = level + apart(focus) + apart(focus, band) + [weak there] · wider
/// level ~ N(0.15, 0.4²) over the usual      apart(focus) ~ N(0, 0.15²)      apart(focus, band) ~ N(0, 0.1²)
/// each focus is weak with 0.2: everywhere 0.5, one band 0.25, from a band on or up to one 0.25; wider 1.4 to 3.4 times
/// ```
/// All cases are summed on a grid of sizes, so the probabilities count how many other weaknesses could have been.
///
/// # Source
/// evenfield's own model: Bayes' theorem on a mixture.
pub(super) fn beliefs(known: &[Known; 3]) -> [Belief; 3] {
    let weighed: [Weighed; 3] = std::array::from_fn(|focus| Weighed::of(&known[focus]));
    let level: BySize = std::array::from_fn(|n| {
        let sds = ((n as f64 - USUAL_PLACE) * LN_STEP - LN_LEVEL.0) / LN_LEVEL.1;
        (-0.5 * sds * sds).exp()
    });
    let at_level = weighed.each_ref().map(|one| spread_out(&one.any, LN_APART));
    std::array::from_fn(|focus| {
        let others: BySize = std::array::from_fn(|n| {
            (0..3).filter(|other| *other != focus).map(|other| at_level[other][n]).product::<f64>() * level[n]
        });
        weighed[focus].belief(&spread_out(&others, LN_APART))
    })
}

/// The cases of one focus with their chances by its size outside the weakness.
struct Weighed {
    bands: Vec<usize>,
    /// By known band: the chances of its readings by its own size, and by the size that it lies apart from.
    own: Vec<(BySize, BySize)>,
    cases: Vec<(Case, BySize)>,
    /// The chance of everything, by that size.
    any: BySize,
}

impl Weighed {
    fn of(known: &Known) -> Self {
        let bands: Vec<usize> = (0..BANDS).filter(|band| known.readings[*band] > 0).collect();
        let own: Vec<(BySize, BySize)> = bands.iter().map(|band| with_apart(&known.by_band[*band])).collect();
        let mut sums = vec![[0.0; SIZES]];
        for (_, apart) in &own {
            let before = sums[sums.len() - 1];
            sums.push(std::array::from_fn(|n| before[n] + apart[n].ln()));
        }
        let all = sums[bands.len()];
        let mut cases: Vec<(Case, BySize)> = Vec::new();
        for case in cases_of(bands.len()) {
            let ln_chance = |n: usize| match case.weak {
                None => all[n],
                Some((first, last)) => {
                    let weak = |n: usize| sums[last + 1][n] - sums[first][n];
                    // a size beyond the scale is no case
                    if n + case.wider < SIZES { all[n] - weak(n) + weak(n + case.wider) } else { f64::NEG_INFINITY }
                }
            };
            cases.push((case, std::array::from_fn(ln_chance)));
        }
        let top = cases.iter().flat_map(|(_, chances)| chances).copied().fold(f64::NEG_INFINITY, f64::max);
        let mut any = [0.0; SIZES];
        for (case, chances) in &mut cases {
            for (any, chance) in any.iter_mut().zip(chances) {
                *chance = case.prior * (*chance - top).exp();
                *any += *chance;
            }
        }
        Self { bands, own, cases, any }
    }

    /// Weighs the cases by what the others say of each size.
    fn belief(&self, others: &BySize) -> Belief {
        let total: f64 = self.any.iter().zip(others).map(|(any, other)| any * other).sum();
        let outside: BySize = std::array::from_fn(|n| self.any[n] * others[n] / total);
        let (mut weak, mut everywhere, mut by_band) = (0.0, 0.0, [0.0; BANDS]);
        // what a band lies apart from, by known band
        let mut centres = vec![[0.0; SIZES]; self.bands.len()];
        for (case, chances) in &self.cases {
            let weights: BySize = std::array::from_fn(|n| chances[n] * others[n] / total);
            let probability: f64 = weights.iter().sum();
            let is_everywhere = case.weak == Some((0, self.bands.len().saturating_sub(1)));
            weak += if case.weak.is_some() { probability } else { 0.0 };
            everywhere += if is_everywhere { probability } else { 0.0 };
            for (place, centre) in centres.iter_mut().enumerate() {
                let is_weak = case.weak.is_some_and(|(first, last)| (first..=last).contains(&place));
                by_band[self.bands[place]] += if is_weak && !is_everywhere { probability } else { 0.0 };
                let wider = if is_weak { case.wider } else { 0 };
                centre[wider..].iter_mut().zip(weights).for_each(|(centre, weight)| *centre += weight);
            }
        }
        let (_, common) = mean_and_sd(&outside);
        let mut size = [mean_and_sd(&spread_out(&outside, LN_BAND_APART)); BANDS];
        for (band, size) in size.iter_mut().enumerate() {
            // of a band without readings as much is known as the nearest one with some tells
            let nearest = (0..self.bands.len()).min_by_key(|place| self.bands[*place].abs_diff(band));
            let Some((place, (own, apart))) = nearest.map(|place| (place, self.own[place])) else { continue };
            *size = if self.bands[place] == band {
                let before: BySize = std::array::from_fn(|n| centres[place][n] / apart[n]);
                let spread = spread_out(&before, LN_BAND_APART);
                mean_and_sd(&std::array::from_fn(|n| spread[n] * own[n]))
            } else {
                mean_and_sd(&spread_out(&centres[place], LN_BAND_APART))
            };
        }
        Belief { weak, everywhere, by_band, size, common }
    }
}

/// Returns mean and standard deviation of the place.
fn mean_and_sd(weights: &BySize) -> (f64, f64) {
    let total = weights.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let mean = weights.iter().enumerate().map(|(n, weight)| n as f64 * weight).sum::<f64>() / total;
    let variance =
        weights.iter().enumerate().map(|(n, weight)| (n as f64 - mean).powi(2) * weight).sum::<f64>() / total;
    (mean, variance.sqrt())
}

/// Lists the cases for a number of bands.
fn cases_of(bands: usize) -> Vec<Case> {
    let mut cases = vec![Case { weak: None, wider: 0, prior: 1.0 - WEAK }];
    let Some(last) = bands.checked_sub(1) else { return cases };
    let factors = WIDER.count() as f64;
    let mut add = |weak: (usize, usize), share: f64| {
        let prior = WEAK * share / factors;
        cases.extend(WIDER.map(|wider| Case { weak: Some(weak), wider, prior }));
    };
    add((0, last), WEAK_EVERYWHERE);
    if bands > 1 {
        (0..bands).for_each(|band| add((band, band), WEAK_IN_ONE / bands as f64));
        // of two bands the ends are the bands themselves
        let ends = (1..last).flat_map(|cut| [(0, cut), (cut, last)]);
        let share = (1.0 - WEAK_EVERYWHERE - WEAK_IN_ONE) / (2.0 * (bands as f64 - 2.0));
        ends.for_each(|weak| add(weak, share));
    }
    cases
}

/// Lets every size be another by so much.
fn spread_out(weights: &BySize, ln_sd: f64) -> BySize {
    let bell: Vec<f64> = (0..SIZES).map(|n| (-0.5 * (n as f64 * LN_STEP / ln_sd).powi(2)).exp()).collect();
    let total = bell[0] + 2.0 * bell[1..].iter().sum::<f64>();
    std::array::from_fn(|n| {
        weights.iter().enumerate().map(|(other, weight)| weight * bell[other.abs_diff(n)]).sum::<f64>() / total
    })
}

/// Returns the chances by a band's own size, and by the size that it lies apart from.
fn with_apart(ln_chances: &BySize) -> (BySize, BySize) {
    let top = ln_chances.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let own = ln_chances.map(|ln_chance| (ln_chance - top).exp());
    // below this a size is out of the question
    (own, spread_out(&own, LN_BAND_APART).map(|chance| chance.max(1e-200)))
}
