//! Notices: what concerns a member, for whoever holds the record, and what was done to an account.

use crate::change;
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId};
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::notices::{self, Notice, Things};
use crate::storage::{Conn, StorageError, members};
use crate::wire::body::life::NOTICE_KINDS;
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
    /// A query about a card.
    Query,
    /// An answer to a query.
    Answer,
    /// A finding that concerns me, or that is mine to look at.
    Finding,
    /// Somebody signed in to my account.
    SignedIn,
    /// The password of my account was changed.
    PasswordChanged,
    /// An event that I have to do with became void.
    Void,
    /// An event that was void counts again.
    VoidUndone,
    /// An organizer decided about my index.
    HandicapAct,
    /// Somebody changed what a line-up says of me.
    LineUp,
    /// A fixture of mine was moved or decided.
    Fixture,
    /// Something was conceded in a match of mine.
    Concession,
    /// Points were given to me or my team, or taken.
    Adjustment,
}

impl Tells {
    pub(in crate::league) fn word(self) -> &'static str {
        NOTICE_KINDS[self as usize]
    }
}

/// A notice as its reader sees it.
#[derive(Debug, Serialize)]
pub struct NoticeView {
    /// Its id.
    pub id: Uuid,
    /// The league; none where it is about the account.
    pub league_id: Option<LeagueId>,
    /// The record that it concerns.
    pub member_id: Option<MemberId>,
    /// What it tells.
    pub kind: String,
    /// The round that it is about.
    pub round_id: Option<RoundId>,
    /// The query that it is about.
    pub query_id: Option<Uuid>,
    /// The finding that it is about.
    pub finding_id: Option<Uuid>,
    /// The event that it is about.
    pub event_id: Option<EventId>,
    /// Where an act on the account came from.
    pub device: Option<String>,
    /// When it was made.
    pub at: Timestamp,
    /// When it was seen.
    pub seen_at: Option<Timestamp>,
}

impl From<Notice> for NoticeView {
    fn from(stored: Notice) -> Self {
        let Notice { place, id, kind, round, query, finding, event, device, at, seen_at } = stored;
        Self {
            id,
            league_id: place.map(|(league, _)| league),
            member_id: place.map(|(_, member)| member),
            kind,
            round_id: round,
            query_id: query,
            finding_id: finding,
            event_id: event,
            device,
            at,
            seen_at,
        }
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
    pub event: Option<EventId>,
}

impl About {
    /// Names a round.
    pub fn round(league: LeagueId, round: RoundId) -> Self {
        Self { league, round: Some(round), query: None, finding: None, event: None }
    }

    /// Names a query about a round.
    pub fn query(league: LeagueId, round: RoundId, query: Uuid) -> Self {
        Self { query: Some(query), ..Self::round(league, round) }
    }

    /// Names a finding.
    pub fn finding(league: LeagueId, finding: Uuid) -> Self {
        Self { league, round: None, query: None, finding: Some(finding), event: None }
    }

    /// Names the record alone.
    pub fn member(league: LeagueId) -> Self {
        Self { league, round: None, query: None, finding: None, event: None }
    }

    pub fn event(league: LeagueId, event: EventId) -> Self {
        Self { league, round: None, query: None, finding: None, event: Some(event) }
    }
}

impl About {
    fn things(self) -> Things {
        Things { round: self.round, query: self.query, finding: self.finding, event: self.event }
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
        notices::insert(conn, (about.league, member), tells.word(), about.things(), at).await?;
    }
    Ok(())
}

impl Leagues {
    /// Reads the caller's notices before an id, newest first; the nil id stands for no end.
    ///
    /// # Errors
    /// A failed database.
    pub async fn notices(&self, caller: Caller, before: Uuid, limit: i64) -> Result<Vec<NoticeView>, Refusal> {
        let mut conn = self.database.reader().await?;
        let memberships = members::of_account(&mut conn, caller.account).await?;
        drop(conn);
        for member in memberships {
            self.weighed(member.league).await?;
        }
        let mut conn = self.database.reader().await?;
        let before = if before.is_nil() { Uuid::max() } else { before };
        let found = notices::of_account(&mut conn, caller.account, before, limit).await?;
        Ok(found.into_iter().map(NoticeView::from).collect())
    }

    /// Counts those of the caller's newest notices that were not seen. It stands on every page, so it weighs nothing: a
    /// finding that is about to open counts once it has.
    ///
    /// # Errors
    /// A failed database.
    pub async fn unseen(&self, caller: Caller, most: i64) -> Result<i64, Refusal> {
        Ok(notices::count_unseen(&mut self.database.reader().await?, caller.account, most).await?)
    }

    /// Notes that a notice was seen; again it stays seen at the first time.
    ///
    /// # Errors
    /// A notice that is not the caller's.
    pub async fn see_notice(&self, caller: Caller, id: Uuid) -> Result<NoticeView, Refusal> {
        let now = self.now();
        change!(self, id, |conn| {
            let notice = notices::get(conn, id, caller.account).await?.ok_or(Refusal::NotFound)?;
            notices::see(conn, &notice, now).await?;
            let seen = notices::get(conn, id, caller.account).await?.ok_or(Refusal::NotFound)?;
            Ok::<_, Refusal>(NoticeView::from(seen))
        })
    }
}
