//! Verify: compare every raw record with the journal, derive everything afresh from them and compare, and walk the
//! journal's chain.

mod chain;
mod rows;
mod verification;

pub use verification::Verification;

use self::chain::chain;
use self::verification::in_words;
use super::{Leagues, Refusal};
use crate::domain::ids::{LeagueId, MemberId, RoundId, SeasonId};
use crate::league::finding::evidence::Known;
use crate::league::memory::books::{self, LeagueBook};
use crate::league::round::content::content_hash_input;
use crate::league::round::digests::entry;
use crate::league::season::derive;
use crate::storage::evidence::{self, Whose};
use crate::storage::heads::{self, SignedHead};
use crate::storage::results::{self, StoredResult};
use crate::storage::{Conn, StorageError, journal, leagues, rounds, weighing};
use sha2::{Digest, Sha256};
use std::collections::btree_map::Entry as MapEntry;
use std::collections::{BTreeMap, BTreeSet, HashMap};

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
        self.weigh_before(&mut verification).await?;
        let mut conn = self.database.reader().await?;
        conn.take_long();
        conn.begin_read().await?;
        let here = leagues::ids(&mut conn).await?;
        let gone: BTreeSet<LeagueId> = kept.iter().map(|head| head.league_id).filter(|id| !here.contains(id)).collect();
        let gone = gone.iter().map(|league| format!("league {league}: its journal was signed, and it is not here"));
        verification.differences.extend(gone);
        for league in here {
            let mut due = match heads::list(&mut conn, league).await {
                Ok(own) => own,
                Err(error) => verification.unreadable(league, error.into()).map(|()| Vec::new())?,
            };
            due.extend(kept.iter().filter(|head| head.league_id == league).cloned());
            due.sort_by_key(|head| head.n);
            let mut told = chain(&mut conn, league, &due, &mut verification).await?;
            let rounds = rows::compare(&mut conn, league, &mut told, &mut verification).await?;
            derived(&mut conn, league, &rounds, &told.contents, &mut verification).await?;
            verification.leagues += 1;
        }
        Ok(verification)
    }

    /// Has evidence take in what waits, so that it can be compared.
    async fn weigh_before(&self, verification: &mut Verification) -> Result<(), Refusal> {
        let due = weighing::leagues(&mut self.database.reader().await?).await?;
        for league in due {
            if let Err(error) = self.weighed(league).await {
                verification.unreadable(league, error)?;
            }
        }
        Ok(())
    }
}

/// Derives a league's figures and evidence afresh and compares them with what is stored.
async fn derived(
    conn: &mut Conn,
    league: LeagueId,
    rounds: &[RoundId],
    contents: &HashMap<RoundId, String>,
    verification: &mut Verification,
) -> Result<(), Refusal> {
    let book = match book(conn, league).await {
        Ok(book) => Some(book),
        Err(error) => verification.unreadable(league, error).map(|()| None)?,
    };
    let results = cards(conn, league, book.as_ref(), rounds, contents, verification).await?;
    let Some(book) = book else { return Ok(()) };
    for (member, mut rounds) in results {
        for derive::Changed { place, before } in derive::bring_up(&book, member, &mut rounds, |rounds| rounds) {
            let StoredResult { entry, figures, .. } = &rounds[place];
            let what = if before.is_none() { "lacks figures" } else { "has other figures than its card gives" };
            let gone = if figures.is_none() { " (it should have none)" } else { "" };
            verification.differences.push(format!("league {league}: results: round {} {what}{gone}", entry.id));
        }
    }
    for season in book.book.seasons.keys() {
        if let Err(error) = evidence_of(conn, &book, *season, verification).await {
            verification.unreadable(league, error)?;
        }
    }
    Ok(())
}

async fn book(conn: &mut Conn, league: LeagueId) -> Result<LeagueBook, Refusal> {
    let stored = leagues::get(conn, league).await?.ok_or(Refusal::NotFound)?;
    Ok(books::read(conn, &stored).await?)
}

