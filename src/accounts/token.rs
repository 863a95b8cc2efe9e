//! Access tokens: JSON Web Tokens for ten minutes, signed with HMAC-SHA-256.
//!
//! A token says who holds it and by which session, and nothing about what the holder may do: roles are read for each
//! request, so a demotion bites at once. The key decides the algorithm, never the token's header; the header's `jku`,
//! `jwk`, `x5u` and `x5c` are never looked at.
//!
//! The library's own check of the times is off: it reads the system clock, and takes fractions. Claims are read
//! into strict types here and compared with the given instant.
//!
//! # Source
//! RFC 7519 (JSON Web Token), RFC 8725 (best current practices), RFC 9068 (`at+jwt`).

use super::keys::{Key, KeyRing, LIFETIME};
use super::{RandomnessError, random, signing};
use crate::domain::ids::AccountId;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use jiff::{SignedDuration, Timestamp};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};
use std::sync::{Arc, PoisonError, RwLock};
use uuid::Uuid;

/// By how much two servers' clocks may differ.
pub const LEEWAY: SignedDuration = SignedDuration::from_secs(5);
/// The longest token that is looked at, in bytes.
pub const MAX_BYTES: usize = 4_096;
/// Whom the tokens are for.
pub const AUDIENCE: &str = "evenfield";

const TYPE: &str = "at+jwt";
const ALGORITHM: Algorithm = Algorithm::HS256;
const ALGORITHM_NAME: &str = "HS256";

/// A session: one sign-in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SessionId(pub Uuid);

/// Who presented a valid token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Holder {
    /// The account.
    pub account: AccountId,
    /// The session that the token belongs to; whether it still lasts is for the caller to look up.
    pub session: SessionId,
}

/// Why a token was refused. All of them are one and the same 401; the difference is for the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TokenError {
    /// Longer than [`MAX_BYTES`].
    #[error("the token is longer than {MAX_BYTES} bytes")]
    TooLong,
    /// Not three parts, or not base64url, or not JSON.
    #[error("the token is malformed")]
    Malformed,
    /// The header's `typ`, `alg` or `crit` is not what we write.
    #[error("the token's header is not that of an access token")]
    Header,
    /// The header names no key, or none that is in use.
    #[error("the token's key is unknown")]
    UnknownKey,
    /// The signature is not ours.
    #[error("the token's signature is wrong")]
    Signature,
    /// A claim is missing, of the wrong type, or not what we write.
    #[error("the token's claims are not those of an access token")]
    Claims,
    /// `exp` has passed.
    #[error("the token has expired")]
    Expired,
    /// `nbf` or `iat` lies ahead.
    #[error("the token is not valid yet")]
    NotYet,
}

