//! How well the putting report finds a simulated player's habits again.

use super::{Player, Random};
use evenfield::domain::putting::player::PlayerPutting;
use evenfield::domain::units::OutOfRange;

/// How often the truth lay inside the 95 % intervals, in per cent of the players that had one.
#[derive(Clone, Copy, Debug)]
pub struct Recovered {
    /// Of `start_line.sd`.
    pub line_pct: f64,
    /// Of `pace.sd`.
    pub pace_pct: f64,
    /// Of `speed_ratio`.
    pub ratio_pct: f64,
    /// The mean of the fitted ratios over the true one.
    pub mean_ratio: f64,
    /// The mean width of the ratio's interval.
    pub ratio_width: f64,
}

/// Plays `players` of one kind, `putts` each, and counts how often the truth lay inside the intervals.
pub fn recovered(player: &Player, players: u32, putts: usize, seed: u64) -> Result<Recovered, OutOfRange> {
    let mut random = Random(seed);
    let (mut line, mut pace, mut ratio, mut sum, mut width) =
        (Tally::default(), Tally::default(), Tally::default(), 0.0, 0.0);
    for _ in 0..players {
        let (struck, holes) = player.play(putts, &mut random)?;
        let found = PlayerPutting::of(&struck, holes);
        if let Some(found) = found.start_line {
            line.add(player.line.1, found.sd_low_deg, found.sd_high_deg);
        }
        if let Some(found) = found.pace {
            pace.add(100.0 * player.pace.1, found.sd_low_pct, found.sd_high_pct);
        }
        if let [found] = found.setups[..] {
            ratio.add(player.speed_ratio, found.low, found.high);
            sum += found.speed_ratio / player.speed_ratio;
            width += found.high - found.low;
        }
    }
    let fitted = f64::from(ratio.all);
    Ok(Recovered {
        line_pct: line.pct(),
        pace_pct: pace.pct(),
        ratio_pct: ratio.pct(),
        mean_ratio: sum / fitted,
        ratio_width: width / fitted,
    })
}

#[derive(Default)]
struct Tally {
    all: u32,
    inside: u32,
}

impl Tally {
    fn add(&mut self, truth: f64, low: f64, high: f64) {
        self.all += 1;
        self.inside += u32::from((low..=high).contains(&truth));
    }

    fn pct(&self) -> f64 {
        100.0 * f64::from(self.inside) / f64::from(self.all)
    }
}
