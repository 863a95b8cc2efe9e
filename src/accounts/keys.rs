//! The keys that sign access tokens, and when each does.

use super::{RandomnessError, random};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use data_encoding::HEXLOWER;
use jiff::{SignedDuration, Timestamp};
use std::{collections::HashSet, fmt};

/// How long a token is valid.
pub const LIFETIME: SignedDuration = SignedDuration::from_mins(10);
/// How long before it signs a new key is there to be read: servers look often enough to know it by then.
pub const NOTICE: SignedDuration = SignedDuration::from_secs(60);

/// Why a stored key was refused. The text never shows the key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// Not `<16 hexadecimal digits>.<base64url>`.
    #[error("a signing key is 16 hexadecimal digits, a full stop and base64url text")]
    Form,
    /// Not 256 bits.
    #[error("a signing key has 256 bits; this one has {bits}")]
    Size {
        /// How many it has.
        bits: usize,
    },
    /// Text, a pattern or an example instead of random bytes.
    #[error("a signing key is made of random bytes; this one looks like an example: delete it to have one made")]
    NotRandom,
}

/// A 256-bit signing key and its name.
#[derive(Clone, PartialEq, Eq)]
pub struct Key {
    pub(super) id: String,
    pub(super) secret: [u8; 32],
}

impl Key {
    /// Makes a new key.
    ///
    /// # Errors
    /// When the operating system gives no random bytes.
    pub fn generate() -> Result<Self, RandomnessError> {
        Ok(Self { id: HEXLOWER.encode(&random::<8>()?), secret: random()? })
    }

    /// Reads a key as [`Key::expose`] wrote it, refusing one of another size or one that no generator made.
    pub fn parse(text: &str) -> Result<Self, KeyError> {
        let (id, secret) = text.trim_end().split_once('.').ok_or(KeyError::Form)?;
        if id.len() != 16 || !id.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f')) {
            return Err(KeyError::Form);
        }
        let secret = URL_SAFE_NO_PAD.decode(secret).map_err(|_| KeyError::Form)?;
        let secret: [u8; 32] = secret.try_into().map_err(|bytes: Vec<u8>| KeyError::Size { bits: bytes.len() * 8 })?;
        if !looks_random(&secret) {
            return Err(KeyError::NotRandom);
        }
        Ok(Self { id: id.to_owned(), secret })
    }

    /// Returns the key as text for its file, which only the server may read.
    pub fn expose(&self) -> String {
        format!("{}.{}", self.id, URL_SAFE_NO_PAD.encode(self.secret))
    }

    /// Returns the name under which tokens refer to the key, which is no secret.
    pub fn id(&self) -> &str {
        &self.id
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Key").field("id", &self.id).finish_non_exhaustive()
    }
}

/// Refuses typed text, few distinct bytes and even steps. 32 random bytes fail this with probability below 1e-13:
/// all printable (95/256)^32 ≈ 2e-14, fewer than 16 distinct far less.
fn looks_random(secret: &[u8; 32]) -> bool {
    let step = secret[1].wrapping_sub(secret[0]);
    let even = secret.windows(2).all(|pair| pair[1].wrapping_sub(pair[0]) == step);
    let printable = secret.iter().all(|byte| (b' '..=b'~').contains(byte));
    secret.iter().collect::<HashSet<_>>().len() >= 16 && !even && !printable
}

/// A key, and from when on it signs.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Turn {
    key: Key,
    from: Timestamp,
}

/// The keys that sign, one after the other: each from an instant on that was said before, so that every server knows it by
/// then; the one before is taken for as long as its tokens last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyRing {
    /// At least one, in order of time.
    turns: Vec<Turn>,
}

impl KeyRing {
    /// A ring of one key, which signs from ever.
    pub fn of(key: Key) -> Self {
        Self { turns: vec![Turn { key, from: Timestamp::MIN }] }
    }

    /// Reads a ring as [`KeyRing::expose`] wrote it.
    ///
    /// # Errors
    /// Whatever [`Key::parse`] refuses; instants that are none or do not ascend.
    pub fn parse(text: &str) -> Result<Self, KeyError> {
        let mut turns: Vec<Turn> = Vec::new();
        for line in text.trim_end().lines() {
            let (key, from) = line.split_once(' ').unwrap_or((line, ""));
            let from = if from.is_empty() { Timestamp::MIN } else { from.parse().map_err(|_| KeyError::Form)? };
            if turns.last().is_some_and(|before| before.from >= from) {
                return Err(KeyError::Form);
            }
            turns.push(Turn { key: Key::parse(key)?, from });
        }
        if turns.is_empty() { Err(KeyError::Form) } else { Ok(Self { turns }) }
    }

