//! Notices: what concerns a member, for whoever holds the record.

use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::row::Row;
use crate::storage::{Conn, StorageError};
use crate::wire::body::life::NOTICE_KINDS;
use crate::{change, sql, values};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// What a notice tells; in the order of [`NOTICE_KINDS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tells {
    /// A card was handed in for me.
    RoundProposed,
    /// A late card waits for an organizer.
    RoundLate,
    /// A card was accepted.
    RoundAccepted,
    /// Somebody else corrected my card.
    RoundCorrected,
    /// Somebody else withdrew my card.
    RoundWithdrawn,
    /// A ruling on my card.
    Ruling,
    /// A doubt about a card.
    Query,
    /// An answer to a doubt.
    Answer,
    /// A finding that concerns me, or that is mine to look at.
    Finding,
}

impl Tells {
    fn word(self) -> &'static str {
        NOTICE_KINDS[self as usize]
    }
}

/// A notice as its reader sees it.
#[derive(Debug, Serialize)]
pub struct NoticeView {
    /// Its id.
    pub id: Uuid,
    /// The league.
    pub league_id: LeagueId,
    /// The record that it concerns.
    pub member_id: MemberId,
    /// What it tells.
    pub kind: String,
    /// The round that it is about.
    pub round_id: Option<RoundId>,
    /// The query that it is about.
    pub query_id: Option<Uuid>,
    /// The finding that it is about.
    pub finding_id: Option<Uuid>,
    /// When it was made.
    pub at: Timestamp,
    /// When it was seen.
    pub seen_at: Option<Timestamp>,
}

impl NoticeView {
    fn of(row: &Row) -> Result<Self, StorageError> {
        let seen: Option<String> = row.get("seen_at")?;
        Ok(Self {
            id: row.get("id")?,
            league_id: row.id("league_id")?,
            member_id: row.id("member_id")?,
            kind: row.get("kind")?,
            round_id: row.optional_id("round_id")?,
            query_id: row.optional_id("query_id")?,
            finding_id: row.optional_id("finding_id")?,
            at: row.parsed("notices", "at")?,
            seen_at: seen.map(|_| row.parsed("notices", "seen_at")).transpose()?,
        })
    }
}

/// What a notice is about.
#[derive(Clone, Copy, Debug)]
pub struct About {
    /// The league.
    pub league: LeagueId,
    /// The round.
    pub round: Option<RoundId>,
    /// The query about it.
    pub query: Option<Uuid>,
    /// The finding.
    pub finding: Option<Uuid>,
}

impl About {
    /// Names a round.
    pub fn round(league: LeagueId, round: RoundId) -> Self {
        Self { league, round: Some(round), query: None, finding: None }
    }

    /// Names a doubt about a round.
    pub fn query(league: LeagueId, round: RoundId, query: Uuid) -> Self {
        Self { query: Some(query), ..Self::round(league, round) }
    }

    /// Names a finding.
    pub fn finding(league: LeagueId, finding: Uuid) -> Self {
        Self { league, round: None, query: None, finding: Some(finding) }
    }
}

/// Tells members, but for whoever did it.
///
/// # Errors
/// A failed database.
pub async fn tell(
    conn: &mut Conn,
    about: About,
    tells: Tells,
    to: &[MemberId],
    by: MemberId,
    at: Timestamp,
) -> Result<(), StorageError> {
    let mut told: Vec<MemberId> = to.iter().copied().filter(|member| *member != by).collect();
    told.sort_unstable();
    told.dedup();
    for member in told {
        let values =
            values![about.league, Uuid::now_v7(), member, tells.word(), about.round, about.query, about.finding, at];
        conn.run(sql!("notice_insert"), values).await?;
    }
    Ok(())
}

/// Returns a league's organizers.
///
/// # Errors
/// A failed database.
pub async fn organizers(conn: &mut Conn, league: LeagueId) -> Result<Vec<MemberId>, StorageError> {
    conn.rows(sql!("organizer_list"), values![league]).await?.iter().map(|row| row.id("id")).collect()
}

/// Reads the notices of a record, oldest first.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_member(conn: &mut Conn, league: LeagueId, member: MemberId) -> Result<Vec<NoticeView>, StorageError> {
    conn.rows(sql!("notice_list_by_member"), values![league, member]).await?.iter().map(NoticeView::of).collect()
}

impl Leagues {
    /// Reads the caller's notices before an id, newest first; the nil id stands for no end.
    ///
    /// # Errors
    /// A failed database.
    pub async fn notices(&self, caller: Caller, before: Uuid, limit: i64) -> Result<Vec<NoticeView>, Refusal> {
        let mut conn = self.database.reader().await?;
        let memberships = crate::storage::members::of_account(&mut conn, caller.account).await?;
        drop(conn);
        for member in memberships {
            self.weighed(member.league).await?;
        }
        let mut conn = self.database.reader().await?;
        let before = if before.is_nil() { Uuid::max() } else { before };
        let rows = conn.rows(sql!("notice_list_by_account"), values![caller.account, before, limit]).await?;
        Ok(rows.iter().map(NoticeView::of).collect::<Result<_, _>>()?)
    }

    /// Counts those of the caller's newest notices that were not seen. It stands on every page, so it weighs nothing: a
    /// finding that is about to open counts once it has.
    ///
    /// # Errors
    /// A failed database.
    pub async fn unseen(&self, caller: Caller, most: i64) -> Result<i64, Refusal> {
        let mut conn = self.database.reader().await?;
        let row = conn.row(sql!("notice_count_unseen"), values![caller.account, most]).await?;
        Ok(row.map_or(Ok(0), |row| row.get("unseen"))?)
    }

    /// Notes that a notice was seen; again it stays seen at the first time.
    ///
    /// # Errors
    /// A notice that is not the caller's.
    pub async fn see_notice(&self, caller: Caller, id: Uuid) -> Result<NoticeView, Refusal> {
        let now = self.now();
        change!(self, id, |conn| {
            let mine = |row: Option<Row>| row.ok_or(Refusal::NotFound).and_then(|row| Ok(NoticeView::of(&row)?));
            let notice = mine(conn.row(sql!("notice_get"), values![id, caller.account]).await?)?;
            conn.run(sql!("notice_see"), values![notice.league_id, id, now]).await?;
            mine(conn.row(sql!("notice_get"), values![id, caller.account]).await?)
        })
    }
}
