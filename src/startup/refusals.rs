//! Answers to what never becomes a request: what is no HTTP, a head that is too long or takes too long, a connection
//! beyond the limits.

use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::watch::{MOST_HEADERS, MOST_TARGET, secure};
use actix_web::body::MessageBody as _;
use actix_web::web::Bytes;
use std::time::Duration;
use uuid::Uuid;

/// How long the head of a connection's first request may take.
pub(super) const FIRST_HEAD: Duration = Duration::from_secs(5);

/// Returns the whole answer that takes the place of a bare one, which the dispatcher made by itself.
pub fn in_place_of(bare: &[u8], behind_proxy: bool) -> Option<Bytes> {
    let bare = std::str::from_utf8(bare).ok()?;
    let problem = match bare.strip_prefix("HTTP/1.1 ")?.get(..3)? {
        "400" => Problem::malformed("this is no HTTP, or could be read in two ways"),
        "408" => {
            let detail = format!("the head of a request arrives within {} seconds", FIRST_HEAD.as_secs());
            Problem::new(Kind::RequestTimeout, detail)
        }
        "431" => {
            let detail = format!(
                "a request has at most {MOST_TARGET} bytes of path and query, 96 header fields, and {MOST_HEADERS} bytes of those"
            );
            Problem::new(Kind::RequestHeaderFieldsTooLarge, detail)
        }
        _ => return None,
    };
    let date = bare.lines().find(|line| line.starts_with("date: "));
    Some(whole(&problem, date, behind_proxy))
}

/// Writes the whole answer of a problem, after which the connection is closed; `date` is the line of that header.
pub fn whole(problem: &Problem, date: Option<&str>, behind_proxy: bool) -> Bytes {
    let id = Uuid::now_v7();
    let mut answer = problem.answer(Some(id));
    secure(answer.headers_mut(), id, behind_proxy);
    let status = answer.status();
    tracing::info!(request = %id, status = status.as_u16(), "refused before it was a request");
    let mut head = vec![format!("HTTP/1.1 {status}"), "connection: close".into()];
    head.extend(date.map(String::from));
    let fields = answer.headers().iter().map(|(name, value)| (name, String::from_utf8_lossy(value.as_bytes())));
    head.extend(fields.map(|(name, value)| format!("{name}: {value}")));
    let body = answer.into_body().try_into_bytes().unwrap_or_default();
    head.push(format!("content-length: {}\r\n\r\n", body.len()));
    [head.join("\r\n").as_bytes(), &body].concat().into()
}
