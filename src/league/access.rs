//! Who may see and do what. Membership is read for every request, so a demotion bites at once.

use super::views::state_word;
use super::{Caller, Refusal};
use crate::domain::facts::{EventState, Role};
use crate::domain::ids::LeagueId;
use crate::domain::rule::Rule;
use crate::domain::season::{Night, RoundState};
use crate::league::refusal::final_event;
use crate::storage::Conn;
use crate::storage::documents::{self, Document, Kind};
use crate::storage::members::{self, StoredMember};
use crate::storage::rounds::RoundRow;
use crate::storage::season_facts::{self, SeasonFact};
use jiff::{SignedDuration, Timestamp};
use serde::de::DeserializeOwned;
use uuid::Uuid;

/// For how long after its password was given a browser may do what asks for it (S14).
const FRESH: SignedDuration = SignedDuration::from_mins(5);

/// Returns the caller's record in a league.
///
/// # Errors
/// [`Refusal::NotFound`] for anybody who is not in it.
pub async fn member(conn: &mut Conn, caller: Caller, league: LeagueId) -> Result<StoredMember, Refusal> {
    members::by_account(conn, caller.account, league).await?.ok_or(Refusal::NotFound)
}

fn organizing(member: StoredMember) -> Result<StoredMember, Refusal> {
    match member.member.role {
        Role::Organizer => Ok(member),
        Role::Player | Role::Scorer => Err(Refusal::Forbidden("only an organizer of the league may do this")),
    }
}

/// Returns the caller's record in a league that it organizes.
///
/// # Errors
/// [`Refusal::NotFound`] outside the league, [`Refusal::Forbidden`] in it.
pub async fn organizer(conn: &mut Conn, caller: Caller, league: LeagueId) -> Result<StoredMember, Refusal> {
    organizing(member(conn, caller, league).await?)
}

/// Passes a browser whose password was given a moment ago, and whoever comes with a token: nobody walks up to those.
///
/// # Errors
/// [`Refusal::PasswordDue`].
pub fn fresh(caller: Caller, now: Timestamp) -> Result<(), Refusal> {
    match caller.browser_since {
        Some(since) if now.duration_since(since) > FRESH => Err(Refusal::PasswordDue),
        _ => Ok(()),
    }
}

/// Reads a document of a league that the caller is in.
///
/// # Errors
/// [`Refusal::NotFound`] for a document that is not there or in another league.
pub async fn document<T: DeserializeOwned>(
    conn: &mut Conn,
    caller: Caller,
    kind: &Kind,
    id: Uuid,
) -> Result<(Document<T>, StoredMember), Refusal> {
    let document = documents::get(conn, kind, id).await?.ok_or(Refusal::NotFound)?;
    let member = member(conn, caller, document.league).await?;
    Ok((document, member))
}

/// Reads a document of a league that the caller organizes.
///
/// # Errors
/// As [`document`], and [`Refusal::Forbidden`] for other members.
pub async fn organized_document<T: DeserializeOwned>(
    conn: &mut Conn,
    caller: Caller,
    kind: &Kind,
    id: Uuid,
) -> Result<(Document<T>, StoredMember), Refusal> {
    let (document, member) = document(conn, caller, kind, id).await?;
    Ok((document, organizing(member)?))
}

/// Reads a team, a fixture or what is said of them, of a league that the caller is in.
///
/// # Errors
/// [`Refusal::NotFound`] for what is not there, in another league or of another kind.
pub async fn season_fact(
    conn: &mut Conn,
    caller: Caller,
    kind: season_facts::Kind,
    id: Uuid,
) -> Result<(SeasonFact, StoredMember), Refusal> {
    let found = season_facts::get(conn, id).await?.filter(|fact| fact.kind == kind).ok_or(Refusal::NotFound)?;
    let member = member(conn, caller, found.league).await?;
    Ok((found, member))
}

/// As [`season_fact`], for organizers.
///
/// # Errors
/// As [`season_fact`], and [`Refusal::Forbidden`] for other members.
pub async fn organized_season_fact(
    conn: &mut Conn,
    caller: Caller,
    kind: season_facts::Kind,
    id: Uuid,
) -> Result<(SeasonFact, StoredMember), Refusal> {
    let (found, member) = season_fact(conn, caller, kind, id).await?;
    Ok((found, organizing(member)?))
}

/// Passes whoever may change a round now. Once the event has closed nobody changes an own card that counts, whatever the
/// role; one that waits counts for nothing yet.
pub(super) fn may_change_round(
    night: &Night,
    row: &RoundRow,
    caller: &StoredMember,
    now: Timestamp,
) -> Result<(), Refusal> {
    let (state, is_own) = (night.event.state_at(now), row.member == caller.id);
    let waits = matches!(row.state, RoundState::Late | RoundState::Proposed);
    match state {
        EventState::Final => Err(final_event()),
        EventState::Open => Ok(()),
        _ if !is_own || waits => Ok(()),
        state if caller.member.role.keeps_scores() => {
            let detail = format!("the event {}: somebody else changes your own card now", state_word(state));
            Err(Refusal::conflict(Rule::EventNotOpen, detail))
        }
        state => Err(Refusal::conflict(Rule::EventNotOpen, format!("the event {}", state_word(state)))),
    }
}

/// Which version the caller means to change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IfMatch {
    /// It did not say.
    Missing,
    /// Whatever there is.
    Any,
    /// This version.
    Version(i64),
    /// One that is never the present one: a weak tag, or one that is not ours.
    Never,
}

impl IfMatch {
    /// Passes if the caller means the present version.
    ///
    /// # Errors
    /// [`Refusal::IfMatchMissing`], [`Refusal::Stale`].
    pub fn check(self, present: i64) -> Result<(), Refusal> {
        match self {
            IfMatch::Missing => Err(Refusal::IfMatchMissing),
            IfMatch::Any => Ok(()),
            IfMatch::Version(version) if version == present => Ok(()),
            IfMatch::Version(_) | IfMatch::Never => Err(Refusal::Stale(present)),
        }
    }
}
