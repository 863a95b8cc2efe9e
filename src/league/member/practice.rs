//! Practice: that member's alone. It enters no table, no index, no baseline, no evidence, no journal and no bundle.

use crate::change;
use crate::domain::facts::Practice;
use crate::domain::ids::MemberId;
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::report::PuttingReport;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::round::card_faults::use_faults;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::Conn;
use crate::storage::idempotency::Reply;
use crate::storage::members::{self, StoredMember};
use crate::storage::practice::{self, StoredPractice};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// A block of practice.
#[derive(Debug, Serialize)]
pub struct PracticeView {
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub member_id: MemberId,
    /// When it came in.
    pub received_at: Timestamp,
    /// What was handed in.
    #[serde(flatten)]
    pub practice: Practice,
}

impl From<StoredPractice> for PracticeView {
    fn from(stored: StoredPractice) -> Self {
        let StoredPractice { id, member, received_at, practice, .. } = stored;
        Self { id, member_id: member, received_at, practice }
    }
}

/// What a member's practice says.
#[derive(Debug, Serialize)]
pub struct PracticeReport {
    /// How many blocks it rests on.
    pub blocks: u32,
    /// The putting report of the practised putts.
    #[serde(flatten)]
    pub report: PuttingReport,
}

/// Passes the member itself.
async fn own(conn: &mut Conn, caller: Caller, id: MemberId) -> Result<StoredMember, Refusal> {
    let stored = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
    if access::member(conn, caller, stored.league).await?.id != id {
        return Err(Refusal::Forbidden("practice is private to the player"));
    }
    Ok(stored)
}

/// Passes the member whose block it is.
async fn own_block(conn: &mut Conn, caller: Caller, id: Uuid) -> Result<(StoredPractice, StoredMember), Refusal> {
    let stored = practice::get(conn, id).await?.ok_or(Refusal::NotFound)?;
    let member = own(conn, caller, stored.member).await?;
    Ok((stored, member))
}

impl Leagues {
    /// Passes a block that fits itself and is practised on a set-up that the member may use.
    async fn sound_practice(&self, conn: &mut Conn, of: &StoredMember, practice: &Practice) -> Result<(), Refusal> {
        let book = self.books.of(conn, of.league).await?;
        let mut faults = use_faults(&book, of.id, practice.setup_id);
        faults.extend(practice.faults());
        sound(faults)
    }

    /// Keeps a block of practice.
    ///
    /// # Errors
    /// Anybody but the member; a set-up that is not the member's to use; a block that does not fit itself.
    pub async fn keep_practice(&self, key: RequestKey, id: MemberId, practice: Practice) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, id, |conn| {
            let member = own(conn, key.caller, id).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            this.sound_practice(conn, &member, &practice).await?;
            let (id, league) = (Uuid::now_v7(), member.league);
            let stored = StoredPractice { league, id, member: member.id, received_at: key.now, version: 1, practice };
            practice::insert(conn, &stored).await?;
            key.keep(conn, created(format!("/api/v1/practice/{id}"), 1, &PracticeView::from(stored))).await
        })
    }

    /// Reads a block of practice and its version.
    ///
    /// # Errors
    /// Anybody but the member.
    pub async fn practice_block(&self, caller: Caller, id: Uuid) -> Result<(PracticeView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (stored, _) = own_block(&mut conn, caller, id).await?;
        let version = stored.version;
        Ok((stored.into(), version))
    }

    /// Puts another block in the place of one; when it came in stays.
    ///
    /// # Errors
    /// Anybody but the member; a stale version; whatever a new block is refused for.
    pub async fn mend_practice(
        &self,
        caller: Caller,
        id: Uuid,
        if_match: IfMatch,
        practice: Practice,
    ) -> Result<(PracticeView, i64), Refusal> {
        let this = self.clone();
        change!(self, id, |conn| {
            let (before, member) = own_block(conn, caller, id).await?;
            if_match.check(before.version)?;
            this.sound_practice(conn, &member, &practice).await?;
            practice::replace(conn, before.league, id, &practice).await?;
            let version = before.version + 1;
            Ok((PracticeView::from(StoredPractice { practice, ..before }), version))
        })
    }

    /// Throws a block of practice away.
    ///
    /// # Errors
    /// Anybody but the member; a stale version.
    pub async fn throw_practice_away(&self, caller: Caller, id: Uuid, if_match: IfMatch) -> Result<(), Refusal> {
        change!(self, id, |conn| {
            let (before, _) = own_block(conn, caller, id).await?;
            if_match.check(before.version)?;
            Ok::<_, Refusal>(practice::remove(conn, before.league, id).await?)
        })?;
        self.clearing.is_due();
        Ok(())
    }

    /// Reads a member's blocks of practice after an id.
    ///
    /// # Errors
    /// Anybody but the member.
    pub async fn practice_of(
        &self,
        caller: Caller,
        id: MemberId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<PracticeView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let member = own(&mut conn, caller, id).await?;
        let blocks = practice::of_member(&mut conn, member.league, id, after, limit).await?;
        Ok(blocks.into_iter().map(PracticeView::from).collect())
    }

    /// Reports a member's practice.
    ///
    /// # Errors
    /// Anybody but the member.
    pub async fn practice_report(&self, caller: Caller, id: MemberId) -> Result<PracticeReport, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let member = own(&mut conn, caller, id).await?;
        let mut blocks = practice::of_member(&mut conn, member.league, id, Uuid::nil(), i64::MAX).await?;
        blocks.sort_by_key(|block| (block.practice.played_on, block.id));
        let blocks: Vec<Practice> = blocks.into_iter().map(|block| block.practice).collect();
        let report = PuttingReport::of_practice(id, &blocks, Baseline::tour());
        Ok(PracticeReport { blocks: blocks.len() as u32, report })
    }
}
