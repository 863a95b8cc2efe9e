//! Load: how long a hand-in takes at 70 % of what the server bears, what becomes of three times as much, how fast a
//! season's table is read meanwhile, and how much memory it takes.
//!
//! `cargo bench --bench load` prints all of it, `-- hand-ins`, `-- tables` and `-- corrections` a part. Clients, server and database share
//! the machine.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

#[expect(dead_code, reason = "shared with another bench")]
mod served;

use actix_web::web::Bytes;
use actix_web::{HttpResponse, HttpServer};
use evenfield::domain::ids::{EventId, MemberId};
use evenfield::storage::results;
use served::{Answer, Client, Served, hand_in};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

const PLAYERS: usize = 200;
const EVENTS: usize = 500;
/// The events of the season whose table is read.
const NIGHTS: usize = 30;
/// How many rounds a second come in while it is read.
const MEANWHILE: f64 = 250.0;
/// How many sockets stay open.
const SOCKETS: usize = 64;
/// How many sockets bring the excess.
const CROWD: usize = 900;

fn main() {
    if std::env::args().any(|word| word == "--list" || word == "--test") {
        return;
    }
    let folder = tempfile::tempdir_in(std::env::current_dir().unwrap()).unwrap();
    let asked: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let is_asked = |part: &str| asked.is_empty() || asked.iter().any(|word| word == part);
    actix_web::rt::System::new().block_on(async {
        if is_asked("hand-ins") {
            hand_ins(&folder.path().join("first")).await;
        }
        if is_asked("tables") {
            tables(&folder.path().join("second")).await;
        }
        if is_asked("corrections") {
            corrections(&folder.path().join("third")).await;
        }
    });
}

/// Pairs of event and player without a card yet.
struct Pairs {
    all: Vec<(EventId, MemberId)>,
    next: AtomicUsize,
}

impl Pairs {
    fn of(served: &Served) -> Arc<Self> {
        let (events, members) = (&served.field.events, &served.field.members);
        let all = events.iter().flat_map(|event| members.iter().map(|member| (*event, *member))).collect();
        Arc::new(Self { all, next: AtomicUsize::new(0) })
    }

    fn take(&self) -> Option<(usize, EventId, MemberId)> {
        let n = self.next.fetch_add(1, Ordering::Relaxed);
        self.all.get(n).map(|(event, member)| (n, *event, *member))
    }
}

async fn hand_ins(folder: &Path) {
    std::fs::create_dir(folder).unwrap();
    let served = Arc::new(Served::start(folder, PLAYERS, EVENTS).await);
    println!("memory of a server that has done nothing: {:.0} MB", resident_mb());
    let pairs = Pairs::of(&served);
    let mut stored = 0;

    let rate = flat_out(&served, &pairs, Duration::from_secs(5), &mut stored).await;
    println!("hand-ins flat out, {SOCKETS} sockets: {rate:.0} rounds/s");
    settle(&served).await;

    let Paced { mut took, .. } = paced(&served, &pairs, 0.7 * rate, SOCKETS, Duration::from_secs(10)).await;
    stored += took.len();
    took.sort_unstable();
    let at = |share: f64| took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1000.0;
    let (median, p99) = (at(0.5), at(0.99));
    println!("at 70 %: median {median:.1} ms, p99 {p99:.1} ms, {:.1} times the median", p99 / median);
    settle(&served).await;

    let Paced { took, refused, asked, .. } = paced(&served, &pairs, 3.0 * rate, CROWD, Duration::from_secs(5)).await;
    println!(
        "at three times as much ({asked} in 5 s, {CROWD} sockets): {} stored, {refused} answered 503 with Retry-After",
        took.len()
    );
    stored += took.len();
    let database = &served.app.leagues.database;
    let mut count = 0;
    for member in &served.field.members {
        let mut conn = database.reader().await.unwrap();
        count += results::of_member(&mut conn, served.field.league, *member).await.unwrap().len();
    }
    assert_eq!(count, stored, "what was acknowledged is there, once");
    println!("nothing is lost or doubled: {stored} acknowledged, {count} stored");
    settle(&served).await;

    let mut more = 0;
    flat_out(&served, &pairs, Duration::from_secs(600), &mut more).await;
    println!("memory after {} rounds, evidence still to come: {:.0} MB", pairs.all.len(), resident_mb());

    settle(&served).await;
    Arc::into_inner(served).unwrap().stop();
}

