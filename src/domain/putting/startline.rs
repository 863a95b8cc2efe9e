//! How straight a player starts the ball.

use super::spread::{Spread, without_misreadings};
use crate::putting::struck::{FEWEST_PUTTS, Struck, rounded};
use serde::Serialize;

/// The half-widths that players go by, in degrees, and the distance inside which the narrow one holds (common
/// practice, no source).
const GOOD_LINE_DEG: f64 = 1.0;
const NARROW_LINE_DEG: f64 = 0.5;
const NARROW_INSIDE_FT: f64 = 5.0;

/// The start lines of a player's putts, as the sensor measured them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StartLine {
    /// Putts with a measured line, misreadings left out.
    pub putts: u32,
    /// The mean; positive is right.
    pub bias_deg: f64,
    /// The standard deviation.
    pub sd_deg: f64,
    /// Lower end of the 95 % interval of `sd_deg`.
    pub sd_low_deg: f64,
    /// Upper end of that interval.
    pub sd_high_deg: f64,
    /// Putts started within 1° of the intended line, in per cent.
    pub within_1_deg_pct: f64,
    /// Putts of at most 5 ft started within 0.5°, in per cent; `None` where there are none.
    pub within_half_deg_inside_5_ft_pct: Option<f64>,
}

impl StartLine {
    /// Works out the start lines of struck putts; `None` below 20 with a measured line.
    ///
    /// # Formula
    /// Mean, standard deviation and its chi-square interval of `start_line_deg`. A reading more than four robust standard
    /// deviations from the median is a misreading and left out. The shares count every reading.
    pub(super) fn of(struck: &[Struck]) -> Option<Self> {
        let all: Vec<(f64, f64)> = struck
            .iter()
            .filter_map(|putt| Some((putt.putt.distance_ft.get(), putt.putt.start_line_deg?.get())))
            .collect();
        let mut lines: Vec<f64> = all.iter().map(|(_, line)| *line).collect();
        without_misreadings(&mut lines);
        if lines.len() < FEWEST_PUTTS {
            return None;
        }
        let spread = Spread::of(&lines)?;
        Some(Self {
            putts: spread.count,
            bias_deg: rounded(spread.mean),
            sd_deg: rounded(spread.sd),
            sd_low_deg: rounded(spread.low),
            sd_high_deg: rounded(spread.high),
            within_1_deg_pct: share_pct(all.iter().map(|(_, line)| line.abs() <= GOOD_LINE_DEG))?,
            within_half_deg_inside_5_ft_pct: share_pct(
                all.iter()
                    .filter(|(distance, _)| *distance <= NARROW_INSIDE_FT)
                    .map(|(_, line)| line.abs() <= NARROW_LINE_DEG),
            ),
        })
    }
}

fn share_pct(are_within: impl Iterator<Item = bool>) -> Option<f64> {
    let (all, within) = are_within.fold((0u32, 0u32), |(all, within), is| (all + 1, within + u32::from(is)));
    (all > 0).then(|| rounded(100.0 * f64::from(within) / f64::from(all)))
}
