//! How bodies are read: in pieces, inflated in pieces, within a time, and within the bytes that all bodies together may
//! hold in memory.

use super::App;
use super::extract::From;
use super::kinds::Kind;
use super::problem::Problem;
use crate::accounts::throttle::Network;
use actix_web::dev::Payload;
use actix_web::http::header::{self, HeaderMap};
use actix_web::web::{Bytes, Data};
use actix_web::{FromRequest, HttpRequest};
use flate2::write::GzDecoder;
use futures_util::StreamExt;
use std::collections::HashMap;
use std::io::Write as _;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// How long a body may take to arrive.
pub const BODY_TIME: Duration = Duration::from_secs(15);

/// The bytes that all bodies together may hold in memory.
const MOST_HELD: usize = 64 << 20;

/// How many compressed bytes are inflated at once. Deflate makes at most 1,032 bytes of one.
const INFLATED_AT_ONCE: usize = 64;
/// How many inflated bytes are gathered before they are handed on.
const PIECE: usize = 8 * 1024;

/// Counts the bytes of bodies that are in memory, of all clients and of each network.
pub struct Intake {
    most: usize,
    held: Mutex<Held>,
}

#[derive(Default)]
struct Held {
    all: usize,
    by_network: HashMap<Network, usize>,
}

impl Default for Intake {
    fn default() -> Self {
        Self::new(MOST_HELD)
    }
}

impl Intake {
    fn new(most: usize) -> Self {
        Self { most, held: Mutex::default() }
    }

    /// Begins to hold bytes for a client.
    pub fn hold(self: &Arc<Self>, network: Network) -> Hold {
        Hold { intake: Arc::clone(self), network, bytes: 0 }
    }
}

/// Bytes that are held for one client; given back when this is dropped.
pub struct Hold {
    intake: Arc<Intake>,
    network: Network,
    bytes: usize,
}

impl Hold {
    /// For whom.
    pub fn network(&self) -> Network {
        self.network
    }

    /// Holds more bytes.
    ///
    /// # Errors
    /// 503, if all bodies would hold too many then, or those of this network more than half of that.
    pub fn grow(&mut self, more: usize) -> Result<(), Problem> {
        let mut held = self.intake.held.lock().unwrap_or_else(PoisonError::into_inner);
        let here = held.by_network.get(&self.network).copied().unwrap_or(0) + more;
        if held.all + more > self.intake.most || here > self.intake.most / 2 {
            return Err(Problem::busy());
        }
        held.all += more;
        held.by_network.insert(self.network, here);
        self.bytes += more;
        Ok(())
    }
}

impl Drop for Hold {
    fn drop(&mut self) {
        let mut held = self.intake.held.lock().unwrap_or_else(PoisonError::into_inner);
        held.all -= self.bytes;
        match held.by_network.get_mut(&self.network) {
            Some(here) if *here > self.bytes => *here -= self.bytes,
            _ => {
                held.by_network.remove(&self.network);
            }
        }
    }
}

/// Bytes together with what counts them.
struct Counted {
    bytes: Vec<u8>,
    _hold: Hold,
}

impl AsRef<[u8]> for Counted {
    fn as_ref(&self) -> &[u8] {
        &self.bytes
    }
}

/// Makes bytes that stay counted for as long as anything refers to them.
pub fn counted(bytes: Vec<u8>, hold: Hold) -> Bytes {
    Bytes::from_owner(Counted { bytes, _hold: hold })
}

/// Begins to hold bytes for whoever sent a request.
///
/// # Errors
/// None of its own.
pub fn hold_for(request: &HttpRequest) -> Result<Hold, Problem> {
    let From(network) = From::from_request(request, &mut Payload::None).into_inner()?;
    let app = request.app_data::<Data<App>>().expect("the server is built with its App");
    Ok(app.intake.hold(network))
}

/// The bytes of a body as they come, inflated.
pub struct Incoming {
    payload: Payload,
    inflater: Option<Box<GzDecoder<Vec<u8>>>>,
    compressed: Bytes,
}

