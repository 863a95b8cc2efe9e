//! How often known habits lie inside the putting report's 95 % intervals: a program that prints the figures for 1,000
//! players of each kind, of 100 and of 400 putts each.

#[path = "../tests/support/simulated/mod.rs"]
mod simulated;

use evenfield::domain::units::OutOfRange;
use simulated::recovery;

const PLAYERS: u32 = 1_000;

fn main() -> Result<(), OutOfRange> {
    println!("95 % intervals that hold the truth, of {PLAYERS} players; mean fitted ratio over the true one");
    for (name, player) in simulated::players() {
        for putts in [100, 400] {
            let found = recovery::recovered(&player, PLAYERS, putts, 1)?;
            println!(
                "{name}, {putts} putts: line {:.1} %, pace {:.1} %, speed ratio {:.1} % (mean {:.4}, interval {:.4} wide)",
                found.line_pct, found.pace_pct, found.ratio_pct, found.mean_ratio, found.ratio_width
            );
        }
    }
    Ok(())
}
