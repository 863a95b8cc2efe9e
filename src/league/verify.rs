//! Verify: derive everything afresh from the raw records and compare, and walk the journal's chain.

use super::books::{self, LeagueBook};
use super::evidence::Known;
use super::rounds::{content_hash_input, entry};
use super::{Leagues, Refusal, derive};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::storage::evidence::{self, Whose};
use crate::storage::heads::{self, SignedHead};
use crate::storage::results::StoredResult;
use crate::storage::{Conn, StorageError, journal, leagues, results, rounds};
use sha2::{Digest, Sha256};
use std::collections::btree_map::Entry as MapEntry;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// How many rows are read at once.
const CHUNK: i64 = 1000;

/// What was looked at and what was wrong.
#[derive(Debug, Default)]
pub struct Verification {
    /// Leagues looked at.
    pub leagues: u64,
    /// Rounds derived afresh.
    pub rounds: u64,
    /// Journal entries walked.
    pub entries: u64,
    /// Every difference, in words.
    pub differences: Vec<String>,
}

impl Leagues {
    /// Verifies every league, and the journals against the signed heads that the database keeps itself.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub async fn verify(&self) -> Result<Verification, Refusal> {
        self.verify_against(&[]).await
    }

    /// Verifies every league, and the journals also against signed heads that were kept elsewhere.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub async fn verify_against(&self, kept: &[SignedHead]) -> Result<Verification, Refusal> {
        let mut verification = Verification::default();
        // Nothing that a damaged file says is worth comparing.
        if let Some(fault) = self.database.first_fault().await? {
            return Err(StorageError::Damaged(fault).into());
        }
        self.all_weighed().await?;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let stored = leagues::all(&mut conn).await?;
        let here: HashSet<LeagueId> = stored.iter().map(|stored| stored.id).collect();
        let gone: BTreeSet<LeagueId> = kept.iter().map(|head| head.league_id).filter(|id| !here.contains(id)).collect();
        let gone = gone.iter().map(|league| format!("league {league}: its journal was signed, and it is not here"));
        verification.differences.extend(gone);
        for stored in stored {
            let book = books::read(&mut conn, &stored).await?;
            let mut due = heads::list(&mut conn, stored.id).await?;
            due.extend(kept.iter().filter(|head| head.league_id == stored.id).cloned());
            due.sort_by_key(|head| head.n);
            let contents = chain(&mut conn, stored.id, &due, &mut verification).await?;
            for (member, mut rounds) in cards(&mut conn, &book, &contents, &mut verification).await? {
                for derive::Changed { place, before } in derive::bring_up(&book, member, &mut rounds) {
                    let StoredResult { entry, figures, .. } = &rounds[place];
                    let what = if before.is_none() { "lacks figures" } else { "has other figures than its card gives" };
                    let gone = if figures.is_none() { " (it should have none)" } else { "" };
                    verification.differences.push(format!("league {}: round {} {what}{gone}", stored.id, entry.id));
                }
            }
            for season in book.book.seasons.keys() {
                let stored = evidence::of_season(&mut conn, stored.id, *season).await?;
                let taken =
                    super::evidence::taken(&mut conn, &book, *season, Whose::Everybody, &Known::default()).await?;
                let due = stored.begun().with(taken.iter().map(|(_, taken)| taken));
                if stored != due {
                    let text = format!("season {season}: the evidence is not what the rounds give");
                    verification.differences.push(text);
                }
            }
            verification.leagues += 1;
        }
        Ok(verification)
    }
}

/// Walks a league's journal past its signed heads, which are in order; returns the hash of what was last stored of each
/// round.
///
/// What was changed and chained anew is seen at the first head after it: it is one of the entries between that head and
/// the one before. Whatever else was done is seen at its own entry.
async fn chain(
    conn: &mut Conn,
    league: LeagueId,
    signed: &[SignedHead],
    verification: &mut Verification,
) -> Result<HashMap<RoundId, String>, Refusal> {
    let mut contents = HashMap::new();
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
                let text = format!("league {league}: the journal ends with entry {last}, and its head is {}", head.n);
                verification.differences.push(text);
            }
            return Ok(contents);
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
            if let Some(entry) = entry.filter(|entry| entry.kind == "round")
                && matches!(entry.act.as_str(), "hand_in" | "correct" | "import")
            {
                contents.insert(RoundId(entry.id), entry.content);
            }
            before = stored.hash;
            last = stored.n;
            while let Some(head) = signed.next_if(|head| head.n <= last) {
                if !head.is_genuine() {
                    let text = format!("league {league}: the signature of the head at entry {} is not good", head.n);
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

/// Boils every card down afresh and compares it with the derived row and with the journal. Returns each member's rows.
async fn cards(
    conn: &mut Conn,
    book: &LeagueBook,
    contents: &HashMap<RoundId, String>,
    verification: &mut Verification,
) -> Result<BTreeMap<MemberId, Vec<StoredResult>>, Refusal> {
    let mut derived: BTreeMap<MemberId, Vec<StoredResult>> = BTreeMap::new();
    let mut after = -1;
    loop {
        let rows = rounds::in_order(conn, book.league, after, CHUNK).await?;
        let Some(latest) = rows.last() else { return Ok(derived) };
        after = latest.seq;
        for row in rows {
            let round = rounds::whole(conn, &row).await?;
            verification.rounds += 1;
            let league = book.league;
            let life = rounds::life(conn, &row).await?;
            if life.are_putts_excluded() != row.are_putts_excluded {
                let text = format!("league {league}: round {}: whether its putts count is not what was ruled", row.id);
                verification.differences.push(text);
            }
            let due = life.state();
            if due != row.state {
                let text = format!(
                    "league {league}: round {} is {} where what was said of it makes it {}",
                    row.id,
                    row.state.word(),
                    due.word()
                );
                verification.differences.push(text);
            }
            let hash = journal::hex(&Sha256::digest(content_hash_input(&round)));
            if contents.get(&row.id) != Some(&hash) {
                let text = format!("league {league}: round {} is not what the journal says was handed in", row.id);
                verification.differences.push(text);
            }
            if let MapEntry::Vacant(place) = derived.entry(row.member) {
                place.insert(results::of_member(conn, league, row.member).await?);
            }
            let found = derived[&row.member].iter().find(|found| found.entry.id == row.id);
            if found.map(|found| &found.entry) != Some(&entry(book, &row, &round)) {
                let text = format!("league {league}: round {} is boiled down to something else than its card", row.id);
                verification.differences.push(text);
            }
        }
    }
}
