//! One client does not stop the server: wide files, bodies that inflate, sockets that keep it waiting, batches without end.
//!
//! Every case runs the real program. Clients that mean ill come from 127.0.0.2; whoever asks meanwhile whether the server
//! lives comes from 127.0.0.1, as another customer would.

use super::phones::World;
use super::program::{Program, sqlite_in};
use super::{alone, amount};
use flate2::Compression;
use flate2::write::GzEncoder;
use std::io::{ErrorKind, Write};
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};
use tokio::task::{JoinHandle, JoinSet};

/// More than any of this takes on a slow machine, and far less than for ever.
const PATIENCE: Duration = Duration::from_secs(90);

/// Opens a socket from another address of this machine.
async fn from_elsewhere(address: &str) -> std::io::Result<TcpStream> {
    let socket = TcpSocket::new_v4()?;
    socket.bind("127.0.0.2:0".parse().unwrap())?;
    socket.connect(address.parse::<SocketAddr>().unwrap()).await
}

/// Asks all the time whether the server lives.
struct Watch {
    stop: Arc<AtomicBool>,
    asking: JoinHandle<(usize, Duration)>,
}

impl Watch {
    fn begin(address: String) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let is_over = Arc::clone(&stop);
        let asking = tokio::spawn(async move {
            let (mut asked, mut longest) = (0, Duration::ZERO);
            // Once at least, however soon it ends.
            loop {
                let began = Instant::now();
                let mut socket = TcpStream::connect(&address).await.unwrap();
                let request = format!("GET /livez HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
                socket.write_all(request.as_bytes()).await.unwrap();
                let mut answer = Vec::new();
                socket.read_to_end(&mut answer).await.unwrap();
                assert!(answer.starts_with(b"HTTP/1.1 200"), "{}", String::from_utf8_lossy(&answer));
                (asked, longest) = (asked + 1, longest.max(began.elapsed()));
                if is_over.load(Ordering::SeqCst) {
                    break (asked, longest);
                }
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
        });
        Self { stop, asking }
    }

    /// Ends; prints how long the longest answer took, which must not be long.
    async fn end(self, meanwhile: &str) {
        self.stop.store(true, Ordering::SeqCst);
        let (asked, longest) = self.asking.await.unwrap();
        println!("{meanwhile}: {asked} times asked whether it lives, the longest took {} ms", longest.as_millis());
        assert!(longest < Duration::from_secs(20), "{meanwhile}: an answer took {longest:?}");
    }
}

/// A request with a body, up to its blank line.
fn head(address: &str, path: &str, token: &str, more: &str) -> String {
    let bearer = if token.is_empty() { String::new() } else { format!("Authorization: Bearer {token}\r\n") };
    format!("POST /api/v1{path} HTTP/1.1\r\nHost: {address}\r\n{bearer}{more}\r\n")
}

/// Sends a whole request; returns the status of the answer.
async fn status_of(address: String, request: Vec<u8>) -> u16 {
    let mut socket = from_elsewhere(&address).await.unwrap();
    // The server may answer, and close, before it has read all.
    let _ = socket.write_all(&request).await;
    let mut start = [0; 12];
    match socket.read_exact(&mut start).await {
        Ok(_) => String::from_utf8_lossy(&start[9..]).parse().unwrap(),
        Err(_) => 0,
    }
}

#[test]
fn a_file_of_very_many_columns_holds_nobody_up() {
    alone(|_| async {
        let folder = TempDir::new().unwrap();
        let server = Program::start(&sqlite_in(folder.path()), folder.path()).await;
        let world = World::found(&server.origin(), 1, 1, 1).await;
        let token = world.token(&server.origin()).await;
        let path = format!("/leagues/{}/rosters", world.league);
        let names: Vec<String> = (0..150_000).map(|n| format!("c{n}")).collect();
        let wide = names.join(",");
        let tall = format!("display_name\n{}", "Anyone\n".repeat(10_000));
        for (name, body, due) in [("150,000 columns", wide, 422), ("10,000 lines", tall, 422)] {
            let watch = Watch::begin(server.address());
            let began = Instant::now();
            let mut sent = JoinSet::new();
            for _ in 0..amount(4, 16) {
                let key = uuid::Uuid::new_v4();
                let more =
                    format!("Content-Type: text/csv\r\nIdempotency-Key: {key}\r\nContent-Length: {}\r\n", body.len());
                sent.spawn(status_of(
                    server.address(),
                    (head(&server.address(), &path, &token, &more) + &body).into_bytes(),
                ));
            }
            let answers = sent.join_all().await;
            println!("{name}: {} rosters answered in {} ms", answers.len(), began.elapsed().as_millis());
            assert!(answers.iter().all(|status| *status == due), "{name}: {answers:?}");
            watch.end(name).await;
        }
    });
}

#[test]
fn bodies_that_inflate_take_no_more_memory_than_others() {
    alone(|_| async {
        let folder = TempDir::new().unwrap();
        let server = Program::start(&sqlite_in(folder.path()), folder.path()).await;
        let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
        for _ in 0..200 {
            encoder.write_all(&[b' '; 1 << 20]).unwrap();
        }
        let bomb = encoder.finish().unwrap();
        let headers = "Content-Type: application/json\r\nContent-Encoding: gzip\r\n";
        let request = head(&server.address(), "/sessions", "", &format!("{headers}Content-Length: {}\r\n", bomb.len()));
        let request = [request.as_bytes(), &bomb].concat();
        let before = server.most_resident_kib();
        let watch = Watch::begin(server.address());
        let mut sent = JoinSet::new();
        for _ in 0..amount(20, 60) {
            sent.spawn(status_of(server.address(), request.clone()));
        }
        let answers = sent.join_all().await;
        // A client that still sends when the connection is closed may not get to see the answer.
        assert!(answers.iter().all(|status| matches!(status, 413 | 0)), "{answers:?}");
        assert!(answers.contains(&413));
        watch.end("bodies that inflate").await;
        let more = server.most_resident_kib() - before;
        println!("{} bodies of {} bytes that inflate to 200 MiB: {more} KiB more memory", answers.len(), bomb.len());
        assert!(more < 100 * 1024, "{more} KiB more");
    });
}

/// How a socket keeps a server waiting.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Slow {
    Silent,
    Head,
    SecondHead,
    Body,
    ChunkedBody,
    /// Sends a body that is refused unread, and goes on.
    RefusedBody,
}

