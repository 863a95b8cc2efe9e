//! The journal: every change of a league, each entry's hash covering the one before it.

use super::db::Conn;
use super::error::StorageError;
use super::row::Value;
use super::row_hashes::{self, Written};
use crate::domain::ids::{AccountId, LeagueId};
use crate::{sql, values};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// What one entry says. No text that a person typed stands in it: only the hash of what was stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its number in the league, from 1.
    pub n: i64,
    /// When it was written.
    pub at: Timestamp,
    /// Who did it; `None`: the operator.
    pub account_id: Option<AccountId>,
    /// What was done.
    pub act: String,
    /// To what kind of thing.
    pub kind: String,
    /// To which.
    pub id: Uuid,
    /// SHA-256 of what was stored, in hexadecimal; empty where nothing was.
    pub content: String,
    /// Why, for the acts that need a reason: its hash.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// What [`row_hashes`] says of each row that was written. Entries of earlier programs have none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<String>,
}

/// A change to write down.
#[derive(Clone, Copy, Debug)]
pub struct Act<'a> {
    /// Who does it.
    pub by: Option<AccountId>,
    /// What is done.
    pub act: &'a str,
    /// To what kind of thing.
    pub kind: &'a str,
    /// To which.
    pub id: Uuid,
    /// What is stored.
    pub content: &'a [u8],
    /// The rows that were written, as they are by now.
    pub rows: &'a [Written],
}

/// An entry with its hash, as stored.
#[derive(Clone, Debug)]
pub struct StoredEntry {
    /// Its number.
    pub n: i64,
    /// Its text.
    pub text: String,
    /// SHA-256 of the hash before it and its text.
    pub hash: Vec<u8>,
}

/// Returns the hash of an entry: SHA-256 over the hash before it and its text.
pub fn link(before: &[u8], text: &str) -> [u8; 32] {
    Sha256::new().chain_update(before).chain_update(text).finalize().into()
}

/// Writes bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    data_encoding::HEXLOWER.encode(bytes)
}

/// The head of a league's journal: the number and the hash of its last entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// The number; 0 before the first.
    pub n: i64,
    /// The hash; empty before the first.
    pub hash: Vec<u8>,
}

impl Head {
    /// Stores the next entry and becomes its head. The league's row still has to be told.
    ///
    /// # Errors
    /// A failed database.
    pub async fn follow(
        &mut self,
        conn: &mut Conn,
        league: LeagueId,
        act: Act<'_>,
        at: Timestamp,
    ) -> Result<(), StorageError> {
        let rows = row_hashes::of(conn, league, act.rows).await?;
        let entry = self.step(league, act, Sha256::digest(act.content).into(), rows, at);
        insert_rows(conn, entry).await
    }

    /// Takes the next entry, whose content and rows have those hashes, and becomes its head; returns its row's values.
    pub fn step(
        &mut self,
        league: LeagueId,
        act: Act<'_>,
        content: [u8; 32],
        rows: Vec<String>,
        at: Timestamp,
    ) -> Vec<Value> {
        let entry = Entry {
            n: self.n + 1,
            at,
            account_id: act.by,
            act: act.act.to_owned(),
            kind: act.kind.to_owned(),
            id: act.id,
            content: hex(&content),
            reason: None,
            rows,
        };
        let text = serde_json::to_string(&entry).expect("an entry is plain values with text keys");
        let hash = link(&self.hash, &text);
        *self = Head { n: entry.n, hash: hash.to_vec() };
        values![league, entry.n, text, hash]
    }
}

/// Stores entries by their rows' values.
///
/// # Errors
/// A failed database.
pub async fn insert_rows(conn: &mut Conn, rows: Vec<Value>) -> Result<(), StorageError> {
    conn.insert_rows(sql!("journal_insert_head"), 4, rows).await
}

/// Reads the head of a league's journal.
///
/// # Errors
/// A failed database.
pub async fn head(conn: &mut Conn, league: LeagueId) -> Result<Head, StorageError> {
    match conn.row(sql!("league_journal_head"), values![league]).await? {
        Some(row) => Ok(Head { n: row.get("journal_n")?, hash: row.get("journal_hash")? }),
        None => Ok(Head { n: 0, hash: Vec::new() }),
    }
}

/// Adds an entry.
///
/// # Errors
/// A failed database.
pub async fn append(conn: &mut Conn, league: LeagueId, act: Act<'_>, at: Timestamp) -> Result<(), StorageError> {
    let mut head = head(conn, league).await?;
    head.follow(conn, league, act, at).await?;
    conn.run(sql!("league_set_journal_head"), values![league, head.n, head.hash]).await?;
    Ok(())
}

/// Reads entries after a number.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(conn: &mut Conn, league: LeagueId, after: i64, limit: i64) -> Result<Vec<StoredEntry>, StorageError> {
    let rows = conn.rows(sql!("journal_list"), values![league, after, limit]).await?;
    rows.iter()
        .map(|row| Ok(StoredEntry { n: row.get("n")?, text: row.get("entry")?, hash: row.get("hash")? }))
        .collect()
}
