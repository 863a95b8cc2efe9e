//! Practice: that member's alone. It enters no table, no index, no baseline, no evidence, no journal and no bundle.

use super::keys::{RequestKey, created};
use super::{Caller, Leagues, Refusal, access, setups, sound};
use crate::change;
use crate::domain::facts::Practice;
use crate::domain::ids::MemberId;
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::report::PuttingReport;
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
        let StoredPractice { id, member, received_at, practice } = stored;
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
        return Err(Refusal::Forbidden("practice is the member's own"));
    }
    Ok(stored)
}

impl Leagues {
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
            let book = this.books.of(conn, member.league).await?;
            let mut faults = setups::use_faults(&book, id, practice.setup_id);
            faults.extend(practice.faults());
            sound(faults)?;
            let stored = StoredPractice { id: Uuid::now_v7(), member: id, received_at: key.now, practice };
            practice::insert(conn, member.league, &stored).await?;
            let view = PracticeView::from(stored);
            // blocks are read as a list: they have no address of their own and no versions
            let reply = created(format!("/api/v1/members/{id}/practice"), 1, &view);
            key.keep(conn, Reply { etag: None, ..reply }).await
        })
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
