//! Invitations: a code, used once.

use crate::accounts::code;
use crate::domain::facts::{Member, Role};
use crate::domain::ids::{LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::league::member::change::folded;
use crate::league::member::open_invitations::{OpenInvitation, REVIEWER};
use crate::league::memory::books;
use crate::league::views::MemberView;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::journal::{self, Act};
use crate::storage::leagues::{self, Invitation};
use crate::storage::members::{self, StoredMember};
use crate::storage::row_hashes::{wrote, wrote_pair};
use crate::storage::{Conn, Scope, accounts, findings};
use crate::{change, sql, values};
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use uuid::Uuid;

/// Hours for which an invitation holds unless it says otherwise.
pub const USUAL_HOURS: i64 = 14 * 24;

/// An invitation as its maker sees it, once.
#[derive(Debug, Serialize)]
pub struct InvitationView {
    /// The code; it is not kept, only its hash.
    pub code: String,
    /// What it gives.
    #[serde(flatten)]
    pub open: OpenInvitation,
}

impl InvitationView {
    fn of(code: String, stored: &Invitation) -> Self {
        Self { code, open: stored.into() }
    }
}

/// Returns the hash of a code as somebody typed it.
///
/// # Errors
/// What cannot be a code: [`Refusal::NotFound`].
pub fn code_hash(text: &str) -> Result<[u8; 32], Refusal> {
    code::normalize(text).map(|code| code::hash(&code)).ok_or(Refusal::NotFound)
}

/// Reads a valid invitation by the hash of its code.
///
/// # Errors
/// An unknown code or a revoked one: [`Refusal::NotFound`]; a spent one or one that ran out: [`Refusal::CodeSpent`].
pub async fn valid(conn: &mut Conn, hash: [u8; 32], now: Timestamp) -> Result<Invitation, Refusal> {
    let known = leagues::invitation(conn, hash).await?;
    let invitation = known.filter(|known| !known.is_revoked).ok_or(Refusal::NotFound)?;
    if invitation.is_spent || invitation.expires_at <= now {
        return Err(Refusal::CodeSpent);
    }
    Ok(invitation)
}

/// Reads the invitation that was made with a code already.
async fn made_before(conn: &mut Conn, code: &str) -> Result<Option<Invitation>, Refusal> {
    let known = leagues::invitation(conn, code::hash(code)).await?;
    if known.as_ref().is_some_and(|known| known.is_revoked) {
        return Err(Refusal::conflict(Rule::InvalidTransition, "this invitation was revoked: create another"));
    }
    Ok(known)
}

impl Leagues {
    /// Makes an invitation with a code; one that was made with it already is answered again.
    ///
    /// # Errors
    /// Anybody but an organizer; a record that is not the league's or is claimed.
    pub async fn invite(
        &self,
        caller: Caller,
        league: LeagueId,
        role: Role,
        member: Option<MemberId>,
        hours: i64,
        code: String,
    ) -> Result<InvitationView, Refusal> {
        let now = self.now();
        change!(self, league, |conn| {
            access::organizer(conn, caller, league).await?;
            if role == Role::Organizer {
                access::fresh(caller, now)?;
            }
            if let Some(known) = made_before(conn, &code).await? {
                return Ok(InvitationView::of(code, &known));
            }
            if let Some(id) = member {
                let record = members::get(conn, id).await?.filter(|record| record.league == league);
                match record {
                    None => {
                        let detail = "this league has no such member";
                        return Err(Refusal::fault("/member_id", Rule::UnknownMember, detail));
                    }
                    Some(record) if record.account.is_some() || record.is_erased => {
                        return Err(Refusal::conflict(
                            Rule::AlreadyMember,
                            "this player record already belongs to an account",
                        ));
                    }
                    Some(_) => {}
                }
            }
            let expires_at = now + SignedDuration::from_hours(hours);
            let invitation = Invitation {
                id: Uuid::now_v7(),
                league: Some(league),
                role: Some(role),
                member,
                finding: None,
                expires_at,
                is_spent: false,
                is_revoked: false,
            };
            leagues::insert_invitation(conn, code::hash(&code), &invitation, Some(caller.account)).await?;
            let act = Act {
                by: Some(caller.account),
                act: "invite",
                kind: "league",
                id: league.0,
                content: role.word().as_bytes(),
                rows: &[wrote("invitations", invitation.id)],
            };
            journal::append(conn, league, act, now).await?;
            Ok(InvitationView::of(code, &invitation))
        })
    }

    /// Makes an invitation with a code for somebody from outside to rule on a finding; one that was made with it already
    /// is answered again.
    ///
    /// # Errors
    /// Anybody but an organizer; a finding of another league.
    pub async fn invite_reviewer(
        &self,
        caller: Caller,
        league: LeagueId,
        finding: Uuid,
        hours: i64,
        code: String,
    ) -> Result<InvitationView, Refusal> {
        let now = self.now();
        change!(self, league, |conn| {
            access::organizer(conn, caller, league).await?;
            if findings::get(conn, finding).await?.is_none_or(|found| found.league != league) {
                return Err(Refusal::fault("/finding_id", Rule::UnknownId, "this league has no such finding"));
            }
            if let Some(known) = made_before(conn, &code).await? {
                return Ok(InvitationView::of(code, &known));
            }
            let expires_at = now + SignedDuration::from_hours(hours);
            let invitation = Invitation {
                id: Uuid::now_v7(),
                league: Some(league),
                role: None,
                member: None,
                finding: Some(finding),
                expires_at,
                is_spent: false,
                is_revoked: false,
            };
            leagues::insert_invitation(conn, code::hash(&code), &invitation, Some(caller.account)).await?;
            let (content, rows) = (REVIEWER.as_bytes(), [wrote("invitations", invitation.id)]);
            let by = Some(caller.account);
            let act = Act { by, act: "invite", kind: "finding", id: finding, content, rows: &rows };
            journal::append(conn, league, act, now).await?;
            Ok(InvitationView::of(code, &invitation))
        })
    }

    /// Accepts an invitation to rule on a finding; `None`: the code is for something else.
    ///
    /// # Errors
    /// An unknown or spent code; a member of the league.
    pub async fn accept_review(&self, caller: Caller, text: String) -> Result<Option<Uuid>, Refusal> {
        let now = self.now();
        let hash = code_hash(&text)?;
        change!(self, Scope::Invitation(caller.account, hash), |conn| {
            let invitation = valid(conn, hash, now).await?;
            let (Some(league), Some(finding)) = (invitation.league, invitation.finding) else { return Ok(None) };
            if members::by_account(conn, caller.account, league).await?.is_some() {
                return Err(Refusal::conflict(Rule::AlreadyMember, "a reviewer must not be a member of the league"));
            }
            if !leagues::spend_invitation(conn, hash, now).await? {
                return Err(Refusal::CodeSpent);
            }
            conn.run(sql!("reviewer_insert"), values![league, finding, caller.account, now]).await?;
            let (by, rows) = (Some(caller.account), [wrote_pair("reviewers", finding, caller.account)]);
            let act = Act { by, act: "join", kind: "finding", id: finding, content: &[], rows: &rows };
            journal::append(conn, league, act, now).await?;
            Ok(Some(finding))
        })
    }

    /// Makes a code for registering, or for joining a league or claiming a record of it, as the operator.
    ///
    /// # Errors
    /// A failed database.
    pub async fn operator_code(&self, claim: Option<(LeagueId, Option<MemberId>, Role)>) -> Result<String, Refusal> {
        let expires_at = self.now() + SignedDuration::from_hours(USUAL_HOURS);
        change!(self, Scope::Nothing, |conn| {
            let code = code::generate()?;
            let invitation = Invitation {
                id: Uuid::now_v7(),
                league: claim.map(|(league, ..)| league),
                role: claim.map(|(.., role)| role),
                member: claim.and_then(|(_, member, _)| member),
                finding: None,
                expires_at,
                is_spent: false,
                is_revoked: false,
            };
            leagues::insert_invitation(conn, code::hash(&code), &invitation, None).await?;
            Ok(code)
        })
    }

    /// Accepts an invitation: the caller joins the league, or claims the record that the code names.
    ///
    /// # Errors
    /// An unknown or spent code; a caller who is in the league; a record that was claimed; a second member of one name,
    /// unless the caller confirms it.
    pub async fn accept_invitation(
        &self,
        caller: Caller,
        text: String,
        confirms_name: bool,
    ) -> Result<(MemberView, i64), Refusal> {
        let now = self.now();
        let hash = code_hash(&text)?;
        change!(self, Scope::Invitation(caller.account, hash), |conn| {
            let invitation = valid(conn, hash, now).await?;
            let league = invitation.league.ok_or(Refusal::NotFound)?;
            let role = invitation.role.unwrap_or(Role::Player);
            if members::by_account(conn, caller.account, league).await?.is_some() {
                return Err(Refusal::conflict(Rule::AlreadyMember, "you are already in this league"));
            }
            if !leagues::spend_invitation(conn, hash, now).await? {
                return Err(Refusal::CodeSpent);
            }
            let id = match invitation.member {
                Some(id) => {
                    if !members::claim(conn, league, id, caller.account, role).await? {
                        return Err(Refusal::conflict(
                            Rule::AlreadyMember,
                            "this player record already belongs to an account",
                        ));
                    }
                    // The notices wait with the record: whoever holds it has been told from now on.
                    conn.run(sql!("concerned_tell_claimed"), values![league, id, now]).await?;
                    id
                }
                None => join(conn, caller, league, role, confirms_name, now).await?,
            };
            books::mark(conn, league).await?;
            let (by, rows) = (Some(caller.account), [wrote("members", id)]);
            let act = Act { by, act: "join", kind: "member", id: id.0, content: &[], rows: &rows };
            journal::append(conn, league, act, now).await?;
            let stored = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            Ok((MemberView::from(&stored), stored.version))
        })
    }
}

async fn join(
    conn: &mut Conn,
    caller: Caller,
    league: LeagueId,
    role: Role,
    confirms_name: bool,
    now: Timestamp,
) -> Result<MemberId, Refusal> {
    let account = accounts::get(conn, caller.account).await?.ok_or(Refusal::NotFound)?;
    let name = folded(&account.display_name);
    let others = members::list(conn, league, Uuid::nil(), i64::MAX).await?;
    if !confirms_name && others.iter().any(|other| !other.is_erased && folded(&other.member.display_name) == name) {
        let detail = format!(
            "the league already has a player called {}; if that is you, ask an organizer for an invitation to that \
             record; if not, confirm that you are a different person",
            account.display_name
        );
        return Err(Refusal::conflict(Rule::SameName, detail));
    }
    let stored = StoredMember {
        id: MemberId(Uuid::now_v7()),
        league,
        account: Some(caller.account),
        member: Member {
            display_name: account.display_name,
            role,
            flight: None,
            starting_handicap: None,
            guest: false,
            earlier_starts: Vec::new(),
        },
        is_erased: false,
        version: 1,
        seq: leagues::next_seq(conn, league).await?,
        received_at: now,
    };
    members::insert(conn, &stored).await?;
    Ok(stored.id)
}
