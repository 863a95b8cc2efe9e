//! The demo: it serves, and shows what happens in a season.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

#[test]
fn the_demo_shows_a_season_with_all_that_happens_in_it() {
    let mut demo = Command::new(env!("CARGO_BIN_EXE_evenfield"))
        .args(["demo", "--listen", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .spawn()
        .expect("starts");
    let lines = BufReader::new(demo.stdout.take().expect("an output")).lines();
    let told: Vec<String> = lines.take(6).map(|line| line.expect("text")).collect();
    demo.kill().expect("stops");
    demo.wait().expect("ends");
    let beginnings = ["Lantern Street Indoor League, an invented league of 25 members", "Player ", "Organizer "];
    let beginnings = beginnings.into_iter().chain(["Open ", "Standings ", "Fair play "]);
    assert!(told.iter().zip(beginnings).all(|(line, begins)| line.starts_with(begins)), "{told:?}");
    assert_eq!(told.len(), 6);
    // What is planted is found.
    let open = told[5].split("findings  ").nth(1).and_then(|rest| rest.split(' ').next()).expect("the findings");
    assert_eq!(open, "3", "{told:?}");
    assert!(told[4].contains("First flight: ") && told[4].contains(" points; Second flight: "), "{told:?}");
}
