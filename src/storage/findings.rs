//! Findings, whom they concern, and what was said of them.

use super::db::Conn;
use super::error::StorageError;
use super::rounds::decision;
use super::row::Row;
use crate::domain::audit;
use crate::domain::audit::ledger::{About, OpenedFact};
use crate::domain::facts::{Decision, Opinion};
use crate::domain::ids::{AccountId, LeagueId, MemberId, RoundId, SeasonId, SetupId};
use crate::{sql, values};
use jiff::Timestamp;
use uuid::Uuid;

const TABLE: &str = "findings";

/// A finding as stored.
#[derive(Clone, Debug)]
pub struct StoredFinding {
    /// Its league.
    pub league: LeagueId,
    /// What was opened.
    pub opened: OpenedFact,
    /// The number of its fact.
    pub seq: i64,
    /// When it opened.
    pub received_at: Timestamp,
}

/// Reads whom a row of a finding is about.
pub(super) fn about(row: &Row) -> Result<About, StorageError> {
    let about = About::of(row.optional_id("member_id")?, row.optional_id("setup_id")?);
    about.ok_or(StorageError::Corrupt { table: TABLE, column: "member_id", detail: "about nobody".to_owned() })
}

fn finding(row: &Row) -> Result<StoredFinding, StorageError> {
    let (word, restart): (String, i64) = (row.get("kind")?, row.get("restart")?);
    let opened = OpenedFact {
        id: row.get("id")?,
        season: row.id("season_id")?,
        kind: audit::kind(&word).ok_or(StorageError::Corrupt { table: TABLE, column: "kind", detail: word })?,
        about: about(row)?,
        restart: restart as u32,
        event: row.id("event_id")?,
        factor_log10: row.get("factor_log10")?,
        threshold_log10: row.get("threshold_log10")?,
    };
    let received_at = row.parsed(TABLE, "received_at")?;
    Ok(StoredFinding { league: row.id("league_id")?, opened, seq: row.get("seq")?, received_at })
}

/// Reads a finding.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: Uuid) -> Result<Option<StoredFinding>, StorageError> {
    conn.row(sql!("finding_get"), values![id]).await?.map(|row| finding(&row)).transpose()
}

/// Reads a league's findings after an id; with a member only those that concern it.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn list(
    conn: &mut Conn,
    league: LeagueId,
    member: Option<MemberId>,
    after: Uuid,
    limit: i64,
) -> Result<Vec<StoredFinding>, StorageError> {
    let rows = match member {
        None => conn.rows(sql!("finding_list"), values![league, after, limit]).await?,
        Some(member) => conn.rows(sql!("finding_list_by_member"), values![league, after, limit, member]).await?,
    };
    rows.iter().map(finding).collect()
}

/// Reads the findings about a set-up in a season.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn about_setup(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    setup: SetupId,
) -> Result<Vec<StoredFinding>, StorageError> {
    conn.rows(sql!("finding_list_by_setup"), values![league, season, setup]).await?.iter().map(finding).collect()
}

/// Reads a league's findings in the order in which they opened.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn in_order(conn: &mut Conn, league: LeagueId) -> Result<Vec<StoredFinding>, StorageError> {
    conn.rows(sql!("finding_list_by_seq"), values![league]).await?.iter().map(finding).collect()
}

/// Counts the findings of all leagues.
///
/// # Errors
/// A failed database.
pub async fn count(conn: &mut Conn) -> Result<i64, StorageError> {
    conn.row(sql!("finding_count"), values![]).await?.map_or(Ok(0), |row| row.get("findings"))
}

/// Stores a finding.
///
/// # Errors
/// A failed database.
pub async fn insert(conn: &mut Conn, finding: &StoredFinding) -> Result<(), StorageError> {
    let StoredFinding { league, opened, seq, received_at } = finding;
    let OpenedFact { id, season, kind, about, restart, event, factor_log10, threshold_log10 } = opened;
    let (member, setup) = about.ids();
    let values = values![
        *league,
        *id,
        *season,
        kind.name,
        member,
        setup,
        *restart,
        *event,
        *factor_log10,
        *threshold_log10,
        *seq,
        *received_at
    ];
    conn.run(sql!("finding_insert"), values).await?;
    Ok(())
}

