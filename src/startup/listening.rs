//! How connections come in: how many at once, how many of one address, and how long one may keep the server waiting.
//!
//! The HTTP dispatcher limits the time of the first request's head and of an idle connection. It does not limit the time
//! of a later head, or of a client that does not read its answer. So the stream under it looks at the clock, too.
//!
//! What it refuses before there is a request, it answers with neither a body nor the headers that all other answers have,
//! and nothing above it can change that. So the stream writes a whole answer in place of such a one.

use super::refusals::{self, FIRST_HEAD};
use crate::accounts::throttle::{Network, network_of};
use crate::http::connection::Traffic;
use crate::http::problem::Problem;
use actix_http::HttpService;
use actix_http::body::{BoxBody, MessageBody};
use actix_http::error::DispatchError;
use actix_http::{KeepAlive, Request, Response};
use actix_service::{IntoServiceFactory, ServiceFactory, ServiceFactoryExt as _, fn_service, map_config};
use actix_web::dev::{AppConfig, Server, ServiceResponse};
use actix_web::rt::net::TcpStream;
use actix_web::web::Bytes;
use std::collections::HashMap;
use std::future::ready;
use std::io;
use std::net::{SocketAddr, TcpListener};
use std::num::NonZeroUsize;
use std::pin::Pin;
use std::rc::Rc;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::{Duration, Instant};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::Sleep;

/// How many connections are open at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Connections {
    /// In all.
    pub all: usize,
    /// Of one address, or of one IPv6 /64. A venue is one address, so this is generous.
    pub of_one_address: usize,
}

impl Default for Connections {
    fn default() -> Self {
        Self { all: 4096, of_one_address: 2048 }
    }
}

/// The file descriptors that are kept for the database, files and connections that are being refused.
const RESERVE: usize = 128;
/// Connections beyond the limit that are accepted so that they can be told.
const REFUSED_AT_ONCE: usize = 16;
/// How long an idle connection is kept.
const IDLE: Duration = Duration::from_secs(5);
/// How long a connection may be without a request under way: idle, and then for the head of the next.
const QUIET: Duration = Duration::from_secs(12);
/// How long a client may leave its answer unread when no more fits in between.
const STALLED: Duration = Duration::from_secs(30);
/// How often each connection looks at the clock.
const LOOK: Duration = Duration::from_secs(4);
/// How long the rest of a body is read and dropped after the answer, so that the client gets to see the answer.
const LINGER: Duration = Duration::from_secs(1);

impl Connections {
    /// Raises the process's limit of file descriptors as far as these connections need it, and lowers them to what the
    /// system allows.
    #[cfg(unix)]
    pub fn within_descriptors(self) -> Self {
        use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
        let limit = getrlimit(Resource::Nofile);
        let needed = (self.all + RESERVE) as u64;
        let mut most = limit.current.unwrap_or(u64::MAX);
        if most < needed {
            let wanted = limit.maximum.map_or(needed, |maximum| maximum.min(needed));
            match setrlimit(Resource::Nofile, Rlimit { current: Some(wanted), maximum: limit.maximum }) {
                Ok(()) => most = wanted,
                Err(error) => tracing::warn!(error = error.to_string(), "the limit of file descriptors stays as it is"),
            }
        }
        let fits = self.at_most(usize::try_from(most).unwrap_or(usize::MAX));
        if fits != self {
            tracing::warn!(
                descriptors = most,
                connections = fits.all,
                "fewer connections, for want of file descriptors"
            );
        }
        fits
    }

    /// Leaves them as they are: the system tells no limit.
    #[cfg(not(unix))]
    pub fn within_descriptors(self) -> Self {
        self
    }

    /// Lowers them to what fits into so many file descriptors beside the reserve, in proportion.
    fn at_most(self, descriptors: usize) -> Self {
        let all = self.all.min(descriptors.saturating_sub(RESERVE)).max(1);
        let of_one_address = (self.of_one_address * all).div_ceil(self.all.max(1)).clamp(1, all);
        Self { all, of_one_address }
    }
}

/// The connections that are open.
struct Seats {
    limits: Connections,
    taken: Mutex<Taken>,
}

