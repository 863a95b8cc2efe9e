//! The demo: it serves, and shows what happens in a season.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

#[test]
fn the_demo_shows_a_season_with_all_that_happens_in_it() {
    let mut demo = Command::new(env!("CARGO_BIN_EXE_evenfield"))
        .args(["demo", "--listen", "127.0.0.1:0", "--players", "8", "--events", "5"])
        .stdout(Stdio::piped())
        .spawn()
        .expect("starts");
    let lines = BufReader::new(demo.stdout.take().expect("an output")).lines();
    let mut told: Vec<String> = Vec::new();
    for line in lines {
        let line = line.expect("text");
        let is_last = line.starts_with("Served at ");
        told.push(line);
        if is_last {
            break;
        }
    }
    demo.kill().expect("stops");
    demo.wait().expect("ends");
    // What is planted is found.
    let open = told.iter().find_map(|line| line.strip_prefix("Open findings: ")).expect("the findings");
    assert!(open.parse::<u32>().expect("a number") > 0, "{told:?}");
    // The member who only brought along a value and three differentials: 12.7 − 2.0.
    let rows: Vec<&String> = told.iter().filter(|line| line.contains("Pernille Gantry")).collect();
    assert!(rows.iter().any(|row| row.split_whitespace().any(|cell| cell == "18")), "{told:?}");
    assert!(rows.iter().any(|row| row.split_whitespace().any(|cell| cell == "10.7")), "{told:?}");
}
