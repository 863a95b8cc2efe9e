//! Walking a journal: its chain, the heads that were signed, and what it says of rows.

use super::verification::Verification;
use crate::domain::ids::{LeagueId, RoundId};
use crate::league::Refusal;
use crate::storage::heads::SignedHead;
use crate::storage::{Conn, journal};
use std::collections::HashMap;
use uuid::Uuid;

/// How many entries are read at once.
const CHUNK: i64 = 1000;

/// What the latest entry about a row says of it.
#[derive(Debug)]
pub struct ToldRow {
    /// The entry's number.
    pub n: i64,
    /// The hash of the columns that stay.
    pub fixed: String,
    /// The hash of the columns that an erasure clears.
    pub erasable: Option<String>,
    /// Whether the row was found.
    pub is_there: bool,
}

/// What can be removed, and the table in which it was.
const REMOVED: [(&str, &str); 12] = [
    ("event", "events"),
    ("competition", "competitions"),
    ("course", "courses"),
    ("setup", "setups"),
    ("season", "seasons"),
    ("carried_result", "carried_results"),
    ("team", "season_facts"),
    ("line_up", "season_facts"),
    ("fixture", "season_facts"),
    ("concession", "season_facts"),
    ("adjustment", "season_facts"),
    ("side_contest", "season_facts"),
];

/// What a journal tells of a league.
#[derive(Debug, Default)]
pub struct Told {
    /// The hash of what was last stored of each round.
    pub contents: HashMap<RoundId, String>,
    /// What is said of rows, by table and key.
    pub rows: HashMap<String, ToldRow>,
    /// Whether it told of rows from its first entry on.
    pub is_complete: bool,
    /// Whether somebody was erased.
    pub has_erased: bool,
    /// The events that became final, by the number of the entry.
    pub settled: HashMap<i64, Uuid>,
}

impl Told {
    fn take(&mut self, entry: journal::Entry) {
        let journal::Entry { n, act, kind, id, content, rows, .. } = entry;
        self.is_complete |= n == 1 && !rows.is_empty();
        self.rows.extend(rows.iter().filter_map(|text| told_row(n, text)));
        match (act.as_str(), kind.as_str()) {
            ("hand_in" | "correct" | "import", "round") => {
                self.contents.insert(RoundId(id), content);
            }
            ("remove", kind) => {
                if let Some((_, table)) = REMOVED.iter().find(|(known, _)| *known == kind) {
                    self.rows.remove(&format!("{table} {id}"));
                }
            }
            ("erase", _) => self.has_erased = true,
            ("settle", _) => {
                self.settled.insert(n, id);
            }
            _ => {}
        }
    }
}

/// Reads what an entry says of a row, as [`row_hashes`](crate::storage::row_hashes) writes it.
fn told_row(n: i64, text: &str) -> Option<(String, ToldRow)> {
    let mut words = text.split(' ');
    let name = format!("{} {}", words.next()?, words.next()?);
    let (fixed, erasable) = (words.next()?.to_owned(), words.next().map(str::to_owned));
    Some((name, ToldRow { n, fixed, erasable, is_there: false }))
}

/// Walks a league's journal past its signed heads, which are in order; returns what it tells.
///
/// What was changed and chained anew is seen at the first head after it: it is one of the entries between that head and
/// the one before. Whatever else was done is seen at its own entry.
pub async fn chain(
    conn: &mut Conn,
    league: LeagueId,
    signed: &[SignedHead],
    verification: &mut Verification,
) -> Result<Told, Refusal> {
    let mut told = Told::default();
    let mut before: Vec<u8> = Vec::new();
    let mut last = 0;
    let mut signed = signed.iter().peekable();
    let mut agreed = 0;
    loop {
        let entries = journal::list(conn, league, last, CHUNK).await?;
        if entries.is_empty() {
            let head = journal::head(conn, league).await?;
            if let Some(later) = signed.next() {
                let (from, to, missing) = (agreed + 1, later.n, last + 1);
                let text = format!(
                    "league {league}: journal entries {from} to {to} are not those that were signed at {}: entry {missing} \
                     is missing",
                    later.at
                );
                verification.differences.push(text);
            } else if (head.n, &head.hash) != (last, &before) {
                let text =
                    format!("league {league}: leagues: the journal ends with entry {last}, and its head is {}", head.n);
                verification.differences.push(text);
            }
            return Ok(told);
        }
        for stored in entries {
            let due = journal::link(&before, &stored.text);
            let entry: Option<journal::Entry> = serde_json::from_str(&stored.text).ok();
            let fits = stored.n == last + 1 && due == *stored.hash && entry.as_ref().is_some_and(|e| e.n == stored.n);
            if !fits {
                let text = match stored.n > last + 1 {
                    true => format!("league {league}: journal entry {} is missing", last + 1),
                    false => format!("league {league}: journal entry {} does not follow the one before it", stored.n),
                };
                verification.differences.push(text);
            }
            if let Some(entry) = entry {
                told.take(entry);
            }
            before = stored.hash;
            last = stored.n;
            while let Some(head) = signed.next_if(|head| head.n <= last) {
                if !head.is_genuine() {
                    let text = format!(
                        "league {league}: journal_heads: the signature of the head at entry {} is not good",
                        head.n
                    );
                    verification.differences.push(text);
                } else if head.n < last || head.hash != journal::hex(&before) {
                    let text = format!(
                        "league {league}: journal entries {} to {} are not those that were signed at {}",
                        agreed + 1,
                        head.n,
                        head.at
                    );
                    verification.differences.push(text);
                } else {
                    agreed = head.n;
                }
            }
            verification.entries += 1;
        }
    }
}