#[derive(Default)]
struct Taken {
    all: usize,
    by_network: HashMap<Network, usize>,
}

/// The place of one connection among those that are open.
struct Seat {
    seats: Arc<Seats>,
    network: Network,
}

impl Seats {
    fn new(limits: Connections) -> Self {
        Self { limits, taken: Mutex::default() }
    }

    fn take(self: &Arc<Self>, network: Network) -> Option<Seat> {
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        let here = taken.by_network.get(&network).copied().unwrap_or(0);
        if taken.all >= self.limits.all || here >= self.limits.of_one_address {
            return None;
        }
        taken.all += 1;
        taken.by_network.insert(network, here + 1);
        Some(Seat { seats: Arc::clone(self), network })
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        let mut taken = self.seats.taken.lock().unwrap_or_else(PoisonError::into_inner);
        taken.all -= 1;
        match taken.by_network.get_mut(&self.network) {
            Some(here) if *here > 1 => *here -= 1,
            _ => {
                taken.by_network.remove(&self.network);
            }
        }
    }
}

/// A connection that ends by itself when it keeps the server waiting.
struct Watched {
    io: TcpStream,
    traffic: Rc<Traffic>,
    look: Pin<Box<Sleep>>,
    stalled_since: Option<Instant>,
    behind_proxy: bool,
    /// What is still to be written of a whole answer in place of a bare one.
    whole: Bytes,
    _seat: Seat,
}

impl Watched {
    fn new(io: TcpStream, seat: Seat, behind_proxy: bool) -> Self {
        let look = Box::pin(tokio::time::sleep(LOOK));
        let (traffic, whole) = (Rc::default(), Bytes::new());
        Self { io, traffic, look, stalled_since: None, behind_proxy, whole, _seat: seat }
    }

    /// Fails once the connection has kept the server waiting too long. Wakes the dispatcher to be asked again.
    fn is_patient(&mut self, context: &mut Context<'_>) -> io::Result<()> {
        while self.look.as_mut().poll(context).is_ready() {
            let is_stalled = self.stalled_since.is_some_and(|since| since.elapsed() >= STALLED);
            if is_stalled || self.traffic.quiet() >= QUIET {
                return Err(io::ErrorKind::TimedOut.into());
            }
            self.look.as_mut().reset(tokio::time::Instant::now() + LOOK);
        }
        Ok(())
    }

    /// Writes these bytes, or the whole answer that takes their place.
    fn poll_tell(&mut self, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        if self.whole.is_empty() && !self.traffic.holds_answer() {
            self.whole = refusals::in_place_of(bytes, self.behind_proxy).unwrap_or_default();
        }
        if self.whole.is_empty() {
            return Pin::new(&mut self.io).poll_write(context, bytes);
        }
        while !self.whole.is_empty() {
            let written = ready!(Pin::new(&mut self.io).poll_write(context, &self.whole))?;
            self.whole = self.whole.slice(written..);
        }
        Poll::Ready(Ok(bytes.len()))
    }
}

impl AsyncRead for Watched {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        self.is_patient(context)?;
        Pin::new(&mut self.io).poll_read(context, buffer)
    }
}

impl AsyncWrite for Watched {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        self.is_patient(context)?;
        let written = self.poll_tell(context, bytes);
        self.stalled_since =
            if written.is_pending() { self.stalled_since.or_else(|| Some(Instant::now())) } else { None };
        written
    }

    /// The dispatcher flushes once all that it had to write is written.
    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.traffic.all_written();
        Pin::new(&mut self.io).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.io).poll_shutdown(context)
    }
}

/// Takes a connection, or tells it that there are too many.
fn admit(
    io: TcpStream,
    seats: &Arc<Seats>,
    behind_proxy: bool,
) -> Result<(Watched, Option<SocketAddr>), DispatchError> {
    let peer = io.peer_addr()?;
    match seats.take(network_of(peer.ip())) {
        Some(seat) => Ok((Watched::new(io, seat, behind_proxy), Some(peer))),
        None => {
            refuse(&io, &refusals::whole(&Problem::busy(), None, behind_proxy));
            Err(DispatchError::Io(io::ErrorKind::ConnectionRefused.into()))
        }
    }
}