/// Why no token could be made.
#[derive(Debug, thiserror::Error)]
pub enum IssueError {
    /// No random bytes for the token's id.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// The clock stands before 1970.
    #[error("the time {0} cannot be written into a token")]
    Time(Timestamp),
    /// Signing failed.
    #[error("a token could not be signed")]
    Signing(#[source] jsonwebtoken::errors::Error),
    /// A token that was just signed was refused.
    #[error("a token signed at the start was refused")]
    SelfCheck(#[source] TokenError),
}

/// The keys, and whose tokens they are.
#[derive(Clone, Debug)]
pub struct TokenKeys {
    /// What signs and verifies when.
    pub ring: KeyRing,
    /// Who signs: the configured origin of this server.
    pub issuer: String,
}

#[derive(Serialize, Deserialize)]
struct Claims {
    exp: u64,
    iat: u64,
    nbf: u64,
    iss: String,
    aud: String,
    sub: AccountId,
    sid: SessionId,
    jti: Uuid,
}

/// The parts of a header that count. All else is ignored.
#[derive(Deserialize)]
struct Heading {
    alg: String,
    typ: String,
    kid: Option<String>,
    crit: Option<serde_json::Value>,
}

impl TokenKeys {
    /// Makes a token for a session.
    pub fn issue(&self, account: AccountId, session: SessionId, now: Timestamp) -> Result<String, IssueError> {
        let iat = u64::try_from(now.as_second()).map_err(|_| IssueError::Time(now))?;
        let claims = Claims {
            exp: iat + LIFETIME.as_secs().unsigned_abs(),
            iat,
            nbf: iat,
            iss: self.issuer.clone(),
            aud: AUDIENCE.to_owned(),
            sub: account,
            sid: session,
            jti: uuid::Builder::from_random_bytes(random()?).into_uuid(),
        };
        signing::install();
        let key = self.ring.signing(now);
        let header = Header { typ: Some(TYPE.to_owned()), kid: Some(key.id.clone()), ..Header::new(ALGORITHM) };
        jsonwebtoken::encode(&header, &claims, &EncodingKey::from_secret(&key.secret)).map_err(IssueError::Signing)
    }

    /// Returns who holds a token, if it is one of ours and valid now.
    pub fn verify(&self, token: &str, now: Timestamp) -> Result<Holder, TokenError> {
        if token.len() > MAX_BYTES {
            return Err(TokenError::TooLong);
        }
        let key = self.key_of(&heading(token)?, now)?;
        let claims = signed_claims(token, key, &self.issuer)?;
        check_claims(&claims, &self.issuer, now)?;
        Ok(Holder { account: claims.sub, session: claims.sid })
    }

    /// Signs and verifies once, so that a build without its cryptography fails at the start and not at a sign-in.
    pub fn self_check(&self, now: Timestamp) -> Result<(), IssueError> {
        let holder = Holder { account: AccountId(Uuid::nil()), session: SessionId(Uuid::nil()) };
        let token = self.issue(holder.account, holder.session, now)?;
        match self.verify(&token, now) {
            Ok(found) if found == holder => Ok(()),
            Ok(_) => Err(IssueError::SelfCheck(TokenError::Claims)),
            Err(error) => Err(IssueError::SelfCheck(error)),
        }
    }

    fn key_of(&self, heading: &Heading, now: Timestamp) -> Result<&Key, TokenError> {
        let kid = heading.kid.as_deref().ok_or(TokenError::UnknownKey)?;
        self.ring.named(kid, now).ok_or(TokenError::UnknownKey)
    }
}

/// The keys of a server that runs, which are exchanged while it does.
#[derive(Debug)]
pub struct LiveKeys(RwLock<Arc<TokenKeys>>);

impl LiveKeys {
    /// Starts with these.
    pub fn new(keys: TokenKeys) -> Self {
        Self(RwLock::new(Arc::new(keys)))
    }

    /// Returns the present ones.
    pub fn now(&self) -> Arc<TokenKeys> {
        Arc::clone(&self.0.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// Goes on with others; says whether they are others.
    pub fn go_on_with(&self, ring: &KeyRing) -> bool {
        let mut keys = self.0.write().unwrap_or_else(PoisonError::into_inner);
        let are_others = keys.ring != *ring;
        if are_others {
            *keys = Arc::new(TokenKeys { ring: ring.clone(), issuer: keys.issuer.clone() });
        }
        are_others
    }
}

fn heading(token: &str) -> Result<Heading, TokenError> {
    let mut parts = token.split('.');
    let (Some(header), Some(_), Some(_), None) = (parts.next(), parts.next(), parts.next(), parts.next()) else {
        return Err(TokenError::Malformed);
    };
    let header = URL_SAFE_NO_PAD.decode(header).map_err(|_| TokenError::Malformed)?;
    let heading: Heading = serde_json::from_slice(&header).map_err(|_| TokenError::Header)?;
    if heading.alg != ALGORITHM_NAME || heading.typ != TYPE || heading.crit.is_some() {
        return Err(TokenError::Header);
    }
    Ok(heading)
}

fn signed_claims(token: &str, key: &Key, issuer: &str) -> Result<Claims, TokenError> {
    use jsonwebtoken::errors::ErrorKind;
    let mut validation = Validation::new(ALGORITHM);
    validation.set_required_spec_claims(&["exp", "nbf", "iss", "aud", "sub"]);
    validation.set_issuer(&[issuer]);
    validation.set_audience(&[AUDIENCE]);
    validation.validate_exp = false; // checked in `check_claims`, against the given instant
    validation.validate_nbf = false;
    signing::install();
    match jsonwebtoken::decode(token, &DecodingKey::from_secret(&key.secret), &validation) {
        Ok(data) => Ok(data.claims),
        Err(error) => Err(match error.kind() {
            ErrorKind::InvalidSignature | ErrorKind::Base64(_) => TokenError::Signature,
            ErrorKind::InvalidAlgorithm => TokenError::Header,
            _ => TokenError::Claims,
        }),
    }
}

fn check_claims(claims: &Claims, issuer: &str, now: Timestamp) -> Result<(), TokenError> {
    let (lifetime, leeway) = (LIFETIME.as_secs().unsigned_abs(), LEEWAY.as_secs().unsigned_abs());
    let now = u64::try_from(now.as_second()).map_err(|_| TokenError::NotYet)?;
    if claims.iss != issuer || claims.aud != AUDIENCE || claims.exp > claims.iat.saturating_add(lifetime) {
        return Err(TokenError::Claims);
    }
    if claims.nbf.max(claims.iat) > now.saturating_add(leeway) {
        return Err(TokenError::NotYet);
    }
    if now >= claims.exp.saturating_add(leeway) {
        return Err(TokenError::Expired);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use hmac::{Hmac, KeyInit, Mac};
    use proptest::prelude::*;
    use serde_json::{Value, json};
    use sha2::{Sha256, Sha384};

    const NOW: i64 = 1_790_000_000;
    const ISSUER: &str = "https://league.example.org";

    fn at(seconds: i64) -> Timestamp {
        Timestamp::from_second(NOW + seconds).unwrap()
    }

    fn keys() -> TokenKeys {
        TokenKeys { ring: KeyRing::of(Key::generate().unwrap()), issuer: ISSUER.to_owned() }
    }

    fn key(keys: &TokenKeys) -> &Key {
        keys.ring.signing(at(0))
    }

    fn with_another_secret(keys: &TokenKeys) -> TokenKeys {
        TokenKeys { ring: KeyRing::of(Key { secret: [7; 32], ..key(keys).clone() }), ..keys.clone() }
    }

    fn holder() -> Holder {
        Holder { account: AccountId(Uuid::from_u128(7)), session: SessionId(Uuid::from_u128(8)) }
    }

    fn issue(keys: &TokenKeys) -> String {
        keys.issue(holder().account, holder().session, at(0)).unwrap()
    }

    fn header(keys: &TokenKeys) -> Value {
        json!({ "typ": "at+jwt", "alg": "HS256", "kid": key(keys).id })
    }

    fn claims() -> Value {
        json!({
            "exp": NOW + 600, "iat": NOW, "nbf": NOW, "iss": ISSUER, "aud": "evenfield",
            "sub": holder().account, "sid": holder().session, "jti": Uuid::from_u128(9),
        })
    }

    /// Returns a message's code under the current key, as a token ends with it.
    fn mac<M: Mac + KeyInit>(keys: &TokenKeys, message: &str) -> String {
        let mut mac = <M as KeyInit>::new_from_slice(&key(keys).secret).unwrap();
        mac.update(message.as_bytes());
        URL_SAFE_NO_PAD.encode(mac.finalize().into_bytes())
    }

    /// Signs any header and claims with the current key, as nobody but the server could.
    fn sign(keys: &TokenKeys, header: &Value, claims: &Value) -> String {
        sign_text(keys, &header.to_string(), &claims.to_string())
    }

    fn sign_text(keys: &TokenKeys, header: &str, claims: &str) -> String {
        let message = format!("{}.{}", URL_SAFE_NO_PAD.encode(header), URL_SAFE_NO_PAD.encode(claims));
        let signature = mac::<Hmac<Sha256>>(keys, &message);
        format!("{message}.{signature}")
    }

    fn with(mut object: Value, name: &str, value: Value) -> Value {
        object[name] = value;
        object
    }

    fn without(mut object: Value, name: &str) -> Value {
        object.as_object_mut().unwrap().remove(name).unwrap();
        object
    }

    fn check(keys: &TokenKeys, token: &str, expect: Result<Holder, TokenError>) {
        assert_eq!(keys.verify(token, at(0)), expect, "{token}");
    }

    #[test]
    fn a_token_names_its_holder() {
        let keys = keys();
        check(&keys, &issue(&keys), Ok(holder()));
        check(&keys, &sign(&keys, &header(&keys), &claims()), Ok(holder()));
    }

    #[test]
    fn a_token_says_who_and_when_and_nothing_about_roles() {
        let keys = keys();
        let token = issue(&keys);
        let part = |index| -> Value {
            let text = URL_SAFE_NO_PAD.decode(token.split('.').nth(index).unwrap()).unwrap();
            serde_json::from_slice(&text).unwrap()
        };
        assert_eq!(part(0), header(&keys));
        let jti = part(1)["jti"].clone();
        assert_eq!(part(1), with(claims(), "jti", jti));
        assert_ne!(token, issue(&keys), "each token has an id of its own");
    }

    #[test]
    fn the_algorithm_is_the_keys_and_not_the_headers() {
        let keys = keys();
        for alg in ["none", "None", "NoNe", "NONE", "", "hs256", "HS384", "HS512", "RS256", "ES256", "EdDSA"] {
            let forged = with(header(&keys), "alg", json!(alg));
            check(&keys, &sign(&keys, &forged, &claims()), Err(TokenError::Header));
            let unsigned = sign(&keys, &forged, &claims());
            let unsigned = unsigned.rsplit_once('.').unwrap().0;
            check(&keys, &format!("{unsigned}."), Err(TokenError::Header));
        }
        check(&keys, &sign(&keys, &without(header(&keys), "alg"), &claims()), Err(TokenError::Header));
        check(&keys, &sign(&keys, &with(header(&keys), "alg", json!(["HS256"])), &claims()), Err(TokenError::Header));
    }

    #[test]
    fn a_token_signed_with_hs384_under_our_key_is_refused_whatever_it_claims() {
        let keys = keys();
        for alg in ["HS384", "HS256"] {
            let header = with(header(&keys), "alg", json!(alg)).to_string();
            let message =
                format!("{}.{}", URL_SAFE_NO_PAD.encode(header), URL_SAFE_NO_PAD.encode(claims().to_string()));
            let signature = mac::<Hmac<Sha384>>(&keys, &message);
            assert!(keys.verify(&format!("{message}.{signature}"), at(0)).is_err(), "{alg}");
        }
    }

    #[test]
    fn a_signature_that_is_empty_missing_foreign_or_altered_is_refused() {
        let keys = keys();
        let token = issue(&keys);
        let (message, signature) = token.rsplit_once('.').unwrap();
        check(&keys, message, Err(TokenError::Malformed));
        check(&keys, &format!("{message}."), Err(TokenError::Signature));
        check(&keys, &format!("{token}."), Err(TokenError::Malformed));
        check(&keys, &format!("{token}="), Err(TokenError::Signature));
        check(&keys, &format!("{message}.{}", &signature[..42]), Err(TokenError::Signature));
        let stranger = with_another_secret(&keys);
        check(&keys, &issue(&stranger), Err(TokenError::Signature));
    }

    #[test]
    fn any_altered_character_is_refused() {
        let keys = keys();
        let token = issue(&keys);
        for place in 0..token.len() {
            for other in ['A', 'B', '.', '=', ' '] {
                let altered = format!("{}{other}{}", &token[..place], &token[place + 1..]);
                assert!(altered == token || keys.verify(&altered, at(0)).is_err(), "{other:?} at {place}");
            }
        }
    }

    #[test]
    fn every_claim_is_required_and_of_its_type() {
        let keys = keys();
        for name in ["exp", "iat", "nbf", "iss", "aud", "sub", "sid", "jti"] {
            check(&keys, &sign(&keys, &header(&keys), &without(claims(), name)), Err(TokenError::Claims));
            for odd in
                [json!(null), json!({}), json!([]), json!(true), json!(-1), json!(1.5), json!("never"), json!("")]
            {
                check(&keys, &sign(&keys, &header(&keys), &with(claims(), name, odd)), Err(TokenError::Claims));
            }
        }
    }

    #[test]
    fn a_signed_token_with_odd_claims_is_refused() {
        let keys = keys();
        let table = [
            ("exp", json!("never")),
            ("exp", json!((NOW + 600).to_string())),
            ("exp", json!(NOW as f64 + 600.0)),
            ("exp", json!(-5)),
            ("exp", json!(u64::MAX)),
            ("exp", json!(NOW + 601)), // longer than we ever sign
            ("nbf", json!("9999999999")),
            ("nbf", json!(-1)),
            ("nbf", json!(NOW as f64)),
            ("aud", json!({})),
            ("aud", json!("another")),
            ("aud", json!(["evenfield"])),
            ("aud", json!(["another", "evenfield"])),
            ("iss", json!("https://evil.example")),
            ("iss", json!([ISSUER])),
            ("iss", json!("https://league.example.org/")),
            ("sub", json!("admin")),
            ("sub", json!("' OR 1=1")),
        ];
        for (name, value) in table {
            check(&keys, &sign(&keys, &header(&keys), &with(claims(), name, value)), Err(TokenError::Claims));
        }
        for (name, value) in [("nbf", json!(9_999_999_999_u64)), ("nbf", json!(u64::MAX)), ("nbf", json!(NOW + 6))] {
            check(&keys, &sign(&keys, &header(&keys), &with(claims(), name, value)), Err(TokenError::NotYet));
        }
        let huge = claims().to_string().replace(&format!("\"exp\":{}", NOW + 600), "\"exp\":1e400");
        check(&keys, &sign_text(&keys, &header(&keys).to_string(), &huge), Err(TokenError::Claims));
    }

    #[test]
    fn a_claim_or_header_named_twice_is_refused() {
        let keys = keys();
        let twice = |object: Value, addition: &str| format!("{{{addition},{}", &object.to_string()[1..]);
        let claims_twice = twice(claims(), "\"exp\":1");
        assert!(keys.verify(&sign_text(&keys, &header(&keys).to_string(), &claims_twice), at(0)).is_err());
        let header_twice = twice(header(&keys), "\"alg\":\"none\"");
        check(&keys, &sign_text(&keys, &header_twice, &claims().to_string()), Err(TokenError::Header));
    }

    #[test]
    fn a_token_lives_ten_minutes_and_five_seconds_of_leeway() {
        let keys = keys();
        let token = issue(&keys);
        assert_eq!(keys.verify(&token, at(600 + 4)), Ok(holder()));
        assert_eq!(keys.verify(&token, at(600 + 5)), Err(TokenError::Expired));
        assert_eq!(keys.verify(&token, at(600 + 6)), Err(TokenError::Expired));
        assert_eq!(keys.verify(&token, at(-5)), Ok(holder()));
        assert_eq!(keys.verify(&token, at(-6)), Err(TokenError::NotYet));
        let ago = |seconds| with(with(claims(), "exp", json!(NOW - seconds)), "iat", json!(NOW - 300));
        check(&keys, &sign(&keys, &header(&keys), &ago(4)), Ok(holder()));
        check(&keys, &sign(&keys, &header(&keys), &ago(6)), Err(TokenError::Expired));
    }

    #[test]
    fn a_clock_before_1970_makes_and_takes_no_token() {
        let (keys, early) = (keys(), Timestamp::from_second(-1).unwrap());
        assert!(matches!(keys.issue(holder().account, holder().session, early), Err(IssueError::Time(_))));
        assert_eq!(keys.verify(&issue(&keys), early), Err(TokenError::NotYet));
    }

    #[test]
    fn an_unknown_or_odd_key_id_is_refused() {
        let keys = keys();
        for kid in ["", "../../etc/passwd", "' OR 1=1", "0000000000000000", "\0", &"k".repeat(2_000)] {
            let forged = with(header(&keys), "kid", json!(kid));
            check(&keys, &sign(&keys, &forged, &claims()), Err(TokenError::UnknownKey));
        }
        let padded = format!(" {}", key(&keys).id);
        check(&keys, &sign(&keys, &with(header(&keys), "kid", json!(padded)), &claims()), Err(TokenError::UnknownKey));
        check(&keys, &sign(&keys, &without(header(&keys), "kid"), &claims()), Err(TokenError::UnknownKey));
        check(&keys, &sign(&keys, &with(header(&keys), "kid", json!(7)), &claims()), Err(TokenError::Header));
    }

    #[test]
    fn a_token_above_4_kb_is_not_looked_at() {
        let keys = keys();
        let forged = with(header(&keys), "kid", json!("k".repeat(10_000)));
        check(&keys, &sign(&keys, &forged, &claims()), Err(TokenError::TooLong));
        check(&keys, &"a".repeat(MAX_BYTES + 1), Err(TokenError::TooLong));
        check(&keys, &"a".repeat(MAX_BYTES), Err(TokenError::Malformed));
    }

    #[test]
    fn only_an_access_token_passes_for_one() {
        let keys = keys();
        for typ in ["JWT", "jwt", "AT+JWT", "at+jwt ", "application/at+jwt", "dpop+jwt", ""] {
            check(&keys, &sign(&keys, &with(header(&keys), "typ", json!(typ)), &claims()), Err(TokenError::Header));
        }
        check(&keys, &sign(&keys, &without(header(&keys), "typ"), &claims()), Err(TokenError::Header));
        check(&keys, &sign(&keys, &with(header(&keys), "crit", json!(["exp"])), &claims()), Err(TokenError::Header));
    }

    #[test]
    fn keys_that_a_header_offers_are_ignored() {
        let keys = keys();
        let octets = json!({ "kty": "oct", "alg": "HS256", "k": URL_SAFE_NO_PAD.encode([7; 32]) });
        let offers = [
            ("jku", json!("https://evil.example/keys")),
            ("jwk", octets),
            ("x5u", json!("https://evil.example/certificate")),
            ("x5c", json!(["MIIB"])),
        ];
        for (name, value) in offers {
            let header = with(header(&keys), name, value);
            check(&keys, &sign(&keys, &header, &claims()), Ok(holder()));
            let attacker = with_another_secret(&keys);
            check(&keys, &sign(&attacker, &header, &claims()), Err(TokenError::Signature));
        }
    }

    #[test]
    fn what_is_no_token_at_all_is_refused() {
        let keys = keys();
        for text in ["", ".", "..", "...", "a.b", "a.b.c", "🏌.🏌.🏌", "efr_AAAA", "bnVsbA.bnVsbA.bnVsbA", "W10.W10.W10"]
        {
            assert!(keys.verify(text, at(0)).is_err(), "{text}");
        }
    }

    #[test]
    fn a_retired_key_verifies_for_ten_minutes_and_never_signs() {
        let before = keys();
        let rotated = |keys: &TokenKeys, when| {
            let ring = keys.ring.rotated(Key::generate().unwrap(), at(when));
            TokenKeys { ring, ..keys.clone() }
        };
        let signed = |keys: &TokenKeys, when| keys.issue(holder().account, holder().session, at(when)).unwrap();
        // The next key signs a minute later.
        let after = rotated(&before, -50);
        let token = signed(&after, 9);
        assert_eq!(before.verify(&token, at(9)), Ok(holder()));
        assert_eq!(before.verify(&signed(&after, 10), at(10)), Err(TokenError::UnknownKey));
        assert_eq!(after.verify(&token, at(10)), Ok(holder()));
        assert_eq!(after.verify(&token, at(608)), Ok(holder()));
        assert_eq!(after.verify(&token, at(609)), Ok(holder()));
        assert_eq!(after.verify(&token, at(610)), Err(TokenError::UnknownKey));
        // A server whose clock is behind takes what one ahead signed.
        assert_eq!(after.verify(&signed(&after, 10), at(8)), Ok(holder()));
        let twice = rotated(&after, 20);
        for when in [20, 79, 80] {
            assert_eq!(twice.verify(&token, at(when)), Ok(holder()));
            assert_eq!(twice.verify(&signed(&after, 20), at(when)), Ok(holder()));
            assert_eq!(twice.verify(&signed(&twice, when), at(when)), Ok(holder()));
        }
    }

    #[test]
    fn the_check_at_the_start_signs_and_verifies() {
        assert!(keys().self_check(at(0)).is_ok());
    }

    proptest! {
        #[test]
        fn no_text_makes_verifying_panic(text in "[a-zA-Z0-9_.=-]{0,200}|\\PC{0,60}") {
            prop_assert!(keys().verify(&text, at(0)).is_err());
        }

        #[test]
        fn no_signed_claims_make_verifying_panic(exp in any::<u64>(), iat in any::<u64>(), nbf in any::<u64>()) {
            let keys = keys();
            let claims = with(with(with(claims(), "exp", json!(exp)), "iat", json!(iat)), "nbf", json!(nbf));
            let _ = keys.verify(&sign(&keys, &header(&keys), &claims), at(0));
        }
    }
}
