//! The log of the server cannot be written: its reader went away or no longer reads, or its disk is full. Meanwhile the
//! database cannot be written for a while either, which the server wants to log.

use super::checker::passes;
use super::full_disk::refusing;
use super::phones::{self, Crowd, World};
use super::program::{LogTo, Program, sqlite_in};
use super::{alone, amount};
use std::sync::atomic::Ordering;
use tempfile::TempDir;

/// How many writes to the log of the database laying the league down takes at most.
const LAID_DOWN: u64 = 3_000;

#[test]
fn a_log_that_cannot_be_written_stops_no_request() {
    alone(|seed| async move {
        for (n, log) in [LogTo::FullDevice, LogTo::PipeThatCloses, LogTo::PipeThatStalls].into_iter().enumerate() {
            let seed = seed + n as u64;
            let folder = TempDir::new().unwrap();
            let database = sqlite_in(folder.path());
            let wal = format!("{}-wal", database.trim_start_matches("sqlite:"));
            let full = refusing(seed, "pwrite64", "ENOSPC", LAID_DOWN);
            let around = ["strace", "-f", "-P", &wal, "-e", "trace=pwrite64", "-e", &full, "-o", "/dev/null"];
            let mut server = Program::launch_logging(&database, folder.path(), &around, log);
            server.answers().await;
            let origin = server.origin();
            let world = World::found(&origin, 8, 10, amount(5, 50)).await;
            let crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
            let full = crowd.full.clone();
            crowd.finish().await;
            assert!(full.load(Ordering::SeqCst) > 0, "{log:?}: nobody was told that the disk is full");
            let acks = passes(&world, &database, &origin, folder.path()).await;
            for path in ["/livez", "/readyz"] {
                let answer = phones::client().get(format!("{origin}{path}")).send().await.unwrap();
                assert_eq!(answer.status(), 200, "{log:?}: {path}");
            }
            let measures = phones::client().get(format!("{origin}/metrics")).send().await.unwrap();
            let measures = measures.text().await.unwrap();
            let told = |name: &str| -> u64 {
                let line = measures.lines().find_map(|line| line.strip_prefix(name)).expect("a measure");
                line.trim().parse().unwrap()
            };
            assert_eq!(told("evenfield_task_failures_total "), 0, "{log:?}");
            let dropped = told("evenfield_log_lines_dropped_total ");
            // A pipe that nobody reads holds some thousand lines, with those that wait.
            assert!(dropped > 0 || log == LogTo::PipeThatStalls, "{log:?}: every line was written");
            println!("{log:?}: {dropped} lines dropped, {acks} rounds acknowledged");
            let (status, _) = server.terminate().await;
            assert!(status.success(), "{log:?}: {status}");
        }
    });
}
