//! The struck putts of a band of distance.

use super::share;
use super::spread::half_interval;
use super::struck::rounded;
use super::sums::{BAND_EDGES_FT, BandSums, per_round, six_decimals};
use serde::Serialize;

/// The struck putts of one distance band, over all rounds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Band {
    /// The band's lower edge, excluded.
    pub from_ft: f64,
    /// The band's upper edge, included.
    pub to_ft: f64,
    pub putts: u32,
    pub made: u32,
    /// Their share in per cent; `None` without a putt.
    pub made_pct: Option<f64>,
    /// Lower end of its 95 % interval.
    pub made_low_pct: Option<f64>,
    /// Upper end of it.
    pub made_high_pct: Option<f64>,
    /// Putts that the baseline holes from there.
    pub expected_made: f64,
    /// Strokes gained, all putts of the band together.
    pub strokes_gained_total: f64,
    /// Lower end of its 95 % interval; `None` below five putts.
    pub low_total: Option<f64>,
    /// Upper end of it.
    pub high_total: Option<f64>,
    /// Strokes gained for 18 recorded holes; `None` without one.
    pub strokes_gained_per_round: Option<f64>,
    /// Lower end of its 95 % interval; `None` below five putts.
    pub low_per_round: Option<f64>,
    /// Upper end of it.
    pub high_per_round: Option<f64>,
}

/// The fewest putts of a band for an interval to be given.
pub const FEWEST_FOR_INTERVAL: u32 = 5;

impl Band {
    /// Works out a band's figures; its interval is [`half_interval`] to either side.
    pub(super) fn of(sums: &BandSums, recorded_holes: u32) -> Self {
        let half = (sums.putts >= FEWEST_FOR_INTERVAL)
            .then(|| half_interval(f64::from(sums.putts), sums.gains as f64 / 1e9, sums.squares));
        let edge = |sign: f64| half.map(|half| (sums.gains as f64 + sign * half * 1e9).round() as i64);
        let total = |billionths: i64| six_decimals(i128::from(billionths), 1);
        let a_round = |billionths: i64| per_round(billionths, recorded_holes);
        let pct = |share: f64| rounded(100.0 * share);
        let made = share::interval(sums.made, sums.putts);
        Self {
            from_ft: BAND_EDGES_FT[usize::from(sums.band)],
            to_ft: BAND_EDGES_FT[usize::from(sums.band) + 1],
            putts: sums.putts,
            made: sums.made,
            made_pct: made.map(|_| pct(f64::from(sums.made) / f64::from(sums.putts))),
            made_low_pct: made.map(|(low, _)| pct(low)),
            made_high_pct: made.map(|(_, high)| pct(high)),
            expected_made: six_decimals(i128::from(sums.expected_made), 1),
            strokes_gained_total: total(sums.gains),
            low_total: edge(-1.0).map(total),
            high_total: edge(1.0).map(total),
            strokes_gained_per_round: a_round(sums.gains),
            low_per_round: edge(-1.0).and_then(a_round),
            high_per_round: edge(1.0).and_then(a_round),
        }
    }
}
