//! `evenfield report` over big bundles: rounds a second and peak memory, as the operating system sees it.
//!
//! `cargo bench --bench report` makes bundles of 30,000, 100,000 and 300,000 rounds (about 10 million putts) in a
//! throwaway folder and runs the release binary on each, without findings; and one of 6,000 rounds with them.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

use std::fs::File;
use std::io::{BufWriter, Write};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

fn main() {
    if std::env::args().any(|word| word == "--list" || word == "--test") {
        return;
    }
    let folder = tempfile::tempdir_in(std::env::current_dir().unwrap()).unwrap();
    println!("{:>8} {:>9} {:>9} {:>10} {:>8}", "rounds", "MB", "seconds", "rounds/s", "peak MB");
    let whole: &[&str] = &[];
    let quick: &[&str] = &["--without-findings"];
    for (rounds, how) in [(6_000, whole), (30_000, quick), (100_000, quick), (300_000, quick)] {
        let bundle = folder.path().join("big.ndjson");
        let mut out = BufWriter::new(File::create(&bundle).unwrap());
        evenfield::demo::big_bundle(1, rounds, &mut out).unwrap();
        out.flush().unwrap();
        let size = std::fs::metadata(&bundle).unwrap().len() as f64 / 1e6;
        let began = Instant::now();
        let mut report = Command::new(env!("CARGO_BIN_EXE_evenfield"))
            .args(["report", "--format", "json"])
            .args(how)
            .arg(&bundle)
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        let mut peak = 0.0_f64;
        let status = loop {
            peak = peak.max(peak_mb(report.id()).unwrap_or(0.0));
            if let Some(status) = report.try_wait().unwrap() {
                break status;
            }
            std::thread::sleep(Duration::from_millis(5));
        };
        assert!(status.success());
        let seconds = began.elapsed().as_secs_f64();
        println!("{rounds:>8} {size:>9.0} {seconds:>9.1} {:>10.0} {peak:>8.0}", rounds as f64 / seconds);
    }
}

/// Reads the high-water mark of a process's memory.
fn peak_mb(process: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.trim().strip_suffix(" kB")?.trim().parse::<f64>().ok()? / 1024.0)
}