/// Opens a slow socket and sends a byte a second; returns how long it was open, and how long after the first byte of the
/// answer to what it kept back.
async fn drip(address: String, slow: Slow) -> (Slow, Duration, Option<Duration>) {
    let began = Instant::now();
    let Ok(mut socket) = from_elsewhere(&address).await else { return (slow, Duration::ZERO, None) };
    let json = "Content-Type: application/json\r\n";
    let first = match slow {
        Slow::Silent => String::new(),
        Slow::Head => "GET /livez HTTP/1.1\r\nX-Slow: ".into(),
        Slow::SecondHead => format!("GET /livez HTTP/1.1\r\nHost: {address}\r\n\r\nGET /livez HTTP/1.1\r\nX-Slow: "),
        Slow::Body => head(&address, "/sessions", "", &format!("{json}Content-Length: 60000\r\n")),
        Slow::ChunkedBody => head(&address, "/sessions", "", &format!("{json}Transfer-Encoding: chunked\r\n")),
        Slow::RefusedBody => {
            head(&address, "/sessions", "", "Content-Type: text/plain\r\nTransfer-Encoding: chunked\r\n")
        }
    };
    let _ = socket.write_all(first.as_bytes()).await;
    let dripped: &[u8] = match slow {
        Slow::Silent => b"",
        Slow::ChunkedBody | Slow::RefusedBody => b"1\r\n \r\n",
        _ => b" ",
    };
    let (mut answered, mut buffer) = (None, [0; 4096]);
    loop {
        match tokio::time::timeout(Duration::from_secs(1), socket.read(&mut buffer)).await {
            Ok(Ok(0)) => break,
            Ok(Ok(_)) => answered = Some(Instant::now()),
            Ok(Err(error)) if error.kind() == ErrorKind::Interrupted => {}
            Ok(Err(_)) => break,
            // Nothing was read in this second, so it is time for the next byte.
            Err(_) if socket.write_all(dripped).await.is_err() => break,
            Err(_) => assert!(began.elapsed() < PATIENCE, "{slow:?}: still open after {:?}", began.elapsed()),
        }
    }
    (slow, began.elapsed(), answered.map(|answered| answered.elapsed()))
}

