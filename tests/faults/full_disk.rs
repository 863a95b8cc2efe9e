//! The disk is full for a while, or does not sync: the system refuses to write to the log of the database (F5).

use super::chance::Chance;
use super::checker::passes;
use super::phones::{Crowd, World};
use super::program::{Program, sqlite_in};
use super::{alone, amount, bound};
use std::sync::atomic::Ordering;
use tempfile::TempDir;

/// How many writes to the log, and how many syncs, laying the league down takes at most.
const LAID_DOWN: (u64, u64) = (3_000, 120);
/// How many writes in turn find no room, and how many syncs fail.
const REFUSED: u64 = 30;

/// Has `strace` refuse a call some times in turn, at a moment that chance chooses after so many.
pub fn refusing(seed: u64, call: &str, error: &str, after: u64) -> String {
    let first = after + Chance::new(seed, 0).below(after / 3);
    format!("inject={call}:error={error}:when={first}..{}", first + REFUSED - 1)
}

#[test]
fn a_disk_that_is_full_or_fails_loses_nothing_and_rounds_come_in_afterwards() {
    alone(|seed| async move {
        let mut acks = 0;
        for n in 0..amount(1, 50) {
            let seed = seed + n as u64;
            let folder = TempDir::new().unwrap();
            let database = sqlite_in(folder.path());
            let log = format!("{}-wal", database.trim_start_matches("sqlite:"));
            let mut chance = Chance::new(seed, 0);
            let seeds = [chance.below(u64::MAX), chance.below(u64::MAX)];
            let full = refusing(seeds[0], "pwrite64", "ENOSPC", LAID_DOWN.0);
            let failing = refusing(seeds[1], "fsync,fdatasync", "EIO", LAID_DOWN.1);
            let calls = "trace=pwrite64,fsync,fdatasync";
            let around = ["strace", "-f", "-P", &log, "-e", calls, "-e", &full, "-e", &failing, "-o", "/dev/null"];
            let mut server = Program::launch(&database, folder.path(), &around);
            server.answers().await;
            let origin = server.origin();
            let world = World::found(&origin, 8, 10, 5).await;
            let crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
            let full = crowd.full.clone();
            let unanswered = crowd.finish().await;
            let full = full.load(Ordering::SeqCst);
            assert!(full > 0, "nobody was told that the disk is full");
            assert!(unanswered > full, "no sync that failed hit anything");
            acks += passes(&world, &database, &origin, folder.path()).await;
            println!(
                "F5: {} times without room and without syncs, {acks} rounds acknowledged; lost or doubled {}",
                n + 1,
                bound(acks)
            );
            server.terminate().await;
        }
    });
}
