//! Putts added up: a round's totals, which standings need, and the sums of a report.

use super::baseline::Baseline;
use super::gained;
use crate::facts::{CardHole, PuttResult};
use crate::units::{Feet, StrokesGained};

/// The distance bands of a putting report in feet: each from its number (excluded) to the next (included).
pub const BAND_EDGES_FT: [f64; 10] = [0.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0, 200.0];

/// The totals of one round or of many: whole numbers, so that their order of adding does not matter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PuttingTotals {
    /// Holes started.
    pub holes: u32,
    /// Holes whose putts were recorded, chip-ins included.
    pub recorded_holes: u32,
    /// Strokes gained over the recorded holes, in billionths.
    pub gains: i64,
    /// Expected putts from the first putt of each recorded hole, in billionths.
    pub expected: i64,
}

/// The sums behind a report.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PuttingSums {
    /// The totals of all holes.
    pub totals: PuttingTotals,
    /// Conceded putts.
    pub conceded: u32,
    /// Strokes gained that rest on them, in billionths.
    pub conceded_gains: i64,
    /// The bands in which putts were struck, nearest first.
    pub bands: Vec<BandSums>,
}

/// The sums of the struck putts of one distance band.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BandSums {
    /// The band's place in [`BAND_EDGES_FT`].
    pub band: u8,
    /// Putts struck.
    pub putts: u32,
    /// Putts holed.
    pub made: u32,
    /// Putts that the baseline holes, in billionths.
    pub expected_made: i64,
    /// Strokes gained, in billionths.
    pub gains: i64,
    /// Squares of each putt's strokes gained, in 10⁻¹² of a squared stroke.
    pub squares: i64,
}

impl BandSums {
    pub(super) fn add(&mut self, other: &BandSums) {
        self.putts += other.putts;
        self.made += other.made;
        self.expected_made += other.expected_made;
        self.gains += other.gains;
        self.squares += other.squares;
    }
}

/// Returns the band that a distance lies in.
pub fn band_of(distance: Feet) -> u8 {
    BAND_EDGES_FT[1..].iter().position(|edge| distance.get() <= *edge).unwrap_or(BAND_EDGES_FT.len() - 2) as u8
}

/// Squares billionths of a stroke, in 10⁻¹² of a squared stroke: each value is rounded to millionths first.
pub(super) fn squared(billionths: i64) -> i64 {
    let millionths = (billionths + 500).div_euclid(1000);
    millionths * millionths
}

impl PuttingTotals {
    /// Adds up the putts of a card, but for what was gained by putts up to `left_out`.
    pub fn of(holes: &[CardHole], baseline: &Baseline, left_out: Option<Feet>) -> Self {
        let mut totals = Self::default();
        let mut putts = Vec::new();
        for hole in holes {
            totals.holes += u32::from(!hole.not_played);
            let Some(recorded) = &hole.putts else { continue };
            totals.recorded_holes += 1;
            putts.clear();
            putts.extend(recorded.iter().map(|putt| (putt.distance_ft, putt.result)));
            totals.expect(&putts, baseline);
            for (_, gain) in counted(&putts, &gained::hole(&putts, baseline), left_out) {
                totals.gains += gain.0;
            }
        }
        totals
    }

    fn expect(&mut self, putts: &[(Feet, PuttResult)], baseline: &Baseline) {
        if let Some((first, _)) = putts.first() {
            self.expected += StrokesGained::from_strokes(baseline.expected_putts(*first)).0;
        }
    }

    /// Returns strokes gained for 18 holes, rounded half-even to six decimals; `None` without a recorded hole.
    ///
    /// # Formula
    /// ```text
    /// 18 · gains / recorded holes
    /// ```
    pub fn gained_per_round(&self) -> Option<f64> {
        per_round(self.gains, self.recorded_holes)
    }
}

/// Returns the putts of a hole that count, each with what it gained.
fn counted<'a>(
    putts: &'a [(Feet, PuttResult)],
    gains: &'a [StrokesGained],
    left_out: Option<Feet>,
) -> impl Iterator<Item = ((Feet, PuttResult), StrokesGained)> {
    let counts = move |((distance, _), _): &((Feet, PuttResult), StrokesGained)| {
        left_out.is_none_or(|left_out| *distance > left_out)
    };
    putts.iter().copied().zip(gains.iter().copied()).filter(counts)
}

impl PuttingSums {
    /// Adds the putts of one hole with what each gained, but for those up to `left_out`.
    pub(super) fn add_hole(
        &mut self,
        putts: &[(Feet, PuttResult)],
        gains: &[StrokesGained],
        baseline: &Baseline,
        left_out: Option<Feet>,
    ) {
        self.totals.expect(putts, baseline);
        for ((distance, result), gain) in counted(putts, gains, left_out) {
            self.add_putt(distance, result, gain, baseline);
        }
    }

    /// Adds a putt with what it gained.
    pub(super) fn add_putt(&mut self, distance: Feet, result: PuttResult, gain: StrokesGained, baseline: &Baseline) {
        self.totals.gains += gain.0;
        if result == PuttResult::Conceded {
            self.conceded += 1;
            self.conceded_gains += gain.0;
            return;
        }
        self.add_band(&BandSums {
            band: band_of(distance),
            putts: 1,
            made: u32::from(result == PuttResult::Holed),
            expected_made: StrokesGained::from_strokes(baseline.one_putt(distance)).0,
            gains: gain.0,
            squares: squared(gain.0),
        });
    }

    fn add_band(&mut self, sums: &BandSums) {
        match self.bands.binary_search_by_key(&sums.band, |band| band.band) {
            Ok(at) => self.bands[at].add(sums),
            Err(at) => self.bands.insert(at, *sums),
        }
    }

    /// Returns the sums of a band.
    pub fn band(&self, band: u8) -> BandSums {
        let found = self.bands.iter().find(|sums| sums.band == band);
        found.copied().unwrap_or(BandSums { band, ..BandSums::default() })
    }
}

/// Returns a sum in billionths as strokes for 18 holes, rounded half-even to six decimals.
pub fn per_round(billionths: i64, recorded_holes: u32) -> Option<f64> {
    (recorded_holes > 0).then(|| six_decimals(18 * i128::from(billionths), i128::from(recorded_holes)))
}

/// Returns `billionths / over` as strokes, rounded half-even to six decimals.
pub fn six_decimals(billionths: i128, over: i128) -> f64 {
    let unit = over * 1000;
    let (whole, rest) = (billionths.div_euclid(unit), billionths.rem_euclid(unit));
    let up = match (rest * 2).cmp(&unit) {
        std::cmp::Ordering::Less => 0,
        std::cmp::Ordering::Equal => whole.rem_euclid(2),
        std::cmp::Ordering::Greater => 1,
    };
    (whole + up) as f64 / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_take_their_upper_edge_in() {
        for (feet, band) in [(0.1, 0), (3.0, 0), (3.01, 1), (20.0, 5), (20.5, 6), (200.0, 8)] {
            assert_eq!(band_of(Feet::new(feet).unwrap()), band, "{feet} ft");
        }
    }

    #[test]
    fn halves_round_to_the_even_millionth() {
        for (billionths, value) in [(500, 0.0), (1_500, 0.000_002), (-500, 0.0), (-1_500, -0.000_002), (501, 0.000_001)]
        {
            assert_eq!(six_decimals(billionths, 1), value, "{billionths}");
        }
    }
}
