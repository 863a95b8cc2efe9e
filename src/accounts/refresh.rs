//! Refresh tokens: random, stored as digests, exchanged at each use.
//!
//! A token is spent by its first use and followed by a successor; the tokens of one sign-in form a family. A phone
//! whose answer got lost presents the spent token again. For [`GRACE`], and while the successor is unspent, it is
//! handed *the same* successor: never a second one, which would be a fork. Any other use of a spent token means that
//! two parties hold it, and ends the family.
//!
//! The server keeps digests only, so it could not repeat a successor. It therefore keeps the successor sealed under a
//! key derived from the presented token: whoever reads the database learns nothing, whoever presents the token again
//! gets it back.

use super::{RandomnessError, random};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chacha20poly1305::{
    ChaCha20Poly1305, Nonce,
    aead::{Aead, KeyInit, Payload},
};
use hmac::{Hmac, Mac};
use jiff::{SignedDuration, Timestamp};
use sha2::{Digest, Sha256};

/// What every refresh token starts with, so that scanners for leaked secrets can recognize one.
pub const PREFIX: &str = "efr_";

/// For how long a spent token is answered with its successor once more.
pub const GRACE: SignedDuration = SignedDuration::from_secs(60);

const KEY_LABEL: &[u8] = b"evenfield refresh successor key 1";
const NONCE_LABEL: &[u8] = b"evenfield refresh successor nonce 1";
const NONCE_BYTES: usize = 12;

/// Makes a new refresh token: `efr_` and 32 random bytes as base64url.
///
/// # Errors
/// When the operating system gives no random bytes.
pub fn generate() -> Result<String, RandomnessError> {
    Ok(format!("{PREFIX}{}", URL_SAFE_NO_PAD.encode(random::<32>()?)))
}

/// Tells whether a text has the form of a refresh token, which spares a look into the database.
pub fn is_well_formed(text: &str) -> bool {
    // 43 characters hold 32 bytes; the decoder refuses a second spelling of the last one.
    text.len() == PREFIX.len() + 43
        && text.strip_prefix(PREFIX).is_some_and(|rest| URL_SAFE_NO_PAD.decode(rest).is_ok_and(|b| b.len() == 32))
}

/// Returns the digest under which a token is stored. 256 random bits need no slow hash.
pub fn hash(token: &str) -> [u8; 32] {
    Sha256::digest(token).into()
}

/// Encrypts a successor so that only the presented token opens it: a nonce, then ChaCha20-Poly1305 ciphertext.
///
/// # Formula
/// ```text
/// key   = HMAC-SHA-256(presented, "evenfield refresh successor key 1")
/// nonce = HMAC-SHA-256(presented, "evenfield refresh successor nonce 1" ‖ successor), first 12 bytes
/// ```
/// The token's 256 random bits make the key. The nonce depends on what is sealed, so two servers that race to rotate
/// the same token never seal two texts under one nonce.
pub fn seal(successor: &str, presented: &str) -> Vec<u8> {
    let derived = derive(presented, &[NONCE_LABEL, successor.as_bytes()]);
    let mut nonce = [0; NONCE_BYTES];
    nonce.copy_from_slice(&derived[..NONCE_BYTES]);
    let sealed = cipher(presented)
        .encrypt(&Nonce::from(nonce), Payload { msg: successor.as_bytes(), aad: KEY_LABEL })
        .expect("a token is shorter than the 256 GiB that the cipher takes");
    [&nonce[..], &sealed].concat()
}

/// Decrypts what [`seal`] made, or returns `None` for another token, altered bytes, or what was never a token.
pub fn open(sealed: &[u8], presented: &str) -> Option<String> {
    let (nonce, sealed) = sealed.split_first_chunk::<NONCE_BYTES>()?;
    let payload = Payload { msg: sealed, aad: KEY_LABEL };
    let successor = cipher(presented).decrypt(&Nonce::from(*nonce), payload).ok()?;
    String::from_utf8(successor).ok()
}

fn cipher(presented: &str) -> ChaCha20Poly1305 {
    ChaCha20Poly1305::new(&derive(presented, &[KEY_LABEL]).into())
}

fn derive(presented: &str, message: &[&[u8]]) -> [u8; 32] {
    let mut mac =
        <Hmac<Sha256> as KeyInit>::new_from_slice(presented.as_bytes()).expect("HMAC takes keys of any length");
    message.iter().for_each(|part| mac.update(part));
    mac.finalize().into_bytes().into()
}

