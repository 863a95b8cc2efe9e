//! Set-ups.

use super::access::{self, IfMatch};
use super::keys::{RequestKey, created};
use super::views::SetupView;
use super::{Caller, Leagues, Refusal};
use crate::domain::facts::{Role, Setup};
use crate::domain::ids::{LeagueId, MemberId, SetupId};
use crate::domain::rule::Rule;
use crate::league::memory::books::{self};
use crate::storage::documents::{self, Document, SETUPS};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::StoredMember;
use crate::storage::row_hashes::{Written, wrote, wrote_version};
use crate::storage::{Conn, StorageError, leagues};
use crate::{change, sql, values};
use uuid::Uuid;

fn text(setup: &Setup) -> String {
    serde_json::to_string(setup).expect("a set-up is plain values with text keys")
}

/// Erases what a person wrote of set-ups; one that others use keeps its name. Returns the rows that it wrote.
pub(super) async fn erase(conn: &mut Conn, league: LeagueId, owner: MemberId) -> Result<Vec<Written>, StorageError> {
    let mut written = Vec::new();
    for row in conn.rows(sql!("setup_list_by_owner"), values![league, owner]).await? {
        let mut setup: Setup = row.json("setups", "body")?;
        if !setup.shared {
            setup.label = "A former player's simulator".into();
        }
        setup.notes.clear();
        let id: Uuid = row.get("id")?;
        conn.run(sql!("erase_setup"), values![league, id, text(&setup)]).await?;
        written.push(wrote("setups", id));
    }
    Ok(written)
}

impl Leagues {
    /// Adds a set-up; the caller is its owner.
    ///
    /// # Errors
    /// Anybody outside the league.
    pub async fn create_setup(&self, key: RequestKey, league: LeagueId, setup: Setup) -> Result<Reply, Refusal> {
        change!(self, league, |conn| {
            let owner = access::member(conn, key.caller, league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let (id, body) = (Uuid::now_v7(), text(&setup));
            let seq = leagues::next_seq(conn, league).await?;
            documents::insert(conn, &SETUPS, league, id, Some(owner.id.0), 1, seq, key.now, &body).await?;
            books::mark(conn, league).await?;
            let (by, rows) = (Some(key.caller.account), [wrote("setups", id)]);
            let act = Act { by, act: "create", kind: "setup", id, content: body.as_bytes(), rows: &rows };
            journal::append(conn, league, act, key.now).await?;
            let view = SetupView { id: SetupId(id), league_id: league, member_id: Some(owner.id), setup };
            key.keep(conn, created(format!("/api/v1/setups/{id}"), 1, &view)).await
        })
    }

    /// Changes a set-up. What is declared holds for rounds received afterwards.
    ///
    /// # Errors
    /// Anybody but its owner or an organizer; a stale version; whatever `patched` finds wrong.
    pub async fn change_setup(
        &self,
        caller: Caller,
        id: SetupId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<Setup, Refusal> + Clone + Send + 'static,
    ) -> Result<(SetupView, i64), Refusal> {
        let now = self.now();
        change!(self, id, |conn| {
            let (before, member) = access::document::<Setup>(conn, caller, &SETUPS, id.0).await?;
            may_change(&before, &member)?;
            if_match.check(before.version)?;
            let setup = patched(&before.text)?;
            let body = text(&setup);
            let seq = leagues::next_seq(conn, before.league).await?;
            documents::replace(conn, &SETUPS, &before, Some(member.id.0), seq, now, &body).await?;
            books::mark(conn, before.league).await?;
            let rows = [wrote("setups", id), wrote_version("setup", id.0, before.version)];
            let (by, content) = (Some(caller.account), body.as_bytes());
            let act = Act { by, act: "replace", kind: "setup", id: id.0, content, rows: &rows };
            journal::append(conn, before.league, act, now).await?;
            let version = before.version + 1;
            Ok((SetupView::from(Document { body: setup, ..before }), version))
        })
    }

    /// Removes a set-up that nothing was played on.
    ///
    /// # Errors
    /// Anybody but its owner or an organizer; a stale version; a set-up in use.
    pub async fn remove_setup(&self, caller: Caller, id: SetupId, if_match: IfMatch) -> Result<LeagueId, Refusal> {
        let now = self.now();
        change!(self, id, |conn| {
            let (setup, member) = access::document::<Setup>(conn, caller, &SETUPS, id.0).await?;
            may_change(&setup, &member)?;
            if_match.check(setup.version)?;
            if documents::is_setup_used(conn, setup.league, id.0).await? {
                let detail = "cards or practice were played on this simulator, so it cannot be deleted";
                return Err(Refusal::conflict(Rule::SetupInUse, detail));
            }
            documents::remove_setup(conn, setup.league, id.0).await?;
            books::mark(conn, setup.league).await?;
            let by = Some(caller.account);
            let act = Act { by, act: "remove", kind: "setup", id: id.0, content: &[], rows: &[] };
            journal::append(conn, setup.league, act, now).await?;
            Ok(setup.league)
        })
    }
}

/// Passes whoever may change a set-up or remove it.
fn may_change(setup: &Document<Setup>, member: &StoredMember) -> Result<(), Refusal> {
    if setup.parent != Some(member.id.0) && member.member.role != Role::Organizer {
        return Err(Refusal::Forbidden("only its owner or an organizer may change a simulator"));
    }
    Ok(())
}
