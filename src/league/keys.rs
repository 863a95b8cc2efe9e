//! Idempotency keys: the same request sent again gets the same answer again.

use super::{Caller, Refusal};
use crate::league::round::kept_answers;
use crate::storage::Conn;
use crate::storage::idempotency::{self, Reply};
use jiff::Timestamp;
use uuid::Uuid;

/// The key of a request, with what it stands for.
#[derive(Clone, Debug)]
pub struct RequestKey {
    /// Who sent it.
    pub caller: Caller,
    /// Method and route.
    pub operation: String,
    /// The key; without one nothing is kept.
    pub key: Option<Uuid>,
    /// SHA-256 of the body in canonical form.
    pub body_hash: [u8; 32],
    /// When it came in.
    pub now: Timestamp,
}

impl RequestKey {
    /// A request without a key: nothing is kept of it.
    pub fn none(caller: Caller, now: Timestamp) -> Self {
        Self { caller, operation: String::new(), key: None, body_hash: [0; 32], now }
    }

    /// Returns the answer that was given under this key. Call it once the caller's permission is clear.
    ///
    /// # Errors
    /// [`Refusal::KeyReused`] where the key answered another body.
    pub async fn replay(&self, conn: &mut Conn) -> Result<Option<Reply>, Refusal> {
        let Some(key) = self.key else { return Ok(None) };
        match idempotency::get(conn, self.caller.account, &self.operation, key).await? {
            Some((hash, _)) if hash != self.body_hash => Err(Refusal::KeyReused),
            Some((_, reply)) => Ok(Some(kept_answers::whole(conn, reply).await?)),
            None => Ok(None),
        }
    }

    /// Keeps an answer under the key, in the transaction of its effect.
    ///
    /// # Errors
    /// A failed database.
    pub async fn keep(&self, conn: &mut Conn, reply: Reply) -> Result<Reply, Refusal> {
        if let Some(key) = self.key {
            let (account, hash) = (self.caller.account, self.body_hash);
            idempotency::keep(conn, account, &self.operation, key, hash, &reply, self.now).await?;
        }
        Ok(reply)
    }
}

/// Makes the answer to something created.
pub fn created(location: String, version: i64, body: &impl serde::Serialize) -> Reply {
    Reply {
        status: 201,
        body: serde_json::to_string(body).expect("answers are plain values with text keys"),
        etag: Some(version.to_string()),
        location: Some(location),
        is_replay: false,
    }
}