/// How long a session lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lifetimes {
    /// Without being used.
    pub idle: SignedDuration,
    /// Since its sign-in, used or not.
    pub absolute: SignedDuration,
}

impl Lifetimes {
    /// A member's: 14 days idle, 90 days in all.
    pub const MEMBER: Self =
        Self { idle: SignedDuration::from_hours(14 * 24), absolute: SignedDuration::from_hours(90 * 24) };
    /// An organizer's in a browser: 12 hours idle, 7 days in all.
    pub const ORGANIZER_BROWSER: Self =
        Self { idle: SignedDuration::from_hours(12), absolute: SignedDuration::from_hours(7 * 24) };

    /// Returns the instant from which a session is over.
    pub fn ends_at(self, created_at: Timestamp, last_used_at: Timestamp) -> Timestamp {
        let end = |from: Timestamp, after| from.checked_add(after).unwrap_or(Timestamp::MAX);
        end(created_at, self.absolute).min(end(last_used_at, self.idle))
    }
}

/// What the database knows of a presented token and its session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RefreshState {
    /// When the token was exchanged, if it was.
    pub spent_at: Option<Timestamp>,
    /// Whether the token that it was exchanged for is spent too.
    pub successor_spent: bool,
    /// Whether the session was ended: signed out, revoked, or its family ended.
    pub session_ended: bool,
    /// When the session was signed in.
    pub session_created_at: Timestamp,
    /// When the session was last used.
    pub last_used_at: Timestamp,
}

/// What to do with a presented refresh token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RefreshDecision {
    /// Spend it and hand out a successor.
    Rotate,
    /// Hand out the sealed successor again and change nothing. Where it does not [`open`], end the family.
    Repeat,
    /// End the session with all its tokens, log it, and answer 401.
    EndFamily,
    /// The session is over already: answer 401.
    Refuse,
}

