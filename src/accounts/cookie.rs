//! Browser sessions: an opaque token in a cookie, stored as its digest.
//!
//! A browser's token is no refresh token and is never exchanged: the two differ in their prefix, so neither passes for
//! the other.

use super::refresh::Lifetimes;
use super::{RandomnessError, random};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};

/// What every browser token starts with, so that scanners for leaked secrets can recognize one.
pub const PREFIX: &str = "efb_";

/// The cookie's name over TLS: a browser then takes it from this host alone, and over TLS alone.
pub const NAME: &str = "__Host-ef";

/// The cookie's name on plain loopback, where browsers would refuse the other.
pub const LOOPBACK_NAME: &str = "ef";

/// Makes a new token: `efb_` and 32 random bytes as base64url.
///
/// # Errors
/// When the operating system gives no random bytes.
pub fn generate() -> Result<String, RandomnessError> {
    Ok(format!("{PREFIX}{}", URL_SAFE_NO_PAD.encode(random::<32>()?)))
}

/// Tells whether a text has the form of a browser token, which spares a look into the database.
pub fn is_well_formed(text: &str) -> bool {
    text.strip_prefix(PREFIX).is_some_and(|rest| URL_SAFE_NO_PAD.decode(rest).is_ok_and(|bytes| bytes.len() == 32))
}

/// Returns how long a browser stays signed in.
pub fn lifetimes(is_organizer: bool) -> Lifetimes {
    if is_organizer { Lifetimes::ORGANIZER_BROWSER } else { Lifetimes::MEMBER }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::accounts::refresh;

    #[test]
    fn neither_kind_of_token_passes_for_the_other() {
        let (browser, phone) = (generate().unwrap(), refresh::generate().unwrap());
        assert!(is_well_formed(&browser) && !refresh::is_well_formed(&browser));
        assert!(refresh::is_well_formed(&phone) && !is_well_formed(&phone));
        assert!(!is_well_formed("efb_") && !is_well_formed(&format!("{browser}A")));
    }
}