/// Whom a finding concerns.
#[derive(Clone, Debug)]
pub struct Concerned {
    /// The member.
    pub member: MemberId,
    /// When it was told: by a notice, or by an organizer's word.
    pub told_at: Option<Timestamp>,
    /// Who told it, where a notice could not.
    pub told_by: Option<MemberId>,
    /// When it first looked.
    pub seen_at: Option<Timestamp>,
}

fn instant(row: &Row, column: &'static str) -> Result<Option<Timestamp>, StorageError> {
    let given: Option<String> = row.get(column)?;
    given.map(|_| row.parsed("finding_concerned", column)).transpose()
}

/// Reads whom a finding concerns.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn concerned(conn: &mut Conn, league: LeagueId, finding: Uuid) -> Result<Vec<Concerned>, StorageError> {
    let rows = conn.rows(sql!("concerned_list"), values![league, finding]).await?;
    let concerned = |row: &Row| {
        Ok(Concerned {
            member: row.id("member_id")?,
            told_at: instant(row, "told_at")?,
            told_by: row.optional_id("told_by")?,
            seen_at: instant(row, "seen_at")?,
        })
    };
    rows.iter().map(concerned).collect()
}

/// Notes whom a finding concerns.
///
/// # Errors
/// A failed database.
pub async fn concern(
    conn: &mut Conn,
    league: LeagueId,
    finding: Uuid,
    member: MemberId,
    told_at: Option<Timestamp>,
) -> Result<(), StorageError> {
    conn.run(sql!("concerned_insert"), values![league, finding, member, told_at]).await?;
    Ok(())
}

/// Notes that somebody whom a finding concerns was told; the first word stands.
///
/// # Errors
/// A failed database.
pub async fn tell(
    conn: &mut Conn,
    league: LeagueId,
    finding: Uuid,
    member: MemberId,
    at: Timestamp,
    by: Option<MemberId>,
) -> Result<bool, StorageError> {
    Ok(conn.run(sql!("concerned_tell"), values![league, finding, member, at, by]).await? == 1)
}

/// Notes that somebody whom a finding concerns has looked at it; the first time stands.
///
/// # Errors
/// A failed database.
pub async fn see(
    conn: &mut Conn,
    league: LeagueId,
    finding: Uuid,
    member: MemberId,
    at: Timestamp,
) -> Result<(), StorageError> {
    conn.run(sql!("concerned_see"), values![league, finding, member, at]).await?;
    Ok(())
}

/// What was said of a finding.
#[derive(Clone, Debug)]
pub struct Word {
    /// Its id.
    pub id: Uuid,
    /// The finding.
    pub finding: Uuid,
    /// What it is: `statement`, `request`, `recusal` or `first_opinion`.
    pub kind: String,
    /// Who said it.
    pub member: Option<MemberId>,
    /// The words.
    pub text: String,
    /// Until when a request wants an answer.
    pub due_at: Option<Timestamp>,
    /// What a first opinion holds.
    pub opinion: Option<Opinion>,
    /// The number of its fact.
    pub seq: i64,
    /// When it came in.
    pub received_at: Timestamp,
}

fn word(row: &Row) -> Result<Word, StorageError> {
    let (due, opinion): (Option<String>, Option<String>) = (row.get("due_at")?, row.get("opinion")?);
    Ok(Word {
        id: row.get("id")?,
        finding: row.get("finding_id")?,
        kind: row.get("kind")?,
        member: row.optional_id("member_id")?,
        text: row.get("text")?,
        due_at: due.map(|_| row.parsed("finding_words", "due_at")).transpose()?,
        opinion: opinion.as_deref().and_then(Opinion::from_word),
        seq: row.get("seq")?,
        received_at: row.parsed("finding_words", "received_at")?,
    })
}