/// Reads what has come already, because closing with unread bytes would take the answer away from the client. Waits for
/// nothing.
#[cfg(unix)]
fn refuse(io: &TcpStream, answer: &[u8]) {
    use rustix::net::{RecvFlags, SendFlags, Shutdown, recv, send, shutdown};
    let mut request = [0; 4096];
    let _ = recv(io, &mut request, RecvFlags::DONTWAIT);
    let _ = send(io, answer, SendFlags::DONTWAIT);
    let _ = shutdown(io, Shutdown::Write);
}

#[cfg(not(unix))]
fn refuse(io: &TcpStream, answer: &[u8]) {
    let _ = io.try_write(answer);
}

/// Serves an application on a listener; `last_requests` is how long requests may go on once the server stops.
///
/// # Errors
/// A listener that cannot be used.
pub fn serve<F, I, S, B>(
    listener: TcpListener,
    limits: Connections,
    last_requests: Duration,
    behind_proxy: bool,
    application: F,
) -> io::Result<Server>
where
    F: Fn() -> I + Send + Clone + 'static,
    I: IntoServiceFactory<S, Request>,
    S: ServiceFactory<Request, Config = AppConfig, Response = ServiceResponse<B>, Error = actix_web::Error> + 'static,
    S::InitError: std::fmt::Debug,
    S::Service: 'static,
    B: MessageBody + 'static,
{
    let address = listener.local_addr()?;
    let workers = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN).get();
    let seats = Arc::new(Seats::new(limits));
    // A backstop, in case a worker is slow to take its connections: those wait in the system's queue then.
    let of_one_worker = (limits.all + REFUSED_AT_ONCE).div_ceil(workers);
    let builder = Server::build()
        .workers(workers)
        .max_concurrent_connections(of_one_worker)
        .disable_signals()
        .shutdown_timeout(last_requests.as_secs());
    let stopping = builder.graceful_shutdown_signal();
    let listening = builder.listen("evenfield", listener, move || {
        let (seats, stopping) = (Arc::clone(&seats), stopping.clone());
        let stops = move || {
            let stopping = stopping.clone();
            async move { stopping.notified().await }
        };
        let service = application().into_factory().map_err(|error| Response::<BoxBody>::from(error.error_response()));
        let http = HttpService::build()
            .graceful_shutdown_signal(stops)
            .keep_alive(KeepAlive::Timeout(IDLE))
            .client_request_timeout(FIRST_HEAD)
            .client_disconnect_timeout(LINGER)
            .local_addr(address)
            .on_connect_ext(|io: &Watched, data| {
                data.insert(Rc::clone(&io.traffic));
            })
            .h1(map_config(service, |()| AppConfig::default()));
        fn_service(move |io: TcpStream| ready(admit(io, &seats, behind_proxy))).and_then(http)
    })?;
    Ok(listening.run())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    #[test]
    fn connections_are_limited_in_all_and_of_each_address() {
        let seats = Arc::new(Seats::new(Connections { all: 3, of_one_address: 2 }));
        let at = |last: u8| Network::V4(Ipv4Addr::new(192, 0, 2, last));
        let here: Vec<Seat> = (0..2).map(|_| seats.take(at(1)).unwrap()).collect();
        assert!(seats.take(at(1)).is_none(), "a third of one address");
        let elsewhere = seats.take(at(2)).unwrap();
        assert!(seats.take(at(3)).is_none(), "a fourth in all");
        drop(elsewhere);
        let elsewhere = seats.take(at(3)).unwrap();
        drop((here, elsewhere));
        assert!(seats.taken.lock().unwrap().by_network.is_empty());
        assert_eq!(seats.taken.lock().unwrap().all, 0);
    }

    #[test]
    fn a_reserve_of_descriptors_is_kept() {
        let asked = Connections { all: 1000, of_one_address: 500 };
        assert_eq!(asked.at_most(1000 + RESERVE), asked);
        assert_eq!(asked.at_most(256), Connections { all: 128, of_one_address: 64 });
        assert_eq!(asked.at_most(10), Connections { all: 1, of_one_address: 1 });
    }
}
