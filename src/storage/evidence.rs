//! A season's evidence: rows, sums, and who played.

use super::db::Conn;
use super::error::StorageError;
use super::findings;
use super::packed_evidence::{self, Packed};
use super::rounds::{self, RoundRow};
use super::row::{Row, Value};
use crate::domain::audit::ledger::About;
use crate::domain::audit::ledger::{DigestKey, Ledger, Restarts, RowKey};
use crate::domain::audit::{self, Digest, KINDS, Kind, Subject};
use crate::domain::ids::{LeagueId, MemberId, SeasonId, SetupId};
use crate::{sql, values};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

fn corrupt(column: &'static str, detail: impl Into<String>) -> StorageError {
    StorageError::Corrupt { table: "evidence_rows", column, detail: detail.into() }
}

/// The kind of a blob that holds a row of each.
const OF_ALL_KINDS: &str = "";

fn kind(row: &Row) -> Result<&'static Kind, StorageError> {
    let word: String = row.get("kind")?;
    audit::kind(&word).ok_or_else(|| corrupt("kind", word))
}

fn word(subject: Subject) -> &'static str {
    match subject {
        Subject::Player => "player",
        Subject::Setup => "setup",
    }
}

/// The set-up of rows where nobody said.
fn setup_or_nil(setup: Option<SetupId>) -> Value {
    setup.map_or(Uuid::nil(), |setup| setup.0).into()
}

/// Says whether bytes are rows of evidence, of all kinds or of one.
pub fn is_packed(bytes: &[u8]) -> bool {
    packed_evidence::of(bytes).is_some()
}

/// Adds the rows of a blob: a member's on a set-up, of all kinds, or the one that began anew.
fn add_rows(row: &Row, ledger: &mut Ledger) -> Result<(), StorageError> {
    let (setup, about): (Uuid, String) = (row.get("setup_id")?, row.get("about")?);
    let (member, setup) = (row.id("member_id")?, (!setup.is_nil()).then_some(SetupId(setup)));
    let restart: i64 = row.get("restart")?;
    let (kinds, restart) = match about.as_str() {
        "" if restart != 0 => return Err(corrupt("restart", format!("{restart} for nobody's new beginning"))),
        "" => match row.get::<String>("kind")?.as_str() {
            OF_ALL_KINDS => (KINDS.to_vec(), None),
            word => return Err(corrupt("kind", word)),
        },
        about => {
            let subject = if about == word(Subject::Player) { Subject::Player } else { Subject::Setup };
            (vec![kind(row)?], Some((subject, restart as u32)))
        }
    };
    let rows = match packed_evidence::of(&row.get::<Vec<u8>>("state")?) {
        Some(Packed::Rows(rows)) if rows.len() == kinds.len() => rows,
        Some(Packed::Readings(few)) if restart.is_none() => {
            let rows = packed_evidence::made(&few);
            ledger.few.insert((member, setup), few);
            rows
        }
        _ => return Err(corrupt("state", "its bytes are not what was packed")),
    };
    let key = |kind: &Kind| RowKey { member, setup, kind: kind.name, restart };
    ledger.rows.extend(kinds.into_iter().map(key).zip(rows));
    Ok(())
}

fn digest(row: &Row) -> Result<(DigestKey, Digest), StorageError> {
    let restart: i64 = row.get("restart")?;
    let key = DigestKey { setup: row.id("setup_id")?, kind: kind(row)?.name, restart: restart as u32 };
    Ok((key, row.json("evidence_digests", "digest")?))
}

/// Reads when evidence of a season began anew.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn restarts(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<Restarts, StorageError> {
    let mut restarts = Restarts::new();
    for row in conn.rows(sql!("restart_list"), values![league, season]).await? {
        restarts.entry((kind(&row)?.name, findings::about(&row)?)).or_default().push(row.get("seq")?);
    }
    Ok(restarts)
}

/// Reads the set-ups with a finding in a season that may explain what players showed on them, however it was ruled.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn setups_found(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
) -> Result<BTreeSet<SetupId>, StorageError> {
    let mut found = BTreeSet::new();
    for row in conn.rows(sql!("finding_list_of_setups"), values![league, season]).await? {
        if kind(&row)?.is_of_a_setup() {
            found.insert(row.id("setup_id")?);
        }
    }
    Ok(found)
}

/// Reads what is known of a season's evidence before its first round: rulings, and the set-ups with a finding.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn begun(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<Ledger, StorageError> {
    Ok(Ledger::new(restarts(conn, league, season).await?, setups_found(conn, league, season).await?))
}