/// Takes a season's rounds into the evidence afresh and compares.
async fn evidence_of(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    verification: &mut Verification,
) -> Result<(), Refusal> {
    let stored = evidence::of_season(conn, book.league, season).await?;
    let taken =
        crate::league::finding::evidence::taken(conn, book, season, Whose::Everybody, &Known::default()).await?;
    let due = stored.begun().with(taken.iter().map(|(_, taken)| taken));
    let of_rows = differing(&stored.rows, &due.rows).map(|key| {
        let on = key.setup.map_or_else(|| "no set-up".to_owned(), |setup| format!("set-up {setup}"));
        format!("evidence_rows: {} of member {} on {on}", key.kind, key.member)
    });
    let of_few = differing(&stored.few, &due.few).map(|(member, setup)| {
        let on = setup.map_or_else(|| "no set-up".to_owned(), |setup| format!("set-up {setup}"));
        format!("evidence_rows: what was read of the rounds of member {member} on {on}")
    });
    let of_digests = differing(&stored.digests, &due.digests)
        .map(|key| format!("evidence_digests: {} of set-up {}", key.kind, key.setup));
    let differences = of_rows.chain(of_few).chain(of_digests).map(|what| {
        format!("league {}: season {season}: {what} is not what the rounds up to leagues.weighed_seq give", book.league)
    });
    verification.differences.extend(differences);
    Ok(())
}

/// Returns the keys under which two maps do not hold the same.
fn differing<'m, K: Ord, V: PartialEq>(
    one: &'m BTreeMap<K, V>,
    other: &'m BTreeMap<K, V>,
) -> impl Iterator<Item = &'m K> {
    let keys: BTreeSet<&K> = one.keys().chain(other.keys()).collect();
    keys.into_iter().filter(|key| one.get(key) != other.get(key))
}

/// Compares every card with the journal, and boiled down afresh with the derived row. Returns each member's rows. Without a
/// book nothing is derived.
async fn cards(
    conn: &mut Conn,
    league: LeagueId,
    book: Option<&LeagueBook>,
    ids: &[RoundId],
    contents: &HashMap<RoundId, String>,
    verification: &mut Verification,
) -> Result<BTreeMap<MemberId, Vec<StoredResult>>, Refusal> {
    let mut derived: BTreeMap<MemberId, Vec<StoredResult>> = BTreeMap::new();
    for id in ids {
        let read = async {
            let Some(row) = rounds::get(conn, *id).await? else { return Ok(None) };
            let (round, life) = (rounds::whole(conn, &row).await?, rounds::life(conn, &row).await?);
            Ok::<_, StorageError>(Some((row, round, life)))
        };
        let (row, round, life) = match read.await {
            Ok(Some(read)) => read,
            Ok(None) => continue,
            Err(error) if error.is_unreadable() => {
                let text = format!("league {league}: rounds, holes, putts: round {id}: {}", in_words(&error));
                verification.differences.push(text);
                continue;
            }
            Err(error) => return Err(error.into()),
        };
        verification.rounds += 1;
        if life.are_putts_excluded() != row.are_putts_excluded {
            let text = format!("league {league}: rounds: {}: whether its putts count is not what was ruled", row.id);
            verification.differences.push(text);
        }
        let due = life.state();
        if due != row.state {
            let text = format!(
                "league {league}: rounds: {} is {} where what was said of it makes it {}",
                row.id,
                row.state.word(),
                due.word()
            );
            verification.differences.push(text);
        }
        let hash = journal::hex(&Sha256::digest(content_hash_input(&round)));
        if contents.get(&row.id) != Some(&hash) {
            let text = format!(
                "league {league}: rounds, holes, putts: round {} is not what the journal says was handed in",
                row.id
            );
            verification.differences.push(text);
        }
        let Some(book) = book else { continue };
        if let MapEntry::Vacant(place) = derived.entry(row.member) {
            let known = match results::of_member(conn, league, row.member).await {
                Ok(known) => known,
                Err(error) => verification.unreadable(league, error.into()).map(|()| Vec::new())?,
            };
            place.insert(known);
        }
        let found = derived[&row.member].iter().find(|found| found.entry.id == row.id);
        if found.map(|found| &found.entry) != Some(&entry(book, &row, &round)) {
            let text =
                format!("league {league}: results: round {} is boiled down to something else than its card", row.id);
            verification.differences.push(text);
        }
    }
    Ok(derived)
}
