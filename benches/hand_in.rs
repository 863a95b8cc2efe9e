//! Hand-in over HTTP, durable, against a bare program that inserts the same rows in grouped commits.
//!
//! `cargo bench --bench hand_in` prints rounds a second of both and their ratio. Clients, server and database share
//! the machine; the bare program has it for itself.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

mod bare;
#[expect(dead_code, reason = "shared with another bench")]
mod served;

use bare::{Part, TURNS, groups, insert, medians, stored};
use evenfield::storage::together::Rows;
use evenfield::storage::{Database, Store};
use served::{Client, Served, crowd, hand_in, processor_seconds};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

const CLIENTS: usize = 64;
const PLAYERS: usize = 400;
const EVENTS: usize = 12;

fn main() {
    if std::env::args().any(|word| word == "--list" || word == "--test") {
        return;
    }
    let [server, weighed, bare, to_raw, to_all] = medians(|| {
        let folder = tempfile::tempdir_in(std::env::current_dir().unwrap()).unwrap();
        let (rows, server, weighed) = actix_web::rt::System::new().block_on(over_http(folder.path()));
        assert_eq!(rows.len(), PLAYERS * EVENTS, "nothing is lost or doubled");
        let (raw, all) = tokio::runtime::Runtime::new().unwrap().block_on(async {
            (alone(folder.path(), Part::Cards, &rows).await, alone(folder.path(), Part::All, &rows).await)
        });
        println!(
            "over HTTP {server:.0}, weighed after the bell {weighed:.0}, bare {raw:.0}, all rows {all:.0} rounds/s"
        );
        [server, weighed, raw, server / raw, server / all]
    });
    println!("medians of {TURNS} turns; {CLIENTS} clients, 32 putts a round, synchronous=FULL:");
    println!("hand-in over HTTP: {server:.0} rounds/s; evidence, from the last answer on: {weighed:.0} rounds/s");
    println!(
        "of a bare program that inserts the same cards ({bare:.0} rounds/s), {} a commit: {to_raw:.2}",
        bare::A_COMMIT
    );
    println!("of one that inserts all rows of a hand-in, with figures, journal and kept answers: {to_all:.2}");
}

/// Returns the rows that were stored, and rounds a second: handed in, and weighed after the last answer.
async fn over_http(folder: &Path) -> (Vec<Rows>, f64, f64) {
    let served = Served::start(folder, PLAYERS, EVENTS).await;
    let (events, members) = (&served.field.events, &served.field.members);
    let pairs = events.iter().flat_map(|event| members.iter().map(move |member| (*event, *member)));
    let requests: Vec<_> =
        pairs.enumerate().map(|(n, (event, member))| hand_in(&served.token, event, member, n)).collect();
    let requests = Arc::new(requests);
    let (next, total, address) = (Arc::new(AtomicUsize::new(0)), requests.len(), served.address);
    let (cost, commits) = (processor_seconds(), served.app.leagues.writer.commits());
    let crowd = crowd();
    let began = Instant::now();
    let clients: Vec<_> = (0..CLIENTS)
        .map(|_| {
            let (requests, next) = (Arc::clone(&requests), Arc::clone(&next));
            crowd.spawn(async move {
                let mut client = Client::new(address).await;
                while let Some(request) = requests.get(next.fetch_add(1, Ordering::Relaxed)) {
                    assert_eq!(client.ask(request).await.status, 201);
                }
            })
        })
        .collect();
    for client in clients {
        client.await.unwrap();
    }
    let rate = total as f64 / began.elapsed().as_secs_f64();
    crowd.shutdown_background();
    let (cost, commits) = (processor_seconds() - cost, served.app.leagues.writer.commits() - commits);
    println!(
        "{:.0} µs of processor time a round, {:.0} rounds a commit",
        cost * 1e6 / total as f64,
        total as f64 / commits as f64
    );
    let bell = Instant::now();
    served.app.leagues.all_weighed().await.unwrap();
    let weighed = total as f64 / bell.elapsed().as_secs_f64();
    let database = Database::open(&Store::File(folder.join("server.sqlite"))).await.unwrap();
    let rows = stored(&database, std::slice::from_ref(&served.field)).await.pop().unwrap();
    served.stop();
    (rows, rate, weighed)
}

/// Inserts rows into a new file with nothing around them, over one connection; returns rounds a second.
async fn alone(folder: &Path, part: Part, rows: &[Rows]) -> f64 {
    let database = Database::open(&Store::File(folder.join(format!("{part:?}.sqlite")))).await.unwrap();
    let groups = groups(rows, part, bare::A_COMMIT);
    let mut conn = database.writer().await.unwrap();
    conn.run("PRAGMA foreign_keys = OFF", vec![]).await.unwrap();
    let (cost, began) = (processor_seconds(), Instant::now());
    insert(&mut conn, groups).await;
    println!(
        "bare, {part:?}: {:.0} µs of processor time a round",
        (processor_seconds() - cost) * 1e6 / rows.len() as f64
    );
    rows.len() as f64 / began.elapsed().as_secs_f64()
}