/// Decides what a presented refresh token gets.
///
/// The caller reads the state, decides and writes in one transaction; else two parallel uses both rotate.
pub fn decide(state: RefreshState, now: Timestamp, lifetimes: Lifetimes) -> RefreshDecision {
    if state.session_ended || now >= lifetimes.ends_at(state.session_created_at, state.last_used_at) {
        return RefreshDecision::Refuse;
    }
    match state.spent_at {
        None => RefreshDecision::Rotate,
        // A clock that was set back makes the time since negative, which is within the grace.
        Some(at) if !state.successor_spent && now.duration_since(at) <= GRACE => RefreshDecision::Repeat,
        Some(_) => RefreshDecision::EndFamily,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use RefreshDecision::*;
    use proptest::prelude::*;

    const HOUR: i64 = 3_600;
    const DAY: i64 = 24 * HOUR;
    const START: i64 = 1_790_000_000;

    fn at(seconds: i64) -> Timestamp {
        Timestamp::from_second(START + seconds).unwrap()
    }

    fn unspent() -> RefreshState {
        RefreshState {
            spent_at: None,
            successor_spent: false,
            session_ended: false,
            session_created_at: at(0),
            last_used_at: at(0),
        }
    }

    fn check(state: RefreshState, now: i64, expect: RefreshDecision) {
        assert_eq!(decide(state, at(now), Lifetimes::MEMBER), expect, "{state:?} after {now} s");
    }

    #[test]
    fn a_new_token_has_its_prefix_and_256_bits() {
        let token = generate().unwrap();
        assert!(is_well_formed(&token));
        assert_ne!(token, generate().unwrap());
        assert_eq!(URL_SAFE_NO_PAD.decode(&token[4..]).unwrap().len(), 32);
    }

    #[test]
    fn what_is_not_a_token_is_not_well_formed() {
        let token = format!("efr_{}", "A".repeat(43));
        assert!(is_well_formed(&token));
        let second_spelling = format!("{}B", &token[..46]);
        for text in ["", "efr_", &token[1..], &token[..46], &format!("{token}A"), &second_spelling] {
            assert!(!is_well_formed(text), "{text}");
        }
        assert!(!is_well_formed(&format!("EFR_{}", "A".repeat(43))));
        assert!(!is_well_formed(&format!("efr_{}", "+".repeat(43))));
        assert!(!is_well_formed(&format!("efr_{}é", "A".repeat(41))));
    }

    #[test]
    fn the_digest_is_sha_256() {
        let digest = data_encoding::HEXLOWER.encode(&hash("abc")); // FIPS 180-2, appendix B.1
        assert_eq!(digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn the_presented_token_opens_its_successor_and_no_other_does() {
        let (first, second, other) = (generate().unwrap(), generate().unwrap(), generate().unwrap());
        let sealed = seal(&second, &first);
        assert_eq!(open(&sealed, &first), Some(second.clone()));
        assert_eq!(open(&sealed, &other), None);
        assert_eq!(open(&sealed, &second), None);
    }

    #[test]
    fn sealing_shows_neither_token_and_two_successors_never_share_a_nonce() {
        let (first, second, third) = (generate().unwrap(), generate().unwrap(), generate().unwrap());
        let sealed = seal(&second, &first);
        for secret in [&first, &second] {
            assert!(!sealed.windows(16).any(|window| window == &secret.as_bytes()[..16]));
        }
        assert!(!sealed.windows(8).any(|window| window == &hash(&first)[..8]));
        assert_ne!(sealed[..NONCE_BYTES], seal(&third, &first)[..NONCE_BYTES]);
    }

    #[test]
    fn a_seal_with_any_byte_altered_or_cut_does_not_open() {
        let (first, second) = (generate().unwrap(), generate().unwrap());
        let sealed = seal(&second, &first);
        for place in 0..sealed.len() {
            let mut altered = sealed.clone();
            altered[place] ^= 1;
            assert_eq!(open(&altered, &first), None, "byte {place}");
            assert_eq!(open(&sealed[..place], &first), None, "cut at {place}");
        }
    }

    #[test]
    fn an_unspent_token_rotates() {
        check(unspent(), 0, Rotate);
        check(unspent(), 14 * DAY - 1, Rotate);
    }

    #[test]
    fn a_lost_answer_is_repeated_for_sixty_seconds() {
        let spent = RefreshState { spent_at: Some(at(100)), last_used_at: at(100), ..unspent() };
        check(spent, 100, Repeat);
        check(spent, 160, Repeat);
        check(spent, 161, EndFamily);
    }

    #[test]
    fn a_token_whose_successor_is_spent_ends_the_family_at_once() {
        check(RefreshState { spent_at: Some(at(100)), successor_spent: true, ..unspent() }, 101, EndFamily);
    }

    #[test]
    fn a_clock_set_back_does_not_sign_an_honest_phone_out() {
        check(RefreshState { spent_at: Some(at(HOUR)), ..unspent() }, 10, Repeat);
        check(unspent(), -HOUR, Rotate);
    }

    #[test]
    fn an_ended_session_refuses_every_token() {
        check(RefreshState { session_ended: true, ..unspent() }, 1, Refuse);
        check(RefreshState { session_ended: true, spent_at: Some(at(0)), ..unspent() }, 1, Refuse);
    }

    #[test]
    fn a_session_ends_after_14_idle_days_or_90_days_in_all() {
        check(unspent(), 14 * DAY, Refuse);
        let used = RefreshState { last_used_at: at(89 * DAY), ..unspent() };
        check(used, 90 * DAY - 1, Rotate);
        check(used, 90 * DAY, Refuse);
    }

    #[test]
    fn an_organizers_browser_session_ends_after_12_idle_hours_or_7_days() {
        let decide = |state, now| super::decide(state, at(now), Lifetimes::ORGANIZER_BROWSER);
        assert_eq!(decide(unspent(), 12 * HOUR - 1), Rotate);
        assert_eq!(decide(unspent(), 12 * HOUR), Refuse);
        let used = RefreshState { last_used_at: at(7 * DAY - 1), ..unspent() };
        assert_eq!(decide(used, 7 * DAY - 1), Rotate);
        assert_eq!(decide(used, 7 * DAY), Refuse);
    }

    proptest! {
        #[test]
        fn no_bytes_make_opening_panic(bytes in prop::collection::vec(any::<u8>(), 0..120), token in ".{0,60}") {
            prop_assert_eq!(open(&bytes, &token), None);
        }

        #[test]
        fn a_spent_token_never_rotates(
            spent in any::<i32>(), now in any::<i32>(), successor_spent: bool, session_ended: bool,
        ) {
            let spent_at = Some(at(spent.into()));
            let state = RefreshState { spent_at, successor_spent, session_ended, ..unspent() };
            prop_assert_ne!(decide(state, at(now.into()), Lifetimes::MEMBER), Rotate);
        }
    }
}