    /// Returns the ring as text for its file: a key a line, with the instant from which it signs.
    pub fn expose(&self) -> String {
        let line = |Turn { key, from }: &Turn| {
            if *from == Timestamp::MIN { key.expose() } else { format!("{} {from}", key.expose()) }
        };
        self.turns.iter().map(line).collect::<Vec<_>>().join("\n")
    }

    /// Returns the ring after a rotation: the new key signs [`NOTICE`] from now. Keys whose tokens have all run out are left
    /// out.
    pub fn rotated(&self, next: Key, now: Timestamp) -> Self {
        let mut turns: Vec<Turn> = (0..self.turns.len())
            .filter(|place| self.is_taken(*place, now))
            .map(|place| self.turns[place].clone())
            .collect();
        let last = turns.last().map_or(now, |turn| turn.from.max(now));
        turns.push(Turn { key: next, from: last + NOTICE });
        Self { turns }
    }

    /// Returns the key that signs.
    pub fn signing(&self, now: Timestamp) -> &Key {
        let turn = self.turns.iter().rev().find(|turn| turn.from <= now).or(self.turns.first());
        &turn.expect("a ring has a key").key
    }

    /// Returns the key of a name, if its tokens are taken. So are those of the next: another server's clock may be ahead.
    pub fn named(&self, id: &str, now: Timestamp) -> Option<&Key> {
        let place = self.turns.iter().position(|turn| turn.key.id == id)?;
        self.is_taken(place, now).then(|| &self.turns[place].key)
    }

    fn is_taken(&self, place: usize, now: Timestamp) -> bool {
        self.turns.get(place + 1).is_none_or(|next| next.from > now || now.duration_since(next.from) < LIFETIME)
    }

    /// Returns when the last key signs first.
    pub fn last_from(&self) -> Timestamp {
        self.turns.last().map_or(Timestamp::MIN, |turn| turn.from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_survives_its_file_and_shows_itself_nowhere_else() {
        let key = Key::generate().unwrap();
        let text = key.expose();
        let read = Key::parse(&format!("{text}\n")).unwrap();
        assert_eq!((read.id(), read.secret), (key.id(), key.secret));
        let debug = format!("{key:?}");
        assert!(debug.contains(&key.id) && !debug.contains(&text[17..]) && !debug.contains("secret"), "{debug}");
        assert_ne!(Key::generate().unwrap().secret, key.secret);
    }

    #[test]
    fn a_key_that_is_short_patterned_or_typed_is_refused() {
        let parse = |secret: &[u8]| Key::parse(&format!("0123456789abcdef.{}", URL_SAFE_NO_PAD.encode(secret))).err();
        assert_eq!(parse(&[0xa5; 31]), Some(KeyError::Size { bits: 248 }));
        assert_eq!(parse(&[0xa5; 64]), Some(KeyError::Size { bits: 512 }));
        assert_eq!(parse(b""), Some(KeyError::Size { bits: 0 }));
        let counting: [u8; 32] = std::array::from_fn(|index| index as u8);
        for example in [&[0; 32], &[0xff; 32], &counting, b"change-me-this-is-an-example-key"] {
            assert_eq!(parse(example), Some(KeyError::NotRandom), "{example:?}");
        }
        for text in ["", "0123456789abcdef", "0123456789ABCDEF.AAAA", "kid.AAAA", "0123456789abcdef.!!!!"] {
            assert_eq!(Key::parse(text).err(), Some(KeyError::Form), "{text}");
        }
    }

    #[test]
    fn a_ring_survives_its_file() {
        let now: Timestamp = "2027-01-14T19:00:00Z".parse().unwrap();
        let [first, second, third] = [(); 3].map(|()| Key::generate().unwrap());
        let one = KeyRing::of(first.clone());
        assert_eq!(one.expose(), first.expose(), "a file of one key is what it always was");
        let two = one.rotated(second.clone(), now);
        let three = two.rotated(third.clone(), now);
        for ring in [&one, &two, &three] {
            assert_eq!(&KeyRing::parse(&format!("{}\n", ring.expose())).unwrap(), ring);
        }
        assert_eq!(three.signing(now), &first);
        assert_eq!(three.signing(now + NOTICE), &second);
        assert_eq!(three.signing(now + NOTICE + NOTICE), &third);
        // Once its tokens have run out a key is gone with the next rotation.
        let later = three.rotated(Key::generate().unwrap(), now + NOTICE + LIFETIME);
        assert!(!later.expose().contains(&first.expose()) && later.expose().contains(&second.expose()));
        let shown = format!("{} {now}", first.expose());
        for bad in ["", "\n", &format!("{shown}\n{shown}"), &format!("{} soon", first.expose())] {
            assert_eq!(KeyRing::parse(bad).err(), Some(KeyError::Form), "{bad}");
        }
    }
}
