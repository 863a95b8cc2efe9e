//! Who may sign in: passwords, tokens, invitation codes and the brake on guessing.
//!
//! These are the parts that know neither HTTP nor the database. Each file is one concept:
//!
//! | file | concept |
//! |---|---|
//! | [`password`] | which passwords are accepted, and how they are stored and compared |
//! | [`token`] | access tokens: signed, ten minutes, no roles inside |
//! | [`refresh`] | refresh tokens: random, rotated at each use, with a minute's grace |
//! | [`cookie`] | browser sessions: an opaque token in a cookie |
//! | [`code`] | invitation codes |
//! | [`reset`] | codes for a new password |
//! | [`secret_address`] | codes in addresses that are read without an account |
//! | [`device`] | what a session was begun on, in words |
//! | [`throttle`] | how long a sign-in has to wait after failures |
//!
//! No function here reads a clock: "now" is an argument. Random bytes come from the operating system. A secret is
//! never part of an error or of a `Debug` text, and only digests of refresh tokens and codes are meant for storage.
//!
//! # The order of a sign-in
//!
//! 1. [`throttle::Throttle::peek`]: refuses cheaply what would be refused anyway.
//! 2. [`password::Hasher::turn`]: waits for a place to hash, or is told that the server is busy.
//! 3. [`throttle::Throttle::check`]: charges the attempt. It comes after the wait, so that many attempts sent at
//!    once are judged one after the other and not all before the first has failed.
//! 4. [`password::Hasher::verify_on`], also when there is no such account.
//! 5. [`throttle::Throttle::succeeded`], [`throttle::Throttle::failed`], or [`throttle::Throttle::abandoned`] when
//!    step 4 answered neither.

pub mod code;
pub mod cookie;
pub mod device;
pub mod keys;
pub mod password;
pub mod refresh;
pub mod reset;
pub mod secret_address;
mod signing;
pub mod throttle;
pub mod token;

/// The operating system gave no random bytes, so nothing secret can be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the operating system gave no random bytes ({0})")]
pub struct RandomnessError(getrandom::Error);

/// Returns random bytes of the operating system.
pub(crate) fn random<const N: usize>() -> Result<[u8; N], RandomnessError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(RandomnessError)?;
    Ok(bytes)
}
