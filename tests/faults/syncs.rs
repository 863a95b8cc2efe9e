//! What the system saw: between a request and its acknowledgement the log of the database was synced, and the file that says
//! what is acknowledged was written (F4).

use super::checker::{Memory, export, faults};
use super::phones::{Crowd, World};
use super::program::{Program, sqlite_in};
use super::{alone, amount, bound};
use std::collections::HashMap;
use tempfile::TempDir;

/// What a trace holds.
#[derive(Debug, Default, PartialEq)]
struct Seen {
    acknowledged: usize,
    /// Acknowledged without such a call on the file since the request.
    unsynced: usize,
}

/// A file by the end of its name, and the calls on it that come before a round is acknowledged.
type Due = (&'static str, &'static [&'static str]);

const LOG_SYNCED: Due = ("-wal>", &["fdatasync", "fsync"]);
const NUMBER_WRITTEN: Due = (".acknowledged>", &["write"]);

/// A socket's request: how many such calls had begun before it was read.
type Asked = usize;

/// Follows a trace: for each acknowledged round a call that is due must have begun after its request was read, and have
/// ended before the answer was written. Lines are `PID call(file<path>, …) = result`; a call that another thread's
/// interrupts comes as `… <unfinished ...>` and `<... call resumed>`.
fn follow(trace: &str, (file, calls): Due) -> Seen {
    let (mut begun, mut ended) = (0, 0);
    let mut seen = Seen::default();
    let mut asked: HashMap<String, Asked> = HashMap::new();
    // Which sync, or which read of a request, a thread is in.
    let mut syncing: HashMap<&str, usize> = HashMap::new();
    let mut reading: HashMap<&str, (String, usize)> = HashMap::new();
    for line in trace.lines() {
        let Some((thread, call)) = line.split_once(' ') else { continue };
        let call = call.trim_start();
        let socket =
            || call.split_once('<').and_then(|(_, rest)| rest.split_once("]>")).map(|(name, _)| name.to_owned());
        let is_over = !call.contains("<unfinished ...>");
        if let Some(rest) = call.strip_prefix("<... ") {
            if let Some(sync) = syncing.remove(thread) {
                ended = ended.max(sync);
            } else if let Some((socket, before)) = reading.remove(thread)
                && rest.contains("\"POST /api/v1/events/")
            {
                asked.insert(socket, before);
            }
        } else if call.contains(file) && calls.iter().any(|due| call.starts_with(&format!("{due}("))) {
            begun += 1;
            if is_over {
                ended = ended.max(begun);
            } else {
                syncing.insert(thread, begun);
            }
        } else if call.starts_with("recvfrom(") || call.starts_with("read(") {
            let Some(socket) = socket() else { continue };
            if !is_over {
                reading.insert(thread, (socket, begun));
            } else if call.contains("\"POST /api/v1/events/") {
                asked.insert(socket, begun);
            }
        } else if call.contains("\"HTTP/1.1 201 Created") {
            let Some(before) = socket().and_then(|socket| asked.remove(&socket)) else { continue };
            seen.acknowledged += 1;
            seen.unsynced += usize::from(ended <= before);
        }
    }
    seen
}

#[test]
fn every_acknowledgement_follows_a_sync_of_the_log() {
    alone(|seed| async move {
        let commits = amount(160, 1_000);
        let folder = TempDir::new().unwrap();
        let trace = folder.path().join("trace").display().to_string();
        let database = sqlite_in(folder.path());
        let calls = "trace=fdatasync,fsync,pwrite64,recvfrom,read,sendto,write,writev";
        let around = ["strace", "-f", "-yy", "-s", "40", "-e", calls, "-o", &trace];
        let mut server = Program::launch(&database, folder.path(), &around);
        server.answers().await;
        let origin = server.origin();
        let world = World::found(&origin, 4, 10, commits / 40).await;
        Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed).finish().await;
        server.terminate().await;
        let trace = std::fs::read_to_string(trace).unwrap();
        for due in [LOG_SYNCED, NUMBER_WRITTEN] {
            let seen = follow(&trace, due);
            assert_eq!(seen.acknowledged, commits, "acknowledged rounds in the trace");
            assert_eq!(seen.unsynced, 0, "{seen:?}: acknowledged before {due:?}");
            // The control: of a server that never did it, every answer would be found out.
            let never = trace.lines().filter(|line| !line.contains("sync") && !line.contains(NUMBER_WRITTEN.0));
            let never: String = never.map(|line| format!("{line}\n")).collect();
            let control = follow(&never, due);
            assert_eq!((control.acknowledged, control.unsynced), (seen.acknowledged, seen.acknowledged));
        }
        let found = faults(&Memory::read(folder.path()), &export(&database, &world.league).await);
        assert!(found.is_empty(), "{found:#?}");
        println!("F4: {commits} rounds acknowledged; unsynced {}", bound(commits));
    });
}

#[test]
fn the_trace_tells_early_answers_from_late_ones() {
    let asks = "7 recvfrom(9<TCP:[a->b]>, \"POST /api/v1/events/x\", 4096, 0, NULL, NULL) = 900\n";
    let syncs = "8 fdatasync(5</x/league.sqlite-wal>) = 0\n";
    let answers = "7 sendto(9<TCP:[a->b]>, \"HTTP/1.1 201 Created\\r\\n\", 500, 0, NULL, 0) = 500\n";
    let unsynced = |lines: &[&str]| {
        let seen = follow(&lines.concat(), LOG_SYNCED);
        assert_eq!(seen.acknowledged, 1);
        seen.unsynced
    };
    assert_eq!(unsynced(&[asks, syncs, answers]), 0);
    assert_eq!(unsynced(&[syncs, asks, answers]), 1, "the sync before the request is not its own");
    assert_eq!(unsynced(&[asks, answers, syncs]), 1, "the sync after the answer is too late");
    let other = "8 fdatasync(5</x/league.sqlite>) = 0\n";
    assert_eq!(unsynced(&[asks, other, answers]), 1, "another file is synced");
    let (begins, ends) = ("8 fdatasync(5</x/league.sqlite-wal> <unfinished ...>\n", "8 <... fdatasync resumed>) = 0\n");
    assert_eq!(unsynced(&[asks, begins, ends, answers]), 0);
    assert_eq!(unsynced(&[begins, asks, ends, answers]), 1, "a sync that began before the request is not its own");
    assert_eq!(unsynced(&[asks, begins, answers, ends]), 1, "a sync that goes on is too late");
}
