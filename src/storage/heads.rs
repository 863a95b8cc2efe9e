//! Signed heads of journals: what a league's journal was up to an entry, in words that nobody puts together without the
//! key. Whoever keeps one elsewhere can tell later whether the journal still says the same.

use super::db::Conn;
use super::error::StorageError;
use super::journal::{Head, hex};
use crate::domain::ids::{EventId, LeagueId, SeasonId};
use crate::{sql, values};
use data_encoding::HEXLOWER;
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

/// The key that heads are signed with.
#[derive(Clone)]
pub struct HeadKey(SigningKey);

impl fmt::Debug for HeadKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("HeadKey").field(&hex(self.0.verifying_key().as_bytes())).finish()
    }
}

impl HeadKey {
    /// Makes a key of 32 random bytes.
    pub fn of(seed: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(seed))
    }

    /// Reads a key as [`expose`](Self::expose) wrote it.
    pub fn parse(text: &str) -> Option<Self> {
        let seed = HEXLOWER.decode(text.trim_end().as_bytes()).ok()?;
        Some(Self::of(&seed.try_into().ok()?))
    }

    /// Writes the key for its file, which only the server may read.
    pub fn expose(&self) -> String {
        hex(self.0.as_bytes())
    }

    /// Signs a head.
    pub fn sign(&self, league_id: LeagueId, head: &Head, at: Timestamp) -> SignedHead {
        let (hash, key) = (hex(&head.hash), hex(self.0.verifying_key().as_bytes()));
        let mut signed = SignedHead { league_id, n: head.n, hash, at, key, signature: String::new() };
        signed.signature = hex(&self.0.sign(signed.text().as_bytes()).to_bytes());
        signed
    }
}

/// A head as it is given out and stored.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignedHead {
    /// The league.
    pub league_id: LeagueId,
    /// The number of its last entry.
    pub n: i64,
    /// That entry's hash, in hexadecimal.
    pub hash: String,
    /// When it was signed.
    pub at: Timestamp,
    /// The public key (Ed25519), in hexadecimal.
    pub key: String,
    /// The signature of [`text`](Self::text), in hexadecimal.
    pub signature: String,
}

impl SignedHead {
    /// Returns what is signed.
    pub fn text(&self) -> String {
        let Self { league_id, n, hash, at, .. } = self;
        format!("evenfield journal head\n{league_id}\n{n}\n{hash}\n{at}\n")
    }

    /// Says whether the signature is that of its key over what the head says.
    pub fn is_genuine(&self) -> bool {
        let bytes = |text: &str| HEXLOWER.decode(text.as_bytes()).ok();
        let key = bytes(&self.key).and_then(|key| VerifyingKey::from_bytes(&key.try_into().ok()?).ok());
        let signature = bytes(&self.signature).and_then(|bytes| Signature::from_slice(&bytes).ok());
        key.zip(signature).is_some_and(|(key, signature)| key.verify_strict(self.text().as_bytes(), &signature).is_ok())
    }
}

/// Keeps a head; one of that entry that is there already stays.
///
/// # Errors
/// A failed database.
pub async fn keep(conn: &mut Conn, head: &SignedHead, event: Option<EventId>) -> Result<(), StorageError> {
    let text = serde_json::to_string(head).expect("a head is plain values with text keys");
    conn.run(sql!("signed_head_insert"), values![head.league_id, head.n, head.at, event, text]).await?;
    Ok(())
}

/// Reads a league's heads, the oldest first.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(conn: &mut Conn, league: LeagueId) -> Result<Vec<SignedHead>, StorageError> {
    let rows = conn.rows(sql!("signed_head_list"), values![league]).await?;
    rows.iter().map(|row| row.json("journal_heads", "head")).collect()
}

/// Reads the head that was signed when the last event of a season became final.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_season(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
) -> Result<Option<SignedHead>, StorageError> {
    let row = conn.row(sql!("signed_head_of_season"), values![league, season]).await?;
    row.map(|row| row.json("journal_heads", "head")).transpose()
}

/// Returns the journals that have a hundred entries without a signed head, or any that were last signed by then.
///
/// # Errors
/// A failed database.
pub async fn due(conn: &mut Conn, signed_by: Timestamp) -> Result<Vec<(LeagueId, Head)>, StorageError> {
    let rows = conn.rows(sql!("signed_head_due"), values![signed_by]).await?;
    rows.iter()
        .map(|row| {
            let head = Head { n: row.get("journal_n")?, hash: row.get("journal_hash")? };
            Ok((LeagueId(row.get::<Uuid>("id")?), head))
        })
        .collect()
}