async fn tables(folder: &Path) {
    std::fs::create_dir(folder).unwrap();
    let served = Arc::new(Served::start(folder, PLAYERS, NIGHTS).await);
    let pairs = Pairs::of(&served);
    let half = Arc::new(Pairs { all: pairs.all[..pairs.all.len() / 2].to_vec(), next: AtomicUsize::new(0) });
    flat_out(&served, &half, Duration::from_secs(600), &mut 0).await;
    pairs.next.store(half.all.len(), Ordering::Relaxed);
    settle(&served).await;
    read_over_and_over(&served, &pairs).await;
    Arc::into_inner(served).unwrap().stop();
}

/// How long hand-ins take while an organizer corrects cards of a long season, and right after a start.
async fn corrections(folder: &Path) {
    for (players, nights) in [(150, 40), (200, 140)] {
        let folder = folder.join(players.to_string());
        std::fs::create_dir_all(&folder).unwrap();
        let served = Arc::new(Served::start(&folder, players, nights).await);
        let pairs = Pairs::of(&served);
        let most = pairs.all.len() * 6 / 7;
        let first = Arc::new(Pairs { all: pairs.all[..most].to_vec(), next: AtomicUsize::new(0) });
        let mut stored = 0;
        flat_out(&served, &first, Duration::from_secs(3600), &mut stored).await;
        pairs.next.store(most, Ordering::Relaxed);
        settle(&served).await;
        let long = Duration::from_secs(8);
        let tell = |what: &str, mut took: Vec<Duration>| {
            took.sort_unstable();
            let at = |share: f64| took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1000.0;
            let (median, p99, most) = (at(0.5), at(0.99), at(1.0));
            println!("{stored} rounds, {what}: hand-ins median {median:.1} ms, p99 {p99:.1} ms, slowest {most:.0} ms");
        };
        tell("nobody corrects", paced(&served, &pairs, CORRECTED, SOCKETS, long).await.took);
        let stop = Arc::new(AtomicBool::new(false));
        let corrector = tokio::spawn(correct(Arc::clone(&served), Arc::clone(&stop)));
        tell("an organizer corrects", paced(&served, &pairs, CORRECTED, SOCKETS, long).await.took);
        stop.store(true, Ordering::Relaxed);
        let mut took = corrector.await.unwrap();
        took.sort_unstable();
        println!("{} corrections meanwhile, the median took {:.0?}", took.len(), took[took.len() / 2]);
        settle(&served).await;
        Arc::into_inner(served).unwrap().stop();
    }
}

/// How many rounds a second come in while cards are corrected.
const CORRECTED: f64 = 60.0;

/// Corrects cards of the first event, two a second at most; returns how long each took.
async fn correct(served: Arc<Served>, stop: Arc<AtomicBool>) -> Vec<Duration> {
    let mut took = Vec::new();
    let mut client = Client::new(served.address).await;
    let caller = served.caller();
    let event = served.field.events[0];
    let rounds = served.app.leagues.round_ids_of_event(caller, event, 1000).await.unwrap();
    for (n, (member, round)) in rounds.into_iter().enumerate() {
        if stop.load(Ordering::Relaxed) {
            break;
        }
        let (stored, version) = served.app.leagues.round(caller, round).await.unwrap();
        let request = served::correction(&served.token, round, version, stored.client_round_id, member, n + 7);
        let began = Instant::now();
        let answer = client.ask(&request).await;
        assert_eq!(answer.status, 200, "{}", answer.head);
        took.push(began.elapsed());
        tokio::time::sleep(Duration::from_millis(500)).await;
    }
    took
}

/// Waits until evidence is complete and the server has nothing to do.
async fn settle(served: &Served) {
    served.app.leagues.all_weighed().await.unwrap();
}

/// Hands in as fast as it goes; returns rounds a second.
async fn flat_out(served: &Arc<Served>, pairs: &Arc<Pairs>, most: Duration, stored: &mut usize) -> f64 {
    let began = Instant::now();
    let clients: Vec<_> = (0..SOCKETS)
        .map(|_| {
            let (served, pairs) = (Arc::clone(served), Arc::clone(pairs));
            tokio::spawn(async move {
                let (mut client, mut done) = (Client::new(served.address).await, 0);
                while began.elapsed() < most {
                    let Some((n, event, member)) = pairs.take() else { break };
                    assert_eq!(client.ask(&hand_in(&served.token, event, member, n)).await.status, 201);
                    done += 1;
                }
                done
            })
        })
        .collect();
    let mut done = 0;
    for client in clients {
        done += client.await.unwrap();
    }
    *stored += done;
    done as f64 / began.elapsed().as_secs_f64()
}