/// Reads what was said of a finding, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn words(conn: &mut Conn, league: LeagueId, finding: Uuid) -> Result<Vec<Word>, StorageError> {
    conn.rows(sql!("finding_word_list"), values![league, finding]).await?.iter().map(word).collect()
}

/// Reads what was said of all findings of a league, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn all_words(conn: &mut Conn, league: LeagueId) -> Result<Vec<Word>, StorageError> {
    conn.rows(sql!("finding_word_list_all"), values![league]).await?.iter().map(word).collect()
}

/// Reads what a member said of findings, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn words_of_member(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<Vec<Word>, StorageError> {
    conn.rows(sql!("finding_word_list_by_member"), values![league, member]).await?.iter().map(word).collect()
}

/// Stores what somebody says of a finding.
///
/// # Errors
/// A failed database.
pub async fn say(conn: &mut Conn, league: LeagueId, said: &Word) -> Result<(), StorageError> {
    let Word { id, finding, kind, member, text, due_at, opinion, seq, received_at } = said;
    let opinion = opinion.map(Opinion::word);
    let values = values![league, *id, *finding, kind, *member, text, *due_at, *seq, *received_at, opinion];
    conn.run(sql!("finding_word_insert"), values).await?;
    Ok(())
}

/// A ruling on rounds or on a finding.
#[derive(Clone, Debug)]
pub struct Ruled {
    /// Its id.
    pub id: Uuid,
    /// The finding that it answers.
    pub finding: Option<Uuid>,
    /// Who ruled; none: a reviewer from outside.
    pub member: Option<MemberId>,
    /// What was decided.
    pub decision: Decision,
    /// The rounds that it touches.
    pub rounds: Vec<RoundId>,
    /// The version that a correction replaced.
    pub replaced_version: Option<i64>,
    /// Why.
    pub reason: String,
    /// The number of its fact.
    pub seq: i64,
    /// When.
    pub received_at: Timestamp,
}

/// Puts together rulings from rows of a ruling and a round that it touches.
fn ruled(rows: &[Row]) -> Result<Vec<Ruled>, StorageError> {
    let mut all: Vec<Ruled> = Vec::new();
    for row in rows {
        let (id, round): (Uuid, Option<RoundId>) = (row.get("id")?, row.optional_id("round_id")?);
        match all.last_mut().filter(|last| last.id == id) {
            Some(same) => same.rounds.extend(round),
            None => all.push(Ruled {
                id,
                finding: row.get("finding_id")?,
                member: row.optional_id("member_id")?,
                decision: decision(row)?,
                rounds: round.into_iter().collect(),
                replaced_version: row.get("replaced_version")?,
                reason: row.get("reason")?,
                seq: row.get("seq")?,
                received_at: row.parsed("rulings", "received_at")?,
            }),
        }
    }
    Ok(all)
}

/// Reads the rulings on a finding, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn rulings(conn: &mut Conn, league: LeagueId, finding: Uuid) -> Result<Vec<Ruled>, StorageError> {
    ruled(&conn.rows(sql!("ruling_list_by_finding"), values![league, finding]).await?)
}

/// Reads all rulings of a league, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn all_rulings(conn: &mut Conn, league: LeagueId) -> Result<Vec<Ruled>, StorageError> {
    ruled(&conn.rows(sql!("ruling_list"), values![league]).await?)
}

/// Says whether an account reviews a finding from outside.
///
/// # Errors
/// A failed database.
pub async fn is_reviewer(
    conn: &mut Conn,
    league: LeagueId,
    finding: Uuid,
    account: AccountId,
) -> Result<bool, StorageError> {
    Ok(conn.row(sql!("reviewer_get"), values![league, finding, account]).await?.is_some())
}
