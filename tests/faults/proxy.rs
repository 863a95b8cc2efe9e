//! A bad network: a proxy that loses requests and answers, cuts them, sends them twice and late.

use super::chance::Chance;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;

/// What happened to requests.
#[derive(Debug, Default)]
pub struct Mishaps {
    pub requests_lost: AtomicUsize,
    pub answers_lost: AtomicUsize,
    pub doubled: AtomicUsize,
    pub late: AtomicUsize,
    pub well: AtomicUsize,
}

/// A network between phones and a server.
pub struct BadNetwork {
    pub origin: String,
    pub mishaps: Arc<Mishaps>,
    task: JoinHandle<()>,
}

impl BadNetwork {
    /// Lies before a server: 20 % of requests and 20 % of answers never get through, half of them cut off in the middle;
    /// 10 % of requests come twice at once, 10 % late.
    pub async fn before(server: String, seed: u64) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let origin = format!("http://{}", listener.local_addr().unwrap());
        let mishaps = Arc::new(Mishaps::default());
        let (seen, connections) = (mishaps.clone(), AtomicU64::new(1_000));
        let task = tokio::spawn(async move {
            while let Ok((phone, _)) = listener.accept().await {
                let chance = Chance::new(seed, connections.fetch_add(1, Ordering::SeqCst));
                let (server, seen) = (server.clone(), seen.clone());
                // A side that hangs up is what this is about.
                tokio::spawn(async move { drop(pass(phone, &server, chance, &seen).await) });
            }
        });
        Self { origin, mishaps, task }
    }
}

impl Drop for BadNetwork {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn pass(mut phone: TcpStream, server: &str, mut chance: Chance, seen: &Mishaps) -> io::Result<()> {
    // One request a connection, so that the answer ends where the server hangs up.
    let request = read_request(&mut phone, server).await?;
    let (fate, is_cut) = (chance.below(100), chance.below(2) == 0);
    let count = |of: &AtomicUsize| {
        of.fetch_add(1, Ordering::SeqCst);
    };
    match fate {
        0..20 => {
            count(&seen.requests_lost);
            if is_cut {
                let mut server = TcpStream::connect(server).await?;
                server.write_all(&request[..chance.below(request.len() as u64) as usize]).await?;
            }
        }
        20..40 => {
            count(&seen.answers_lost);
            let answer = exchange(server, &request).await?;
            if is_cut {
                phone.write_all(&answer[..answer.len() / 2]).await?;
            }
        }
        40..50 => {
            count(&seen.doubled);
            let (one, other) = tokio::join!(exchange(server, &request), exchange(server, &request));
            phone.write_all(&if is_cut { one } else { other }?).await?;
        }
        50..60 => {
            count(&seen.late);
            tokio::time::sleep(Duration::from_millis(chance.below(3_000))).await;
            phone.write_all(&exchange(server, &request).await?).await?;
        }
        _ => {
            count(&seen.well);
            phone.write_all(&exchange(server, &request).await?).await?;
        }
    }
    phone.shutdown().await
}

async fn exchange(server: &str, request: &[u8]) -> io::Result<Vec<u8>> {
    let mut server = TcpStream::connect(server).await?;
    server.write_all(request).await?;
    let mut answer = Vec::new();
    server.read_to_end(&mut answer).await?;
    Ok(answer)
}

/// Reads one request whole, names the server in it, and asks for the connection to be closed after it.
async fn read_request(phone: &mut TcpStream, server: &str) -> io::Result<Vec<u8>> {
    let mut request = Vec::new();
    let (head, host, length) = loop {
        if phone.read_buf(&mut request).await? == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        let Some(end) = request.windows(4).position(|four| four == b"\r\n\r\n") else { continue };
        let head = String::from_utf8_lossy(&request[..end]).to_ascii_lowercase();
        let length = head.lines().find_map(|line| line.strip_prefix("content-length:"));
        let host = head.find("\r\nhost:").unwrap() + "\r\nhost:".len();
        let host = host..host + head[host..].find("\r\n").unwrap_or(head.len() - host);
        break (end, host, length.map_or(0, |length| length.trim().parse::<usize>().unwrap()));
    };
    while request.len() < head + 4 + length {
        if phone.read_buf(&mut request).await? == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
    }
    request.splice(head..head, *b"\r\nConnection: close");
    request.splice(host, format!(" {server}").into_bytes());
    Ok(request)
}
