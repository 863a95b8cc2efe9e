//! Keeping evidence up: a round in, a member's rounds taken in again, findings opened where evidence crosses.

use crate::domain::audit::ledger::{About, Budget, Crossing, Ledger, OpenedFact, Restarts, Taken, crossed};
use crate::domain::audit::{Met, RoundReadings};
use crate::domain::facts::Round;
use crate::domain::ids::{EventId, MemberId, RoundId, SeasonId, SetupId};
use crate::domain::units::Feet;
use crate::league::Refusal;
use crate::league::member::notices::{self, About as NoticeAbout, Tells};
use crate::league::memory::books::LeagueBook;
use crate::storage::evidence::{self, Whose};
use crate::storage::findings::{self, StoredFinding};
use crate::storage::journal::{self, Act};
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row_hashes::wrote;
use crate::storage::{Conn, StorageError, leagues, members};
use jiff::Timestamp;
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;
use uuid::Uuid;

/// Returns what a season's findings are held against; `None` for a season that is gone.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn budget(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
) -> Result<Option<Budget>, StorageError> {
    let Some(policy) = book.book.seasons.get(&season) else { return Ok(None) };
    let played = evidence::field_size(conn, book.league, season).await?;
    let (least, false_alarm_pct) = (policy.audit.field_size, policy.audit.false_alarm_pct);
    Ok(Some(Budget { field_size: least.max(played), false_alarm_pct }))
}

/// Boils a round down to what evidence reads of it; `None` for an event that is gone.
pub fn readings(book: &LeagueBook, row: &RoundRow, round: &Round, seq: i64) -> Option<Taken> {
    let night = book.book.nights.get(&row.event)?;
    let layout = book.book.layout(night, night.event.tee_id)?;
    let met = Met {
        received: seq.unsigned_abs(),
        played_on: round.played_on,
        stimp: night.event.stimp_ft,
        declared_radius_ft: row.declared_radius_ft.and_then(|feet| Feet::new(feet).ok()),
    };
    let readings = RoundReadings::of(round, &layout, met);
    Some(Taken { seq, member: row.member, setup: row.setup, readings })
}

/// Rounds that were read as evidence takes them, for whoever takes them in soon. A round that has changed since is read
/// again.
#[derive(Clone, Default)]
pub struct Known {
    book: Option<Arc<LeagueBook>>,
    rounds: HashMap<RoundId, (RoundRow, Taken)>,
}

impl Known {
    /// Keeps rounds that were read under a book.
    pub fn of(book: Arc<LeagueBook>, rounds: Vec<(RoundRow, Taken)>) -> Self {
        let rounds = rounds.into_iter().map(|(row, taken)| (row.id, (row, taken)));
        Self { book: Some(book), rounds: rounds.collect() }
    }

    fn get(&self, book: &LeagueBook, seq: i64, row: &RoundRow) -> Option<Taken> {
        self.book.as_ref().filter(|known| std::ptr::eq(known.as_ref(), book))?;
        let (known, taken) = self.rounds.get(&row.id)?;
        let is_same = known.version == row.version && known.declared_radius_ft == row.declared_radius_ft;
        (is_same && taken.seq == seq).then(|| taken.clone())
    }
}

/// Reads rounds as evidence takes them, in its order, each with its row.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn taken(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    whose: Whose,
    known: &Known,
) -> Result<Vec<(RoundRow, Taken)>, StorageError> {
    let mut all = Vec::new();
    for (seq, row) in evidence::rounds_taken(conn, book.league, season, whose).await? {
        if let Some(taken) = known.get(book, seq, &row) {
            all.push((row, taken));
            continue;
        }
        let round = rounds::whole(conn, &row).await?;
        all.extend(readings(book, &row, &round, seq).map(|taken| (row, taken)));
    }
    Ok(all)
}

/// Takes a round in that was let in later than it came.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn took(
    conn: &mut Conn,
    book: &LeagueBook,
    row: &RoundRow,
    round: &Round,
    seq: i64,
    now: Timestamp,
) -> Result<(), Refusal> {
    let (Some(night), Some(new)) = (book.book.nights.get(&row.event), readings(book, row, round, seq)) else {
        return Ok(());
    };
    let before = evidence::of_member(conn, book.league, night.season, row.member, row.setup).await?;
    let mut after = before.clone();
    after.take(&new);
    evidence::store(conn, book.league, night.season, &before, &after).await?;
    look(conn, book, night.season, after, row.member, row.event, now).await
}

/// Takes a member's rounds of a season in again, after some of them have changed; `event` is that of one of these.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn again(
    conn: &mut Conn,
    book: &LeagueBook,
    member: MemberId,
    event: EventId,
    known: &Known,
    now: Timestamp,
) -> Result<(), Refusal> {
    let Some(night) = book.book.nights.get(&event) else { return Ok(()) };
    let rounds = taken(conn, book, night.season, Whose::Member(member), known).await?;
    // The sums of every set-up that the rounds are on: several may come back at once.
    let setups = rounds.iter().filter_map(|(_, round)| round.setup);
    let before = evidence::of_member(conn, book.league, night.season, member, setups).await?;
    let mut after = before.clone();
    after.forget(member);
    rounds.iter().for_each(|(_, round)| after.take(round));
    evidence::store(conn, book.league, night.season, &before, &after).await?;
    look(conn, book, night.season, after, member, event, now).await
}

