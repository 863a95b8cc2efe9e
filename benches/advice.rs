//! Whether the advice names a simulated player's true weakness, and how often its words are right: a program that prints
//! the figures. `cargo bench --bench advice -- 3000` draws so many players.

#[path = "../tests/support/simulated/mod.rs"]
mod simulated;

use evenfield::domain::units::OutOfRange;
use simulated::advised;

fn main() -> Result<(), OutOfRange> {
    let players = std::env::args().filter_map(|word| word.parse().ok()).next().unwrap_or(3_000);
    println!("seven players, 20 seeds each, {} nights", advised::NIGHTS);
    for (name, player, weak) in advised::seven() {
        let told = advised::told(&player, weak, 20)?;
        println!(
            "{name}: right {}, another {}, early {}, early or a hint {}",
            told.right, told.another, told.early, told.unsure
        );
    }
    let kept = advised::kept(players, 1)?;
    println!("{players} players drawn at random, 2 to 17 nights");
    for (n, word) in ["early", "a hint", "likely", "clear"].iter().enumerate() {
        println!("{word}: said {}, right {}", kept.said[n], kept.right[n]);
    }
    println!("what practice would save lies inside its interval for {} of {}", kept.worth_inside, kept.worth_all);
    Ok(())
}
