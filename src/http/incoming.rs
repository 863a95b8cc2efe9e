//! How bodies are read: in pieces, inflated in pieces, within a time, and within the bytes that all bodies together may
//! hold in memory.

use crate::http::app::App;
use crate::http::intake::{Hold, counted};
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::who::From;
use actix_web::dev::Payload;
use actix_web::http::header::{self, HeaderMap};
use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpRequest};
use flate2::write::GzDecoder;
use futures_util::StreamExt;
use std::io::Write as _;
use std::time::Duration;

/// How long a body may take to arrive.
pub const BODY_TIME: Duration = Duration::from_secs(15);

/// How many compressed bytes are inflated at once. Deflate makes at most 1,032 bytes of one.
const INFLATED_AT_ONCE: usize = 64;
/// How many inflated bytes are gathered before they are handed on.
const PIECE: usize = 8 * 1024;

/// Begins to hold bytes for whoever sent a request.
///
/// # Errors
/// None of its own.
pub fn hold_for(request: &HttpRequest) -> Result<Hold, Problem> {
    let From(network) = From::from_request(request, &mut Payload::None).into_inner()?;
    Ok(App::of(request).intake.hold(network))
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
pub(crate) fn in_chunks(headers: &HeaderMap, body: &[u8], chunk: usize) -> Result<Incoming, Problem> {
    let chunks: Vec<_> = body.chunks(chunk).map(|chunk| Ok(Bytes::copy_from_slice(chunk))).collect();
    let payload: actix_http::BoxedPayloadStream = Box::pin(futures_util::stream::iter(chunks));
    Incoming::new(headers, Payload::Stream { payload })
}

#[cfg(test)]
mod tests {
    use super::*;
    use flate2::Compression;
    use flate2::write::GzEncoder;

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