/// Reads the part of a season's evidence that rounds of a member can change: the member's rows, and the sums of the set-ups
/// that they and the rounds are on.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    member: MemberId,
    on: impl IntoIterator<Item = SetupId>,
) -> Result<Ledger, StorageError> {
    let mut ledger = begun(conn, league, season).await?;
    for row in conn.rows(sql!("evidence_row_list_by_member"), values![league, season, member]).await? {
        add_rows(&row, &mut ledger)?;
    }
    let setups: BTreeSet<SetupId> = ledger.rows.keys().filter_map(|key| key.setup).chain(on).collect();
    for setup in setups {
        for row in conn.rows(sql!("evidence_digest_list_by_setup"), values![league, season, setup]).await? {
            let (key, digest) = digest(&row)?;
            ledger.digests.insert(key, digest);
        }
    }
    Ok(ledger)
}

/// Reads a season's evidence.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_season(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<Ledger, StorageError> {
    let mut ledger = begun(conn, league, season).await?;
    for row in conn.rows(sql!("evidence_row_list"), values![league, season]).await? {
        add_rows(&row, &mut ledger)?;
    }
    for row in conn.rows(sql!("evidence_digest_list"), values![league, season]).await? {
        let (key, digest) = digest(&row)?;
        ledger.digests.insert(key, digest);
    }
    Ok(ledger)
}

/// How many blobs are made ready at once to be stored.
const BLOBS_AT_ONCE: usize = 64;

/// Where a blob is: whose it is, on what, and of which kind and beginning; none of one that holds a row of each kind.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Blob {
    member: MemberId,
    setup: Option<SetupId>,
    restart: Option<(&'static str, Subject, u32)>,
}

impl Blob {
    /// Returns the blob that a row is in.
    fn of(key: &RowKey) -> Self {
        let restart = key.restart.map(|(subject, restart)| (key.kind, subject, restart));
        Self { member: key.member, setup: key.setup, restart }
    }

    fn key_values(&self, league: LeagueId, season: SeasonId) -> Vec<Value> {
        let (kind, about, restart) =
            self.restart.map_or((OF_ALL_KINDS, "", 0), |(kind, subject, restart)| (kind, word(subject), restart));
        let mut values = values![league, season, self.member];
        values.push(setup_or_nil(self.setup));
        values.extend(values![kind, about, restart]);
        values
    }

    fn bytes(&self, ledger: &Ledger) -> Vec<u8> {
        let Self { member, setup, .. } = *self;
        let row = |kind, restart| ledger.rows.get(&RowKey { member, setup, kind, restart });
        match (self.restart, ledger.few.get(&(member, setup))) {
            (Some((kind, subject, restart)), _) => packed_evidence::rows(row(kind, Some((subject, restart)))),
            (None, Some(few)) => packed_evidence::readings(few),
            (None, None) => packed_evidence::rows(KINDS.into_iter().filter_map(|kind| row(kind.name, None))),
        }
    }
}

/// Stores what is different between two parts of a season's evidence.
///
/// # Errors
/// A failed database.
pub async fn store(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    before: &Ledger,
    after: &Ledger,
) -> Result<(), StorageError> {
    let changed = after.rows.iter().filter(|(key, state)| before.rows.get(key) != Some(state));
    let mut changed: BTreeSet<Blob> = changed.map(|(key, _)| Blob::of(key)).collect();
    // Other readings may make the same rows.
    let read = after.few.iter().filter(|(whose, few)| before.few.get(whose) != Some(few));
    changed.extend(read.map(|((member, setup), _)| Blob { member: *member, setup: *setup, restart: None }));
    put_blobs(conn, league, season, changed, after).await?;
    let gone = before.rows.keys().filter(|key| !after.rows.contains_key(key));
    let gone: BTreeSet<Blob> = gone.map(Blob::of).collect();
    for blob in gone {
        conn.run(sql!("evidence_row_delete"), blob.key_values(league, season)).await?;
    }
    store_sums(conn, league, season, &before.digests, &after.digests).await
}

/// Stores the rows of members on set-ups, which took rounds in, and the sums that are different since.
///
/// # Errors
/// A failed database.
pub async fn store_taken(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    taken: &BTreeSet<(MemberId, Option<SetupId>)>,
    sums_before: &BTreeMap<DigestKey, Digest>,
    after: &Ledger,
) -> Result<(), StorageError> {
    let changed = after.rows.keys().filter(|key| taken.contains(&(key.member, key.setup)));
    put_blobs(conn, league, season, changed.map(Blob::of).collect(), after).await?;
    store_sums(conn, league, season, sums_before, &after.digests).await
}

