//! Hand-in over HTTP, durable, against a bare program that inserts the same rows in grouped commits.
//!
//! `cargo bench --bench hand_in` prints rounds a second of both and their ratio. Clients, server and database share
//! the machine; the bare program has it for itself.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

#[expect(dead_code, reason = "shared with another bench")]
mod served;

use evenfield::storage::db::Value;
use evenfield::storage::{Database, Store, idempotency, journal, results, rounds};
use evenfield::values;
use served::{Client, Served, processor_seconds};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

const CLIENTS: usize = 64;
const PLAYERS: usize = 400;
const EVENTS: usize = 12;
/// How often all of it is measured.
const TURNS: usize = 3;
/// How many rounds the bare program puts into a commit.
const A_COMMIT: usize = 64;

fn main() {
    if std::env::args().any(|word| word == "--list" || word == "--test") {
        return;
    }
    let mut rates: [Vec<f64>; 5] = Default::default();
    for _ in 0..TURNS {
        let folder = tempfile::tempdir_in(std::env::current_dir().unwrap()).unwrap();
        let (rows, server, weighed) = actix_web::rt::System::new().block_on(over_http(folder.path()));
        assert_eq!(rows.len(), PLAYERS * EVENTS, "nothing is lost or doubled");
        let (raw, all) = tokio::runtime::Runtime::new().unwrap().block_on(async {
            let raw = insert(folder.path(), "raw", &rows, false).await;
            (raw, insert(folder.path(), "all", &rows, true).await)
        });
        println!(
            "over HTTP {server:.0}, weighed after the bell {weighed:.0}, bare {raw:.0}, all rows {all:.0} rounds/s"
        );
        for (kept, rate) in rates.iter_mut().zip([server, weighed, raw, server / raw, server / all]) {
            kept.push(rate);
        }
    }
    let [server, weighed, bare, to_raw, to_all] = rates.map(|mut rates| {
        rates.sort_by(f64::total_cmp);
        rates[TURNS / 2]
    });
    println!("medians of {TURNS} turns; {CLIENTS} clients, 32 putts a round, synchronous=FULL:");
    println!("hand-in over HTTP: {server:.0} rounds/s; evidence, from the last answer on: {weighed:.0} rounds/s");
    println!("of a bare program that inserts the same cards ({bare:.0} rounds/s), {A_COMMIT} a commit: {to_raw:.2}");
    println!("of one that inserts all rows of a hand-in, with figures, journal and kept answers: {to_all:.2}");
}

/// Returns the rows that were stored, and rounds a second: handed in, and weighed after the last answer.
async fn over_http(folder: &Path) -> (Vec<Rows>, f64, f64) {
    let served = Served::start(folder, PLAYERS, EVENTS).await;
    let (events, members) = (&served.field.events, &served.field.members);
    let pairs = events.iter().flat_map(|event| members.iter().map(move |member| (*event, *member)));
    let requests: Vec<_> = pairs.enumerate().map(|(n, (event, member))| served.hand_in(event, member, n)).collect();
    let requests = Arc::new(requests);
    let (next, total, address) = (Arc::new(AtomicUsize::new(0)), requests.len(), served.address);
    let (cost, commits) = (processor_seconds(), served.app.leagues.writer.commits());
    let began = Instant::now();
    let clients: Vec<_> = (0..CLIENTS)
        .map(|_| {
            let (requests, next) = (Arc::clone(&requests), Arc::clone(&next));
            tokio::spawn(async move {
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
    let (cost, commits) = (processor_seconds() - cost, served.app.leagues.writer.commits() - commits);
    println!(
        "{:.0} µs of processor time a round, {:.0} rounds a commit",
        cost * 1e6 / total as f64,
        total as f64 / commits as f64
    );
    let bell = Instant::now();
    served.app.leagues.all_weighed().await.unwrap();
    let weighed = total as f64 / bell.elapsed().as_secs_f64();
    let rows = stored(folder, &served).await;
    served.stop();
    (rows, rate, weighed)
}

/// The rows of a hand-in.
struct Rows {
    round: Vec<Value>,
    holes: Vec<Value>,
    putts: Vec<Value>,
    result: Vec<Value>,
    journal: Vec<Value>,
    reply: Vec<Value>,
}

/// Reads back what the server stored.
async fn stored(folder: &Path, served: &Served) -> Vec<Rows> {
    let database = Database::open(&Store::File(folder.join("server.sqlite"))).await.unwrap();
    let conn = &mut database.reader().await.unwrap();
    let league = served.field.league;
    let mut entries = journal::list(conn, league, 0, i64::MAX).await.unwrap().into_iter();
    let sql = "SELECT account_id, operation, key, body_hash, reply, etag, location FROM idempotency_keys";
    let mut replies = conn.rows(sql, vec![]).await.unwrap().into_iter();
    let mut rows = Vec::new();
    for member in &served.field.members {
        for result in results::of_member(conn, league, *member).await.unwrap() {
            let row = rounds::get(conn, result.entry.id).await.unwrap().unwrap();
            let card = rounds::whole(conn, &row).await.unwrap();
            let (holes, putts) = rounds::card_values(row.league, row.id, &card.holes);
            let entry = entries.next().unwrap();
            let reply = replies.next().unwrap();
            let text = |name: &str| reply.get::<String>(name).unwrap();
            let kept = idempotency::Reply {
                status: 201,
                body: text("reply"),
                etag: Some(text("etag")),
                location: Some(text("location")),
                is_replay: false,
            };
            let hash = reply.get::<Vec<u8>>("body_hash").unwrap().try_into().unwrap();
            let (account, key) = (reply.id("account_id").unwrap(), reply.id("key").unwrap());
            rows.push(Rows {
                round: rounds::row_values(&row),
                holes,
                putts,
                result: results::row_values(league, served.field.season, &result),
                journal: values![league, entry.n, entry.text, entry.hash],
                reply: idempotency::row_values(account, &text("operation"), key, hash, &kept, row.received_at),
            });
        }
    }
    rows
}

/// Inserts rows with nothing around them, over one connection: the cards alone, or all that a hand-in stores.
async fn insert(folder: &Path, name: &str, rows: &[Rows], all: bool) -> f64 {
    let database = Database::open(&Store::File(folder.join(format!("{name}.sqlite")))).await.unwrap();
    let mut conn = database.writer().await.unwrap();
    conn.run("PRAGMA foreign_keys = OFF", vec![]).await.unwrap();
    let cost = processor_seconds();
    let began = Instant::now();
    for group in rows.chunks(A_COMMIT) {
        let of = |part: fn(&Rows) -> &Vec<Value>| group.iter().flat_map(part).cloned().collect::<Vec<Value>>();
        conn.begin_write().await.unwrap();
        rounds::insert_rows(&mut conn, of(|rows| &rows.round)).await.unwrap();
        rounds::insert_cards(&mut conn, of(|rows| &rows.holes), of(|rows| &rows.putts)).await.unwrap();
        if all {
            results::insert_rows(&mut conn, of(|rows| &rows.result)).await.unwrap();
            journal::insert_rows(&mut conn, of(|rows| &rows.journal)).await.unwrap();
            idempotency::insert_rows(&mut conn, of(|rows| &rows.reply)).await.unwrap();
        }
        conn.commit().await.unwrap();
    }
    println!(
        "bare, {name}: {:.0} µs of processor time a round",
        (processor_seconds() - cost) * 1e6 / rows.len() as f64
    );
    rows.len() as f64 / began.elapsed().as_secs_f64()
}