#[test]
fn sockets_that_keep_the_server_waiting_are_closed() {
    alone(|_| async {
        let folder = TempDir::new().unwrap();
        // Few descriptors, so that sockets that stay open would leave none for anybody else.
        let few = ["sh", "-c", "ulimit -n 256; exec \"$@\"", "sh"];
        let mut server = Program::launch(&sqlite_in(folder.path()), folder.path(), &few);
        server.answers().await;
        let watch = Watch::begin(server.address());
        let before = server.descriptors();
        let kinds = [Slow::ChunkedBody, Slow::Body, Slow::SecondHead, Slow::Head, Slow::RefusedBody, Slow::Silent];
        let mut sockets = JoinSet::new();
        for n in 0..amount(60, 60 * kinds.len()) {
            sockets.spawn(drip(server.address(), kinds[n % kinds.len()]));
        }
        tokio::time::sleep(Duration::from_secs(1)).await;
        let meanwhile = server.descriptors();
        let closed = sockets.join_all().await;
        watch.end("slow sockets").await;
        for kind in kinds {
            let of_kind = closed.iter().filter(|(slow, ..)| *slow == kind);
            let longest = of_kind.clone().map(|(_, open, _)| *open).max().unwrap_or_default();
            let after = of_kind.filter_map(|(_, _, after)| *after).max().unwrap_or_default();
            println!("{kind:?}: open for {longest:.1?} at most, {after:.1?} after the last answer at most");
            assert!(longest > Duration::from_millis(500), "{kind:?}: was it ever open?");
        }
        println!("descriptors: {before} before, {meanwhile} meanwhile, {} after", server.descriptors());
        assert!(meanwhile <= 256 - 32, "{meanwhile} descriptors leave no reserve");
    });
}

/// Says whether a server on a port has a connection open from 127.0.0.2: an established one, by the kernel's table.
fn serves_elsewhere(port: u16) -> bool {
    let table = std::fs::read_to_string("/proc/net/tcp").unwrap();
    let (here, there) = (format!("0100007F:{port:04X}"), "0200007F:");
    table.lines().any(|line| {
        let cells: Vec<&str> = line.split_whitespace().collect();
        cells.len() > 3 && cells[1] == here && cells[2].starts_with(there) && cells[3] == "01"
    })
}

/// A client that asks for much and reads nothing of it.
#[test]
fn answers_that_nobody_reads_do_not_hold_a_connection() {
    alone(|_| async {
        let folder = TempDir::new().unwrap();
        let server = Program::start(&sqlite_in(folder.path()), folder.path()).await;
        const ASKED: usize = 400;
        let mut socket = from_elsewhere(&server.address()).await.unwrap();
        let request = format!("GET /api/v1/openapi.json HTTP/1.1\r\nHost: {}\r\n\r\n", server.address());
        socket.write_all(request.repeat(ASKED).as_bytes()).await.unwrap();
        let began = Instant::now();
        let watch = Watch::begin(server.address());
        let port = socket.peer_addr().unwrap().port();
        assert!(serves_elsewhere(port));
        while serves_elsewhere(port) {
            assert!(began.elapsed() < PATIENCE, "a client that reads nothing is still served");
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
        watch.end("an answer that nobody reads").await;
        let mut read = Vec::new();
        let _ = socket.read_to_end(&mut read).await;
        let whole = read.windows(15).filter(|start| start == b"HTTP/1.1 200 OK").count();
        println!("closed after {:.1?}, {whole} of {ASKED} answers read later", began.elapsed());
        assert!(whole < ASKED, "all was answered, so nothing was left unread");
    });
}

#[test]
fn connections_beyond_those_of_one_address_are_refused() {
    alone(|_| async {
        let folder = TempDir::new().unwrap();
        let few = ["env", "EVENFIELD_CONNECTIONS=64", "EVENFIELD_CONNECTIONS_PER_ADDRESS=10"];
        let mut server = Program::launch(&sqlite_in(folder.path()), folder.path(), &few);
        server.answers().await;
        // Each has an answer before the next comes, so that all ten are counted.
        let mut open = Vec::new();
        for _ in 0..10 {
            let mut socket = from_elsewhere(&server.address()).await.unwrap();
            assert_eq!(asked(&mut socket).await, 200);
            open.push(socket);
        }
        let mut one_more = from_elsewhere(&server.address()).await.unwrap();
        let refused = told(&mut one_more).await.to_ascii_lowercase();
        assert!(refused.starts_with("http/1.1 503 ") && refused.contains("\r\nretry-after: "), "{refused}");
        assert!(refused.contains("\r\nx-content-type-options: nosniff\r\n"), "{refused}");
        assert!(refused.contains("/problems/temporary-reduced-capacity"), "{refused}");
        let watch = Watch::begin(server.address());
        drop(open);
        let began = Instant::now();
        loop {
            let mut socket = from_elsewhere(&server.address()).await.unwrap();
            if asked(&mut socket).await == 200 {
                break;
            }
            assert!(began.elapsed() < PATIENCE, "places are not given back");
        }
        watch.end("connections of one address").await;
    });
}

/// Asks on a socket whether the server lives; returns the answer.
async fn told(socket: &mut TcpStream) -> String {
    let host = socket.peer_addr().unwrap();
    let _ = socket.write_all(format!("GET /livez HTTP/1.1\r\nHost: {host}\r\n\r\n").as_bytes()).await;
    let mut answer = [0; 4096];
    let read = socket.read(&mut answer).await.unwrap_or(0);
    String::from_utf8_lossy(&answer[..read]).into_owned()
}

/// Asks on a socket whether the server lives; returns the status.
async fn asked(socket: &mut TcpStream) -> u16 {
    told(socket).await.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0)
}