async fn put_blobs(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    blobs: BTreeSet<Blob>,
    of: &Ledger,
) -> Result<(), StorageError> {
    let blobs: Vec<Blob> = blobs.into_iter().collect();
    for blobs in blobs.chunks(BLOBS_AT_ONCE) {
        let values = |blob: &Blob| blob.key_values(league, season).into_iter().chain(values![blob.bytes(of)]);
        conn.insert_rows(sql!("evidence_row_put_head"), 8, blobs.iter().flat_map(values).collect()).await?;
    }
    Ok(())
}

async fn store_sums(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    before: &BTreeMap<DigestKey, Digest>,
    after: &BTreeMap<DigestKey, Digest>,
) -> Result<(), StorageError> {
    let changed = after.iter().filter(|(key, digest)| before.get(key) != Some(digest));
    let sums = changed.flat_map(|(key, digest)| {
        let text = serde_json::to_string(digest).expect("sums are plain values with text keys");
        values![league, season, key.setup, key.kind, key.restart, text]
    });
    conn.insert_rows(sql!("evidence_digest_put_head"), 6, sums.collect()).await?;
    for key in before.keys().filter(|key| !after.contains_key(key)) {
        conn.run(sql!("evidence_digest_delete"), values![league, season, key.setup, key.kind, key.restart]).await?;
    }
    Ok(())
}

/// Removes the rows and sums of beginnings that another one replaces.
///
/// # Errors
/// A failed database.
pub async fn begin_anew(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    kind: &'static str,
    about: About,
) -> Result<(), StorageError> {
    match about {
        About::Player(member) => {
            conn.run(sql!("evidence_row_begin_anew_player"), values![league, season, member, kind]).await?;
        }
        About::Setup(setup) => {
            conn.run(sql!("evidence_row_begin_anew_setup"), values![league, season, setup, kind]).await?;
            conn.run(sql!("evidence_digest_begin_anew"), values![league, season, setup, kind]).await?;
        }
    }
    Ok(())
}

/// Says that a member, and what a round was putted on, take part in a season, as rows' values.
pub fn field_values(league: LeagueId, season: SeasonId, member: MemberId, setup: Option<SetupId>) -> Vec<Value> {
    let mut rows = values![league, season, "player", member];
    rows.extend(setup.into_iter().flat_map(|setup| values![league, season, "setup", setup]));
    rows
}

/// Notes who and what takes part in a season, by their rows' values.
///
/// # Errors
/// A failed database.
pub async fn take_part(conn: &mut Conn, rows: Vec<Value>) -> Result<(), StorageError> {
    conn.insert_rows(sql!("evidence_field_put_head"), 4, rows).await
}

/// Returns the greater of a season's players and its set-ups.
///
/// # Errors
/// A failed database.
pub async fn field_size(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<u32, StorageError> {
    let Some(row) = conn.row(sql!("evidence_field_count"), values![league, season]).await? else { return Ok(0) };
    let (players, setups): (i64, i64) = (row.get("players")?, row.get("setups")?);
    Ok(players.max(setups) as u32)
}

/// Whose rounds are read.
#[derive(Clone, Copy, Debug)]
pub enum Whose {
    /// Everybody's.
    Everybody,
    /// A member's.
    Member(MemberId),
    /// Those on a set-up.
    Setup(SetupId),
}

impl From<About> for Whose {
    fn from(about: About) -> Self {
        match about {
            About::Player(member) => Whose::Member(member),
            About::Setup(setup) => Whose::Setup(setup),
        }
    }
}

/// Reads a season's counting rounds in the order in which evidence takes them, each with the number that lets it in.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn rounds_taken(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    whose: Whose,
) -> Result<Vec<(i64, RoundRow)>, StorageError> {
    let rows = match whose {
        Whose::Everybody => conn.rows(sql!("round_list_taken"), values![league, season]).await?,
        Whose::Member(member) => conn.rows(sql!("round_list_taken_by_member"), values![league, season, member]).await?,
        Whose::Setup(setup) => conn.rows(sql!("round_list_taken_by_setup"), values![league, season, setup]).await?,
    };
    rows.iter().map(|row| Ok((row.get("taken_seq")?, rounds::round_row(row)?))).collect()
}
