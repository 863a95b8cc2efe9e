//! Invitations that wait to be taken up: listed, and revoked. Their codes are not kept, so each has an id beside its code.

use crate::change;
use crate::domain::facts::Role;
use crate::domain::ids::{LeagueId, MemberId};
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::journal::{self, Act};
use crate::storage::leagues::{self, Invitation};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// The role of somebody from outside who rules on one finding.
pub const REVIEWER: &str = "reviewer";

/// An invitation as organizers see it.
#[derive(Debug, Serialize)]
pub struct OpenInvitation {
    /// Its id.
    pub id: Uuid,
    /// The role that it gives.
    pub role: &'static str,
    /// Until when it holds.
    pub expires_at: Timestamp,
    /// The record that it claims.
    pub member_id: Option<MemberId>,
    /// The finding that a reviewer rules on.
    pub finding_id: Option<Uuid>,
}

impl From<&Invitation> for OpenInvitation {
    fn from(stored: &Invitation) -> Self {
        let Invitation { id, role, member, finding, expires_at, .. } = stored;
        let role = if finding.is_some() { REVIEWER } else { role.unwrap_or(Role::Player).word() };
        Self { id: *id, role, expires_at: *expires_at, member_id: *member, finding_id: *finding }
    }
}

impl Leagues {
    /// Reads a league's invitations after an id that can still be taken up.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn open_invitations(
        &self,
        caller: Caller,
        league: LeagueId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<OpenInvitation>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        access::organizer(&mut conn, caller, league).await?;
        let open = leagues::open_invitations(&mut conn, league, after, self.now(), limit).await?;
        Ok(open.iter().map(OpenInvitation::from).collect())
    }

    /// Revokes an invitation: from then on nobody knows its code.
    ///
    /// # Errors
    /// Anybody but an organizer of its league; one that was revoked; one that was used or has run out.
    pub async fn revoke_invitation(&self, caller: Caller, id: Uuid) -> Result<(), Refusal> {
        let now = self.now();
        change!(self, id, |conn| {
            let known = leagues::invitation_by_id(conn, id).await?.ok_or(Refusal::NotFound)?;
            let league = known.league.ok_or(Refusal::NotFound)?;
            access::organizer(conn, caller, league).await?;
            if known.is_revoked {
                return Err(Refusal::NotFound);
            }
            if known.expires_at <= now || !leagues::revoke_invitation(conn, id, now).await? {
                return Err(Refusal::CodeSpent);
            }
            let content = OpenInvitation::from(&known).role.as_bytes();
            let (kind, about) = known.finding.map_or(("league", league.0), |finding| ("finding", finding));
            let act = Act { by: Some(caller.account), act: "revoke", kind, id: about, content, rows: &[] };
            journal::append(conn, league, act, now).await?;
            Ok(())
        })
    }
}
