//! The answers that the parser of requests makes by itself, such as a 400 to what is no HTTP, have neither a body nor the
//! headers that all other answers have, and nothing above the connection can change them. So the stream under the parser
//! puts whole answers in their place.

use crate::api::problem::Problem;
use crate::api::watch::secure;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderMap, HeaderValue};
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use uuid::Uuid;

/// No bare answer is longer.
const LONGEST_BARE: usize = 256;

/// A stream that writes a whole answer for each bare one.
pub struct Worded<T> {
    io: T,
    behind_proxy: bool,
    /// The answer that is being written, and how much of it was.
    writing: Option<(Vec<u8>, usize)>,
}

impl<T> Worded<T> {
    /// Wraps a stream.
    pub fn new(io: T, behind_proxy: bool) -> Self {
        Self { io, behind_proxy, writing: None }
    }
}

/// Finds an answer of the parser at the end of what is written: a head that has nothing but the fields that the protocol
/// needs. Returns where it begins, and its status. Answers of the application are told from it by their other fields.
fn bare(bytes: &[u8]) -> Option<(usize, StatusCode)> {
    if !bytes.ends_with(b"\r\n\r\n") {
        return None;
    }
    let near_end = bytes.len().saturating_sub(LONGEST_BARE);
    let start = near_end + bytes[near_end..].windows(7).rposition(|seven| seven == b"HTTP/1.")?;
    let mut lines = std::str::from_utf8(&bytes[start..]).ok()?.trim_end().split("\r\n");
    let status = lines.next()?.split(' ').nth(1)?.parse().ok().and_then(|code| StatusCode::from_u16(code).ok())?;
    let is_failure = status.is_client_error() || status.is_server_error();
    let is_bare =
        lines.all(|line| ["content-length: 0", "connection: ", "date: "].iter().any(|bare| line.starts_with(bare)));
    (is_failure && is_bare).then_some((start, status))
}

/// Returns the problem that a bare answer stands for.
fn problem(status: StatusCode) -> Problem {
    match status {
        StatusCode::REQUEST_HEADER_FIELDS_TOO_LARGE => Problem::new(
            status,
            "request-header-fields-too-large",
            "there are too many header fields, or they are too long",
        ),
        StatusCode::REQUEST_TIMEOUT => Problem::new(status, "request-timeout", "the request took too long to arrive"),
        StatusCode::SERVICE_UNAVAILABLE => Problem::busy(),
        status if status.is_client_error() => {
            Problem::malformed("the request is not HTTP, or could be read in two ways")
        }
        _ => Problem::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "internal",
            "the server failed; the request may be sent again",
        ),
    }
}

/// Writes a whole answer of a status, to a request that has an id for nothing else; the connection closes after it.
pub fn answer(status: StatusCode, id: Uuid, behind_proxy: bool) -> Vec<u8> {
    let problem = problem(status);
    let body = problem.to_json(Some(id)).to_string();
    let mut headers: HeaderMap = problem.answer(Some(id)).headers().clone();
    secure(&mut headers, id, behind_proxy);
    headers.insert(header::CONNECTION, HeaderValue::from_static("close"));
    headers.insert(header::CONTENT_LENGTH, HeaderValue::from(body.len()));
    let status = problem.status();
    let mut bytes =
        format!("HTTP/1.1 {} {}\r\n", status.as_str(), status.canonical_reason().unwrap_or_default()).into_bytes();
    for (name, value) in &headers {
        bytes.extend([name.as_str().as_bytes(), b": ", value.as_bytes(), b"\r\n"].concat());
    }
    bytes.extend([b"\r\n", body.as_bytes()].concat());
    bytes
}

impl<T: AsyncRead + Unpin> AsyncRead for Worded<T> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.io).poll_read(context, buffer)
    }
}

impl<T: AsyncWrite + Unpin> AsyncWrite for Worded<T> {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let this = &mut *self;
        let status = match bare(bytes) {
            None => return Pin::new(&mut this.io).poll_write(context, bytes),
            Some((0, status)) => status,
            Some((before, _)) => return Pin::new(&mut this.io).poll_write(context, &bytes[..before]),
        };
        let behind_proxy = this.behind_proxy;
        let (whole, written) = this.writing.get_or_insert_with(|| {
            let id = Uuid::now_v7();
            tracing::info!(request = %id, status = status.as_u16(), "refused by the parser");
            (answer(status, id, behind_proxy), 0)
        });
        while *written < whole.len() {
            match ready!(Pin::new(&mut this.io).poll_write(context, &whole[*written..]))? {
                0 => return Poll::Ready(Err(io::ErrorKind::WriteZero.into())),
                more => *written += more,
            }
        }
        this.writing = None;
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.io).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.io).poll_shutdown(context)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    const BARE: &str = "HTTP/1.1 400 Bad Request\r\ncontent-length: 0\r\nconnection: close\r\ndate: Thu, 14 Jan 2027 19:00:00 GMT\r\n\r\n";
    const OURS: &str = "HTTP/1.1 404 Not Found\r\ncontent-length: 2\r\nx-request-id: 1\r\n\r\n{}";

    /// Writes through a stream that takes so many bytes at once.
    async fn through(texts: &[&str], at_once: usize) -> String {
        let (near, mut far) = tokio::io::duplex(at_once);
        let mut near = Worded::new(near, false);
        let read = tokio::spawn(async move {
            let mut all = String::new();
            far.read_to_string(&mut all).await.expect("text");
            all
        });
        for text in texts {
            near.write_all(text.as_bytes()).await.expect("written");
        }
        near.shutdown().await.expect("shut");
        drop(near);
        read.await.expect("it is read")
    }

    #[tokio::test]
    async fn a_bare_answer_gets_a_body_and_headers_however_little_is_written_at_once() {
        for at_once in [1, 7, 100, 100_000] {
            let both = format!("{OURS}{BARE}");
            for texts in [&[BARE][..], &[OURS, BARE], &[&both]] {
                let told = through(texts, at_once).await;
                let own = if texts == [BARE] { "" } else { OURS };
                let whole = told.strip_prefix(own).expect("what came before is as it was");
                let (head, body) = whole.split_once("\r\n\r\n").expect("a head and a body");
                assert!(head.starts_with("HTTP/1.1 400 Bad Request\r\n"), "{head}");
                assert!(head.contains("content-type: application/problem+json\r\n"), "{head}");
                assert!(head.contains("x-content-type-options: nosniff\r\n"), "{head}");
                assert!(head.contains(&format!("content-length: {}\r\n", body.len())), "{head}");
                assert!(body.contains("\"type\":\"/problems/malformed\""), "{body}");
            }
        }
    }

    #[test]
    fn only_a_failure_without_other_fields_is_bare() {
        assert_eq!(bare(BARE.as_bytes()), Some((0, StatusCode::BAD_REQUEST)));
        assert_eq!(
            bare("HTTP/1.0 408 Request Timeout\r\ncontent-length: 0\r\n\r\n".as_bytes()),
            Some((0, StatusCode::REQUEST_TIMEOUT))
        );
        for other in [
            OURS,
            "HTTP/1.1 404 Not Found\r\ncontent-length: 0\r\nx-request-id: 1\r\n\r\n",
            "HTTP/1.1 304 Not Modified\r\netag: \"1\"\r\n\r\n",
            "HTTP/1.1 100 Continue\r\n\r\n",
            "0\r\n\r\n",
            "",
            &BARE[..BARE.len() - 1],
        ] {
            assert_eq!(bare(other.as_bytes()), None, "{other}");
        }
    }
}
