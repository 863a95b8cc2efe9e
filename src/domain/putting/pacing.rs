//! How well a player's putts are paced.

use super::roll;
use super::spread::{Spread, without_misreadings};
use crate::putting::struck::{FEWEST_PUTTS, Struck, rounded};
use crate::units::Inches;
use serde::Serialize;

/// How far past the hole a putt is taken to be meant, in feet (evenfield's own convention).
pub const MEANT_PAST_FT: f64 = 1.0;
/// Shorter putts are left out: the model of the roll is not calibrated there.
pub(super) const LEAST_DISTANCE_FT: f64 = 2.0;

/// The pace of a player's putts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PaceSpread {
    /// Putts of 2 ft and more with a recorded speed, misreadings left out.
    pub putts: u32,
    /// The mean of rolled ÷ meant − 1, in per cent; positive is too firm.
    pub bias_pct: f64,
    /// Its standard deviation, in per cent.
    pub sd_pct: f64,
    /// Lower end of the 95 % interval of `sd_pct`.
    pub sd_low_pct: f64,
    /// Upper end of that interval.
    pub sd_high_pct: f64,
}

/// A putt's recorded speed, in the distances it stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rolled {
    /// The level putt that this one plays like, in feet.
    pub(super) plays_like_ft: f64,
    /// How far the recorded speed rolls on the level where it is the true one, in feet.
    pub(super) level_ft: f64,
}

impl Rolled {
    /// Returns a putt's distances; `None` without a speed, under 2 ft, and where the fall is too steep for the ball to
    /// stop. A putt without a recorded elevation counts as level.
    ///
    /// # Formula
    /// ```text
    /// plays like: d + (10/7) g h / (2 a)      level: v_roll² / (2 a)      v_roll = 0.90 · v_ball
    /// ```
    pub(super) fn of(struck: &Struck) -> Option<Self> {
        let Struck { stimp, putt, .. } = struck;
        let level_ft = roll::level_roll_ft(putt.ball_speed_mph?.get(), *stimp);
        let elevation = putt.elevation_in.map_or_else(|| Inches::new(0.0), Ok).ok()?;
        let plays_like_ft = roll::plays_like_ft(putt.distance_ft, *stimp, elevation)?;
        (putt.distance_ft.get() >= LEAST_DISTANCE_FT).then_some(Self { plays_like_ft, level_ft })
    }

    /// Returns rolled ÷ meant − 1 for a set-up whose recorded speeds are `ratio` times the true ones.
    pub(super) fn error(&self, ratio: f64) -> f64 {
        self.level_ft / (ratio * ratio) / (self.plays_like_ft + MEANT_PAST_FT) - 1.0
    }
}

impl PaceSpread {
    /// Works out the pace of putts from rolled ÷ meant − 1 of each; `None` below 20.
    ///
    /// # Formula
    /// Mean, standard deviation and its chi-square interval. A value more than four robust standard deviations from the
    /// median is a misreading and left out.
    pub(super) fn of(mut errors: Vec<f64>) -> Option<Self> {
        without_misreadings(&mut errors);
        if errors.len() < FEWEST_PUTTS {
            return None;
        }
        let spread = Spread::of(&errors)?;
        let pct = |share: f64| rounded(100.0 * share);
        Some(Self {
            putts: spread.count,
            bias_pct: pct(spread.mean),
            sd_pct: pct(spread.sd),
            sd_low_pct: pct(spread.low),
            sd_high_pct: pct(spread.high),
        })
    }
}
