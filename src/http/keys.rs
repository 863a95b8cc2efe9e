//! What a request says of itself: its idempotency key, and the version that it means.

use crate::http::app::App;
use crate::http::body::Body;
use crate::http::canonical::hash_of;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::keys::RequestKey;
use crate::wire::json::Node;
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest};
use jiff::Timestamp;
use uuid::Uuid;

/// The idempotency key of a request, where it has one.
pub struct Key {
    key: Option<Uuid>,
    operation: String,
}

impl FromRequest for Key {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let given = request.headers().get("idempotency-key").map(|value| {
            let text = value.to_str().unwrap_or_default().trim();
            let bare = text.strip_prefix('"').and_then(|text| text.strip_suffix('"')).unwrap_or(text);
            Uuid::try_parse(bare).map_err(|_| Problem::malformed("Idempotency-Key is a UUID, bare or in quotes"))
        });
        let operation = format!("{} {}", request.method(), request.path());
        std::future::ready(given.transpose().map(|key| Key { key, operation }))
    }
}

impl Key {
    /// Puts the key together with who sent it and what.
    pub fn of(self, app: &App, caller: Caller, body: &Body) -> RequestKey {
        self.of_hash(caller, body.canonical_hash(), app.leagues.now())
    }

    /// As [`of`](Self::of), for a body whose hash is known.
    pub fn of_hash(self, caller: Caller, body_hash: [u8; 32], now: Timestamp) -> RequestKey {
        RequestKey { caller, operation: self.operation, key: self.key, body_hash, now }
    }

    /// As [`of`](Self::of), for a body that was read already.
    pub fn of_node(self, app: &App, caller: Caller, body: &Node<'_>) -> RequestKey {
        self.of_hash(caller, hash_of(body), app.leagues.now())
    }

    /// Passes requests that bring the key that they need.
    ///
    /// # Errors
    /// 400 without a key.
    pub fn is_there(&self) -> Result<(), Problem> {
        if self.key.is_none() {
            let detail = "send Idempotency-Key: a UUID that stays the same when the round is sent again";
            return Err(Problem::new(Kind::IdempotencyKeyMissing, detail));
        }
        Ok(())
    }
}

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let given = request.headers().get(header::IF_MATCH).map(|value| value.to_str().unwrap_or_default().trim());
        let quoted = |text: &str| text.strip_prefix('"')?.strip_suffix('"')?.parse().ok();
        std::future::ready(Ok(match given {
            None => IfMatch::Missing,
            Some("*") => IfMatch::Any,
            Some(text) => quoted(text).map_or(IfMatch::Never, IfMatch::Version),
        }))
    }
}
