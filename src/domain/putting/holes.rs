//! Holes by the distance of their first putt: one-putts, three-putts, and how far first putts were left.

use super::baseline::Baseline;
use super::share;
use super::struck::rounded;
use super::sums::{BAND_EDGES_FT, band_of, six_decimals};
use crate::facts::{Putt, PuttResult};
use crate::units::StrokesGained;
use serde::Serialize;

/// Inside this a putt left is taken to be as good as holed.
const CLOSE_FT: f64 = 3.0;
/// The fewest putts of which nine in ten are told.
const FEWEST_FOR_NINE_IN_TEN: usize = 20;

/// The holes whose first putt was struck in a band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FirstPutts {
    /// The band's lower edge, excluded.
    pub from_ft: f64,
    /// The band's upper edge, included.
    pub to_ft: f64,
    /// Holes that were putted out.
    pub holes: u32,
    /// Of them those with one putt.
    pub one_putt: Holes,
    /// Of them those with three putts or more.
    pub three_putt: Holes,
    /// Where first putts that missed stopped; `None` without one.
    pub left: Option<Left>,
}

/// Some of the holes, against what the baseline would have.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Holes {
    pub holes_total: u32,
    /// How many the baseline has from there.
    pub expected_total: f64,
    /// The ends of the 95 % interval of the share, in per cent; `None` without a hole.
    pub low_pct: Option<f64>,
    pub high_pct: Option<f64>,
}

/// How far from the hole putts stopped.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Left {
    /// Putts that were left.
    pub putts: u32,
    /// Half of them stopped within this.
    pub median_ft: f64,
    /// The ends of its 95 % interval; `None` below six putts.
    pub median_low_ft: Option<f64>,
    pub median_high_ft: Option<f64>,
    /// Nine in ten stopped within this; `None` below 20 putts.
    pub nine_in_ten_ft: Option<f64>,
    /// The share that stopped within 3 ft, in per cent.
    pub inside_3_ft_pct: f64,
    /// Lower end of its 95 % interval.
    pub inside_3_ft_low_pct: f64,
    pub inside_3_ft_high_pct: f64,
}

/// The first putts of holes as they are added up.
#[derive(Clone, Debug, Default)]
pub(super) struct HoleEnds {
    /// All together, then each band.
    rows: [Row; BAND_EDGES_FT.len()],
    /// Feet of the putts that were holed, and the longest of them.
    pub(super) feet_holed: f64,
    pub(super) longest_holed_ft: Option<f64>,
}

#[derive(Clone, Debug, Default)]
struct Row {
    holes: u32,
    one_putt: u32,
    three_putt: u32,
    /// In billionths.
    expected_one: i64,
    expected_three: i64,
    left_ft: Vec<f64>,
}

impl HoleEnds {
    /// Adds the putts of a hole; one that was picked up has no number of putts.
    pub(super) fn add(&mut self, hole: &[Putt], baseline: &Baseline) {
        hole.iter().for_each(|putt| self.add_holed(putt));
        let (Some(first), Some(last)) = (hole.first(), hole.last()) else { return };
        if last.result == PuttResult::Missed {
            return;
        }
        let billionths = |chance: f64| StrokesGained::from_strokes(chance).0;
        let (one, three) = (baseline.one_putt(first.distance_ft), baseline.three_putt(first.distance_ft));
        for row in [0, usize::from(band_of(first.distance_ft)) + 1] {
            let row = &mut self.rows[row];
            row.holes += 1;
            row.one_putt += u32::from(hole.len() == 1);
            row.three_putt += u32::from(hole.len() > 2);
            row.expected_one += billionths(one);
            row.expected_three += billionths(three);
            row.left_ft.extend(hole.get(1).map(|next| next.distance_ft.get()));
        }
    }

    /// Adds the feet of a putt that was holed.
    pub(super) fn add_holed(&mut self, putt: &Putt) {
        if putt.result == PuttResult::Holed {
            let feet = putt.distance_ft.get();
            self.feet_holed += feet;
            self.longest_holed_ft = Some(self.longest_holed_ft.map_or(feet, |longest| longest.max(feet)));
        }
    }

    /// Returns all holes together, and each band.
    pub(super) fn rows(&self) -> (FirstPutts, Vec<FirstPutts>) {
        let far = BAND_EDGES_FT[BAND_EDGES_FT.len() - 1];
        let bands = self.rows[1..].iter().zip(BAND_EDGES_FT.windows(2));
        (self.rows[0].told(0.0, far), bands.map(|(row, edges)| row.told(edges[0], edges[1])).collect())
    }
}

