//! Draws for the tests of the kinds: the mean of evidence under an explanation of the grid.

use super::readings::{PuttReading, RoundReadings};
use crate::units::Stimp;
use jiff::Span;
use jiff::civil::Date;

/// A stream of random numbers: SplitMix64 (from memory).
pub(super) struct Draw(u64);

/// The mean of the evidence over many records drawn alike, and how often it reached ten.
#[derive(Debug)]
pub(super) struct Mean {
    mean: f64,
    error: f64,
    above_ten: f64,
    draws: f64,
}

impl Mean {
    /// Returns whether a mean of 1, and one in ten above ten, are within four standard errors.
    pub(super) fn is_at_most_1(&self) -> bool {
        let chance = 0.1 + 4.0 * (0.1 * 0.9 / self.draws).sqrt();
        self.mean <= 1.0 + 4.0 * self.error && self.above_ten <= chance
    }
}

impl Draw {
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Returns a number from 0 to 1, both excluded.
    pub(super) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Returns a standard normal number (Box and Muller).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    /// Draws records and returns the mean of their evidence, each as a power of ten.
    pub(super) fn mean_of_evidence(&mut self, draws: usize, log10: impl Fn(&mut Self) -> f64) -> Mean {
        let found: Vec<f64> = (0..draws).map(|_| 10f64.powf(log10(self))).collect();
        let count = draws as f64;
        let mean = found.iter().sum::<f64>() / count;
        let square = found.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / count;
        let above_ten = found.iter().filter(|x| **x >= 10.0).count() as f64 / count;
        Mean { mean, error: (square / count).sqrt(), above_ten, draws: count }
    }
}

/// A holed putt on the level that nothing else is known of.
pub(super) fn putt(distance_ft: f64) -> PuttReading {
    PuttReading {
        distance_ft,
        plays_like_ft: distance_ft,
        level_roll_ft: None,
        ball_speed_mph: None,
        start_line_deg: None,
        played_line_deg: None,
        is_holed: true,
        leave_ft: None,
        is_declared: false,
    }
}

/// A round of these putts on a green of 10 ft.
pub(super) fn round(putts: Vec<PuttReading>) -> RoundReadings {
    on(0, putts)
}

/// A round of these putts on a green of 10 ft, some days after the first one.
pub(super) fn on(day: i32, putts: Vec<PuttReading>) -> RoundReadings {
    let stimp = Stimp::new(10.0).expect("in range");
    let played_on = Date::constant(2026, 9, 1).saturating_add(Span::new().days(day));
    RoundReadings { received: 1, played_on, stimp, putts, holes: vec![], conceded: 0 }
}