/// Begins a batch and sends so much of lines that are no rounds; returns the status, once that many bytes were sent.
async fn unfinished(address: String, head: String, bytes: usize) -> (TcpStream, u16) {
    let mut socket = from_elsewhere(&address).await.unwrap();
    socket.write_all(head.as_bytes()).await.unwrap();
    let mut line = vec![b'x'; 60_000];
    line.push(b'\n');
    let chunk = [format!("{:x}\r\n", line.len()).as_bytes(), &line, b"\r\n"].concat();
    for _ in 0..bytes / line.len() {
        socket.write_all(&chunk).await.unwrap();
    }
    let mut start = [0; 12];
    socket.read_exact(&mut start).await.unwrap();
    (socket, String::from_utf8_lossy(&start[9..]).parse().unwrap())
}

#[test]
fn batches_without_end_hold_little_and_end() {
    alone(|_| async {
        let folder = TempDir::new().unwrap();
        let server = Program::start(&sqlite_in(folder.path()), folder.path()).await;
        let world = World::found(&server.origin(), 1, 1, 1).await;
        let token = world.token(&server.origin()).await;
        let path = format!("/seasons/{}/round-batches", world.season);
        let head = head(
            &server.address(),
            &path,
            &token,
            "Content-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n",
        );
        let before = server.most_resident_kib();
        let watch = Watch::begin(server.address());
        let mut batches = JoinSet::new();
        for _ in 0..20 {
            batches.spawn(unfinished(server.address(), head.clone(), amount(4 << 20, 60 << 20)));
        }
        let batches = batches.join_all().await;
        let more = server.most_resident_kib() - before;
        println!("20 batches without end: {more} KiB more memory");
        assert!(batches.iter().all(|(_, status)| *status == 200));
        assert!(more < 200 * 1024, "{more} KiB more");
        // One address may hold half of the bytes that all bodies may hold: 25 batches.
        let mut others = JoinSet::new();
        for _ in 0..6 {
            let (address, head) = (server.address(), head.clone());
            others.spawn(async move {
                let mut socket = from_elsewhere(&address).await.unwrap();
                socket.write_all(head.as_bytes()).await.unwrap();
                let mut answer = vec![0; 4096];
                let read = socket.read(&mut answer).await.unwrap();
                String::from_utf8_lossy(&answer[..read]).to_ascii_lowercase()
            });
        }
        let answers = others.join_all().await;
        let busy = answers.iter().filter(|answer| answer.starts_with("http/1.1 503") && answer.contains("retry-after"));
        let late = answers.iter().filter(|answer| answer.starts_with("http/1.1 408"));
        assert_eq!((busy.count(), late.count()), (1, 5), "{answers:?}");
        let began = Instant::now();
        for (mut socket, _) in batches {
            let mut rest = Vec::new();
            let read = tokio::time::timeout(PATIENCE, socket.read_to_end(&mut rest)).await;
            assert!(read.is_ok(), "a batch without end is still open after {:?}", began.elapsed());
            let told = String::from_utf8_lossy(&rest);
            assert!(told.contains("request-timeout"), "{}", &told[told.len().saturating_sub(500)..]);
        }
        watch.end("batches without end").await;
    });
}