/// Derives a season's evidence afresh, after a change of its greens, its cards or its budget, and opens what has crossed.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn afresh(conn: &mut Conn, book: &LeagueBook, season: SeasonId, now: Timestamp) -> Result<(), Refusal> {
    afresh_upto(conn, book, season, i64::MAX, now).await
}

/// As [`afresh`], of the rounds whose own number is at most `upto`.
async fn afresh_upto(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    upto: i64,
    now: Timestamp,
) -> Result<(), Refusal> {
    conn.think_long().await?;
    let Some(budget) = budget(conn, book, season).await? else { return Ok(()) };
    let before = evidence::of_season(conn, book.league, season).await?;
    let taken = taken(conn, book, season, Whose::Everybody, &Known::default()).await?;
    let (rows, rounds): (Vec<RoundRow>, Vec<Taken>) = taken.into_iter().filter(|(row, _)| row.seq <= upto).unzip();
    let (after, openings) = crossed(before.begun(), &rounds, budget);
    evidence::store(conn, book.league, season, &before, &after).await?;
    for opening in openings {
        open(conn, book, season, &opening.crossing, rows[opening.round].event, now).await?;
    }
    Ok(())
}

/// Derives the evidence of all seasons of a league that came in whole, from the rounds up to a fact, and opens what has
/// crossed.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn walked(conn: &mut Conn, book: &LeagueBook, upto: i64, now: Timestamp) -> Result<(), Refusal> {
    for season in book.book.seasons.keys() {
        for (_, row) in evidence::rounds_taken(conn, book.league, *season, Whose::Everybody).await? {
            evidence::take_part(conn, evidence::field_values(book.league, *season, row.member, row.setup)).await?;
        }
        afresh_upto(conn, book, *season, upto, now).await?;
    }
    Ok(())
}

/// Opens findings where the evidence about a member, or about a set-up that the member used, has crossed.
async fn look(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    mut ledger: Ledger,
    member: MemberId,
    event: EventId,
    now: Timestamp,
) -> Result<(), Refusal> {
    let Some(budget) = budget(conn, book, season).await? else { return Ok(()) };
    for crossing in ledger.crossings_around(member, budget) {
        open(conn, book, season, &crossing, event, now).await?;
    }
    concern_users(conn, book, season, &ledger.restarts, &ledger.setups_of(member), now).await
}

/// Tells whoever putts on set-ups of findings about them: each concerns its users while it stands.
///
/// # Errors
/// A failed database or an unreadable row.
pub(in crate::league) async fn concern_users(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    restarts: &Restarts,
    setups: &BTreeSet<SetupId>,
    now: Timestamp,
) -> Result<(), Refusal> {
    for setup in setups {
        for finding in findings::about_setup(conn, book.league, season, *setup).await? {
            let begun_anew = restarts.get(&(finding.opened.kind.name, About::Setup(*setup))).map_or(0, Vec::len) as u32;
            if begun_anew == finding.opened.restart {
                concern(conn, book, &finding, now).await?;
            }
        }
    }
    Ok(())
}

/// Opens a finding where evidence crossed, unless it is there.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn open(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    crossing: &Crossing,
    event: EventId,
    now: Timestamp,
) -> Result<(), Refusal> {
    let league = book.league;
    let opened = OpenedFact::of(league, season, crossing, event);
    let id = opened.id;
    if findings::get(conn, id).await?.is_some() {
        return Ok(());
    }
    let seq = leagues::next_seq(conn, league).await?;
    let finding = StoredFinding { league, opened, seq, received_at: now };
    findings::insert(conn, &finding).await?;
    let OpenedFact { kind, factor_log10, threshold_log10, .. } = &finding.opened;
    let content = format!("{} {id} {factor_log10} {threshold_log10}", kind.name);
    let rows = [wrote("findings", id)];
    let act = Act { by: None, act: "open", kind: "finding", id, content: content.as_bytes(), rows: &rows };
    journal::append(conn, league, act, now).await?;
    concern(conn, book, &finding, now).await
}

/// Tells everyone concerned by a finding who was not told before, and of a new one the organizers.
///
/// # Errors
/// A failed database.
pub async fn concern(
    conn: &mut Conn,
    book: &LeagueBook,
    finding: &StoredFinding,
    now: Timestamp,
) -> Result<(), Refusal> {
    let (league, id) = (finding.league, finding.opened.id);
    let concerned: BTreeSet<MemberId> = match (finding.opened.kind.is_notice, finding.opened.about) {
        (true, About::Setup(setup)) => book.setups.get(&setup).and_then(|(owner, _)| *owner).into_iter().collect(),
        (_, About::Player(member)) => [member].into(),
        (false, About::Setup(setup)) => {
            let rounds = evidence::rounds_taken(conn, league, finding.opened.season, Whose::Setup(setup)).await?;
            rounds.into_iter().map(|(_, row)| row.member).collect()
        }
    };
    let known: BTreeSet<MemberId> =
        findings::concerned(conn, league, id).await?.into_iter().map(|known| known.member).collect();
    let is_new = known.is_empty();
    let mut to = if is_new { members::organizers(conn, league).await? } else { Vec::new() };
    for member in concerned.difference(&known) {
        let has_account = crate::storage::members::get(conn, *member).await?.is_some_and(|m| m.account.is_some());
        findings::concern(conn, league, id, *member, has_account.then_some(now)).await?;
        to.push(*member);
    }
    notices::tell(conn, NoticeAbout::finding(league, id), Tells::Finding, &to, MemberId(Uuid::nil()), now).await?;
    Ok(())
}