impl Incoming {
    /// Begins to read a body.
    ///
    /// # Errors
    /// 415 for an encoding other than gzip.
    pub fn new(headers: &HeaderMap, payload: Payload) -> Result<Self, Problem> {
        let mut encodings = headers.get_all(header::CONTENT_ENCODING);
        let inflater = match (encodings.next().map(|value| value.as_bytes()), encodings.next()) {
            (None, _) => None,
            (Some(encoding), None) if encoding.eq_ignore_ascii_case(b"identity") => None,
            (Some(encoding), None)
                if encoding.eq_ignore_ascii_case(b"gzip") || encoding.eq_ignore_ascii_case(b"x-gzip") =>
            {
                Some(Box::new(GzDecoder::new(Vec::new())))
            }
            _ => {
                let detail = "send the body as it is, or compressed once with gzip";
                let problem = Problem::new(Kind::UnsupportedMediaType, detail);
                return Err(problem.with(header::ACCEPT_ENCODING, "gzip"));
            }
        };
        Ok(Self { payload, inflater, compressed: Bytes::new() })
    }

    /// Returns the next piece; none at the end. A piece that was inflated is never much longer than 64 KiB.
    ///
    /// # Errors
    /// 400 for a body that breaks off or is not gzip.
    pub async fn next(&mut self) -> Result<Option<Bytes>, Problem> {
        loop {
            if let Some(inflater) = &mut self.inflater
                && !self.compressed.is_empty()
            {
                while !self.compressed.is_empty() && inflater.get_ref().len() < PIECE {
                    let at_once = self.compressed.split_to(self.compressed.len().min(INFLATED_AT_ONCE));
                    inflater.write_all(&at_once).map_err(|_| not_gzip())?;
                }
                let inflated = std::mem::take(inflater.get_mut());
                // Other requests of this thread get their turn between two pieces.
                tokio::task::yield_now().await;
                if !inflated.is_empty() {
                    return Ok(Some(inflated.into()));
                }
                continue;
            }
            match self.payload.next().await {
                Some(Ok(chunk)) if self.inflater.is_some() => self.compressed = chunk,
                Some(Ok(chunk)) => return Ok(Some(chunk)),
                Some(Err(error)) => return Err(Problem::malformed(format!("the body broke off: {error}"))),
                None => return self.rest(),
            }
        }
    }

    /// Returns what the end of the body brings to light.
    fn rest(&mut self) -> Result<Option<Bytes>, Problem> {
        let Some(mut inflater) = self.inflater.take() else { return Ok(None) };
        inflater.try_finish().map_err(|_| not_gzip())?;
        let inflated = std::mem::take(inflater.get_mut());
        Ok(Some(inflated).filter(|inflated| !inflated.is_empty()).map(Into::into))
    }
}

fn not_gzip() -> Problem {
    Problem::malformed("the body is not one whole member of gzip")
}

/// The problem of a body that is longer than it may be.
pub fn too_large(detail: String) -> Problem {
    Problem::new(Kind::PayloadTooLarge, detail)
}

/// The problem of a body that takes too long.
pub fn too_late() -> Problem {
    Problem::new(Kind::RequestTimeout, "the body took too long to arrive")
}

/// Reads a body up to a size, inflated.
pub fn read(
    request: &HttpRequest,
    payload: &mut Payload,
    most: usize,
) -> impl Future<Output = Result<Bytes, Problem>> + 'static {
    let incoming = Incoming::new(request.headers(), payload.take());
    let hold = hold_for(request);
    async move {
        let (mut incoming, mut hold) = (incoming?, hold?);
        let whole = async {
            let mut body = Vec::new();
            while let Some(piece) = incoming.next().await? {
                let length = body.len() + piece.len();
                if length > most {
                    return Err(too_large(format!("a body has at most {most} bytes here")));
                }
                if length > body.capacity() {
                    let room = length.max(2 * body.capacity()).min(most);
                    hold.grow(room - body.capacity())?;
                    body.reserve_exact(room - body.len());
                }
                body.extend_from_slice(&piece);
            }
            Ok(counted(body, hold))
        };
        tokio::time::timeout(BODY_TIME, whole).await.map_err(|_| too_late())?
    }
}