/// What came of a steady load.
#[derive(Default)]
struct Paced {
    asked: usize,
    took: Vec<Duration>,
    refused: usize,
}

/// Hands in at a steady rate, whether or not answers came: each socket has its own instants. A round's time counts from
/// the instant at which it was due.
async fn paced(served: &Arc<Served>, pairs: &Arc<Pairs>, rate: f64, sockets: usize, long: Duration) -> Paced {
    let began = Instant::now() + Duration::from_millis(200);
    let gap = Duration::from_secs_f64(sockets as f64 / rate);
    let clients: Vec<_> = (0..sockets)
        .map(|socket| {
            let (served, pairs) = (Arc::clone(served), Arc::clone(pairs));
            tokio::spawn(async move {
                let mut client = Client::new(served.address).await;
                let mut paced = Paced::default();
                let mut due = began + gap.mul_f64(socket as f64 / sockets as f64);
                while due < began + long {
                    let Some((n, event, member)) = pairs.take() else { break };
                    let request = hand_in(&served.token, event, member, n);
                    tokio::time::sleep_until(due.into()).await;
                    let Answer { status, head, .. } = client.ask(&request).await;
                    paced.asked += 1;
                    match status {
                        201 => paced.took.push(due.elapsed()),
                        503 => {
                            assert!(head.contains("retry-after: "), "{head}");
                            paced.refused += 1;
                        }
                        other => panic!("{other}"),
                    }
                    due += gap;
                }
                paced
            })
        })
        .collect();
    let mut all = Paced::default();
    for client in clients {
        let paced = client.await.unwrap();
        all.asked += paced.asked;
        all.took.extend(paced.took);
        all.refused += paced.refused;
    }
    all
}

/// Reads a season's table over and over while rounds come in; then what the same server never changes; then a reply as
/// long as the table from a server that has nothing else to do.
async fn read_over_and_over(served: &Arc<Served>, pairs: &Arc<Pairs>) {
    let table = format!("/api/v1/seasons/{}/standings", served.field.season);
    let mut length = 0;
    for (what, path) in [
        ("the season's table", table.as_str()),
        ("the interface's description, by the same server", "/api/v1/openapi.json"),
        ("a reply of the table's length, by a plain server", "/"),
    ] {
        let address = if path == "/" { never_changes(length).await } else { served.address };
        let token = &served.token;
        let request = format!("GET {path} HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer {token}\r\n\r\n");
        let (stop, read) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
        let bytes = Arc::new(AtomicUsize::new(0));
        let readers: Vec<_> = (0..SOCKETS)
            .map(|_| {
                let (stop, read, bytes) = (Arc::clone(&stop), Arc::clone(&read), Arc::clone(&bytes));
                let request = request.clone();
                tokio::spawn(async move {
                    let mut client = Client::new(address).await;
                    while !stop.load(Ordering::Relaxed) {
                        let answer = client.ask(request.as_bytes()).await;
                        assert_eq!(answer.status, 200);
                        read.fetch_add(1, Ordering::Relaxed);
                        bytes.store(answer.length, Ordering::Relaxed);
                    }
                })
            })
            .collect();
        // The cards last for three times as long.
        let long = Duration::from_secs(4);
        let came = paced(served, pairs, MEANWHILE, SOCKETS, long).await;
        stop.store(true, Ordering::Relaxed);
        for reader in readers {
            reader.await.unwrap();
        }
        println!(
            "{what} ({} kB), {SOCKETS} readers, while {:.0} rounds/s come in: {:.0} a second",
            bytes.load(Ordering::Relaxed) / 1000,
            came.took.len() as f64 / long.as_secs_f64(),
            read.load(Ordering::Relaxed) as f64 / long.as_secs_f64()
        );
        length = length.max(bytes.load(Ordering::Relaxed));
    }
}

/// Serves a text of so many bytes to whatever is asked, by the same library as our server; returns where.
async fn never_changes(length: usize) -> SocketAddr {
    let text = Bytes::from(vec![b' '; length]);
    let server = HttpServer::new(move || {
        let text = text.clone();
        let reply = move || std::future::ready(HttpResponse::Ok().content_type("application/json").body(text.clone()));
        actix_web::App::new().default_service(actix_web::web::to(reply))
    });
    let server = server.disable_signals().bind("127.0.0.1:0").unwrap();
    let address = server.addrs()[0];
    tokio::spawn(server.run());
    address
}

/// Returns the memory of this process, server and clients together.
fn resident_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.and_then(|line| line.trim().split(' ').next()?.parse::<f64>().ok()).map_or(f64::NAN, |kb| kb / 1000.0)
}
