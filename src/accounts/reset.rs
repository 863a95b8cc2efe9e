//! Codes for a new password: 256 random bits, used once, for half an hour.

use super::{RandomnessError, random};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use jiff::SignedDuration;
use sha2::{Digest, Sha256};

/// What every such code starts with, so that scanners for leaked secrets can recognize one.
pub const PREFIX: &str = "efp_";

/// For how long a code is good (S4).
pub const LIFETIME: SignedDuration = SignedDuration::from_mins(30);

/// Makes a new code: `efp_` and 32 random bytes as base64url.
///
/// # Errors
/// When the operating system gives no random bytes.
pub fn generate() -> Result<String, RandomnessError> {
    Ok(format!("{PREFIX}{}", URL_SAFE_NO_PAD.encode(random::<32>()?)))
}

/// Returns the digest under which a code is stored, or `None` for a text that cannot be one.
pub fn hash(text: &str) -> Option<[u8; 32]> {
    let rest = text.trim().strip_prefix(PREFIX)?;
    let is_code = URL_SAFE_NO_PAD.decode(rest).is_ok_and(|bytes| bytes.len() == 32);
    is_code.then(|| Sha256::digest(text.trim()).into())
}