/// A body that comes in chunks.
#[cfg(test)]
pub(super) fn in_chunks(headers: &HeaderMap, body: &[u8], chunk: usize) -> Result<Incoming, Problem> {
    let chunks: Vec<_> = body.chunks(chunk).map(|chunk| Ok(Bytes::copy_from_slice(chunk))).collect();
    let payload: actix_http::BoxedPayloadStream = Box::pin(futures_util::stream::iter(chunks));
    Incoming::new(headers, Payload::Stream { payload })
}

#[cfg(test)]
mod tests {
    use super::*;
    use flate2::Compression;
    use flate2::write::GzEncoder;
    use std::net::Ipv4Addr;

    fn network(last: u8) -> Network {
        Network::V4(Ipv4Addr::new(192, 0, 2, last))
    }

    #[test]
    fn bytes_are_counted_in_all_and_of_each_network() {
        let intake = Arc::new(Intake::new(100));
        let mut one = intake.hold(network(1));
        assert!(one.grow(50).is_ok());
        assert!(one.grow(1).is_err(), "51 of 100 for one network");
        let mut same = intake.hold(network(1));
        assert!(same.grow(1).is_err(), "51 of 100 for one network, in two requests");
        let mut other = intake.hold(network(2));
        assert!(other.grow(50).is_ok());
        assert!(intake.hold(network(3)).grow(1).is_err(), "101 in all");
        drop(counted(Vec::new(), one));
        assert!(intake.hold(network(3)).grow(50).is_ok());
        drop((same, other));
        assert_eq!(intake.held.lock().unwrap().all, 0);
        assert!(intake.held.lock().unwrap().by_network.is_empty());
    }

    fn gzip(bytes: &[u8]) -> Vec<u8> {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    }

    /// Reads a body that comes in chunks; answers it, and the length of its longest piece.
    async fn inflated(body: &[u8], chunk: usize) -> Result<(Vec<u8>, usize), Problem> {
        let mut headers = HeaderMap::new();
        headers.insert(header::CONTENT_ENCODING, header::HeaderValue::from_static("GZIP"));
        let mut incoming = in_chunks(&headers, body, chunk)?;
        let (mut whole, mut longest) = (Vec::new(), 0);
        while let Some(piece) = incoming.next().await? {
            longest = longest.max(piece.len());
            whole.extend_from_slice(&piece);
        }
        Ok((whole, longest))
    }

    #[tokio::test]
    async fn a_body_is_inflated_in_small_pieces() {
        let text: Vec<u8> = (0..200_000_u32).flat_map(|n| format!("{n},").into_bytes()).collect();
        for chunk in [1, 63, 64, 65, 4096, 1 << 20] {
            assert_eq!(inflated(&gzip(&text), chunk).await.unwrap().0, text, "in chunks of {chunk}");
        }
        let bomb = gzip(&vec![0; 20 << 20]);
        let (whole, longest) = inflated(&bomb, bomb.len()).await.unwrap();
        assert_eq!(whole.len(), 20 << 20);
        assert!(longest <= 128 * 1024, "{longest} bytes at once");
    }

    #[tokio::test]
    async fn what_is_not_one_whole_member_of_gzip_is_refused() {
        let good = gzip(b"{}");
        assert!(inflated(&good[..good.len() - 1], 5).await.is_err(), "cut short");
        assert!(inflated(&[good.as_slice(), b"more"].concat(), 5).await.is_err(), "with more behind it");
        assert!(inflated(b"{}", 5).await.is_err(), "plain text");
        assert!(inflated(b"", 5).await.is_err(), "nothing");
    }
}