impl Row {
    fn told(&self, from_ft: f64, to_ft: f64) -> FirstPutts {
        let some = |holes_total: u32, expected: i64| {
            let ends = share::interval(holes_total, self.holes);
            Holes {
                holes_total,
                expected_total: six_decimals(i128::from(expected), 1),
                low_pct: ends.map(|(low, _)| rounded(100.0 * low)),
                high_pct: ends.map(|(_, high)| rounded(100.0 * high)),
            }
        };
        FirstPutts {
            from_ft,
            to_ft,
            holes: self.holes,
            one_putt: some(self.one_putt, self.expected_one),
            three_putt: some(self.three_putt, self.expected_three),
            left: Left::of(self.left_ft.clone()),
        }
    }
}

impl Left {
    /// Works out how far putts were left.
    ///
    /// # Formula
    /// ```text
    /// median: the mean of the middle ones      nine in ten: the value at place ceil(0.9 n)
    /// interval of the median: from place floor((n - 1.96 √n) / 2) to place n + 1 less that, from 1
    /// ```
    /// # Source
    /// The interval of a median by order statistics, with the normal form of the binomial (from memory).
    fn of(mut left_ft: Vec<f64>) -> Option<Self> {
        left_ft.sort_unstable_by(f64::total_cmp);
        let n = left_ft.len();
        let close = left_ft.iter().filter(|feet| **feet <= CLOSE_FT).count() as u32;
        let (low, high) = share::interval(close, n as u32)?;
        let at = |place: usize| rounded(left_ft[place - 1]);
        let outer = ((n as f64 - super::spread::Z_975 * (n as f64).sqrt()) / 2.0).floor().max(0.0) as usize;
        let is_known = outer > 0;
        Some(Self {
            putts: n as u32,
            median_ft: rounded(0.5 * (at(n.div_ceil(2)) + at(n / 2 + 1))),
            median_low_ft: is_known.then(|| at(outer)),
            median_high_ft: is_known.then(|| at(n + 1 - outer)),
            nine_in_ten_ft: (n >= FEWEST_FOR_NINE_IN_TEN).then(|| at((9 * n).div_ceil(10))),
            inside_3_ft_pct: rounded(100.0 * f64::from(close) / n as f64),
            inside_3_ft_low_pct: rounded(100.0 * low),
            inside_3_ft_high_pct: rounded(100.0 * high),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Feet;
    use PuttResult::{Conceded, Holed, Missed};

    fn hole(putts: &[(f64, PuttResult)]) -> Vec<Putt> {
        let putt = |(feet, result): &(f64, PuttResult)| Putt {
            distance_ft: Feet::new(*feet).unwrap(),
            elevation_in: None,
            ball_speed_mph: None,
            start_line_deg: None,
            played_line_deg: None,
            result: *result,
        };
        putts.iter().map(putt).collect()
    }

    #[test]
    fn holes_count_by_their_first_putt() {
        let mut ends = HoleEnds::default();
        for putts in [
            &[(12.0, Holed)][..],
            &[(12.0, Missed), (2.0, Holed)],
            &[(14.0, Missed), (5.0, Missed), (1.0, Conceded)],
            // picked up, and a chip-in
            &[(13.0, Missed), (4.0, Missed)],
            &[],
        ] {
            ends.add(&hole(putts), Baseline::tour());
        }
        let (all, bands) = ends.rows();
        let ten = bands[4];
        assert_eq!((ten.from_ft, ten.holes, ten.one_putt.holes_total, ten.three_putt.holes_total), (10.0, 3, 1, 1));
        let chance = |feet| Baseline::tour().one_putt(Feet::new(feet).unwrap());
        assert!((ten.one_putt.expected_total - 2.0 * chance(12.0) - chance(14.0)).abs() < 2e-6);
        assert_eq!((all.holes, all.one_putt, all.left), (3, ten.one_putt, ten.left));
        let left = all.left.unwrap();
        assert_eq!((left.putts, left.median_ft, left.nine_in_ten_ft, left.inside_3_ft_pct), (2, 3.5, None, 50.0));
        assert_eq!((ends.feet_holed, ends.longest_holed_ft), (14.0, Some(12.0)));
        assert_eq!((bands[0].holes, bands[0].left, bands[0].one_putt.low_pct), (0, None, None));
    }

    /// Places 40 and 61 of 100 are the tabled ones for a median (from memory).
    #[test]
    fn a_medians_interval_lies_at_the_tabled_places() {
        let left = Left::of((1..=100).map(f64::from).collect()).unwrap();
        assert_eq!((left.median_ft, left.median_low_ft, left.median_high_ft), (50.5, Some(40.0), Some(61.0)));
        assert_eq!(left.nine_in_ten_ft, Some(90.0));
        let few = Left::of(vec![1.0, 2.0, 4.0]).unwrap();
        assert_eq!((few.median_ft, few.median_low_ft), (2.0, None));
    }
}
