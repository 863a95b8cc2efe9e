//! Sessions: sign in, refresh, sign out; which there are, and ending one of them.

use crate::accounts::cookie;
use crate::accounts::refresh::{self, Lifetimes, RefreshDecision, RefreshState};
use crate::accounts::throttle::Network;
use crate::change;
use crate::domain::ids::AccountId;
use crate::league::account::register::{AccountRefusal, Door, Tokens};
use crate::league::member::notices::Tells;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::accounts::{Session, Since};
use crate::storage::{Conn, Scope, StorageError, accounts, members, notices};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// Where a sign-in comes from.
#[derive(Clone)]
pub struct Arrival {
    pub network: Network,
    /// What it comes from, in words.
    pub device: String,
    /// The token of an earlier sign-in that the browser shows.
    pub shown: Option<String>,
}

/// A session as its holder sees it.
#[derive(Debug, Serialize)]
pub struct SessionView {
    pub id: Uuid,
    /// What it was begun on.
    pub device: String,
    pub created_at: Timestamp,
    /// When it was last used, to the hour in a browser and to ten minutes elsewhere.
    pub last_used_at: Timestamp,
    /// Whether it is the caller's own.
    pub is_current: bool,
}

fn at(milliseconds: i64) -> Timestamp {
    Timestamp::from_millisecond(milliseconds).unwrap_or(Timestamp::UNIX_EPOCH)
}

/// Returns after which instants a session must have begun and been used so as not to be over.
fn since(lifetimes: Lifetimes, now: Timestamp) -> Since {
    let ago = |lifetime| now.checked_sub(lifetime).unwrap_or(Timestamp::MIN).as_millisecond();
    Since { begun: ago(lifetimes.absolute), used: ago(lifetimes.idle) }
}

impl Leagues {
    /// Signs in.
    ///
    /// # Errors
    /// A wrong address or password, told alike; too many failures; a busy server.
    pub async fn sign_in(
        &self,
        door: &Door,
        email: &str,
        password: String,
        arrival: Arrival,
    ) -> Result<Tokens, AccountRefusal> {
        let account = self.admit(door, email, password, arrival.network).await?;
        let refresh_token = refresh::generate()?;
        let (session, now) = self.begin_session(account, refresh::hash(&refresh_token), arrival, false).await?;
        Ok(door.tokens(account, session, refresh_token, now)?)
    }

    /// Begins a session of whoever holds the token with a hash, always under an id of its own. The account is told, unless
    /// it is its first session or the browser shows that it was signed in to the account before.
    pub(in crate::league) async fn begin_session(
        &self,
        account: AccountId,
        token_hash: [u8; 32],
        arrival: Arrival,
        is_browser: bool,
    ) -> Result<(Uuid, Timestamp), AccountRefusal> {
        let (session, now) = (Uuid::now_v7(), self.now());
        change!(self, Scope::Nothing, |conn| {
            let Arrival { device, shown, .. } = &arrival;
            if !accounts::is_first_session(conn, account).await? && !was_here(conn, account, shown.as_deref()).await? {
                notices::insert_about_account(conn, account, Tells::SignedIn.word(), device, now).await?;
            }
            let on = (device.as_str(), is_browser);
            Ok::<_, AccountRefusal>(accounts::begin_session(conn, session, account, now, token_hash, on).await?)
        })?;
        tracing::info!(%session, "signed in");
        Ok((session, now))
    }

    /// Exchanges a refresh token for a new pair. Within a minute the same token gets the same pair again.
    ///
    /// # Errors
    /// A token that is not ours, spent long ago (its session ends), or of a session that is over.
    pub async fn refresh(&self, door: &Door, presented: String) -> Result<Tokens, AccountRefusal> {
        if !refresh::is_well_formed(&presented) {
            return Err(AccountRefusal::SignedOut);
        }
        let now = self.now();
        let settled =
            change!(self, Scope::Token(refresh::hash(&presented)), |conn| settle_refresh(conn, &presented, now).await)?;
        let (account, session, token) = settled.ok_or(AccountRefusal::SignedOut)?;
        Ok(door.tokens(account, session, token, now)?)
    }

    /// Passes if a session is still on.
    ///
    /// # Errors
    /// [`AccountRefusal::SignedOut`].
    pub async fn check_session(&self, caller: Caller) -> Result<(), AccountRefusal> {
        let session = accounts::session(&mut self.database.reader().await?, caller.session).await?;
        match session {
            Some(session) if session.ended_at.is_none() && session.account == caller.account => Ok(()),
            _ => Err(AccountRefusal::SignedOut),
        }
    }

    /// Reads the caller's sessions that are not over, before an id, newest first; the nil id stands for no end.
    ///
    /// # Errors
    /// A failed database.
    pub async fn sessions(&self, caller: Caller, before: Uuid, limit: i64) -> Result<Vec<SessionView>, Refusal> {
        let now = self.now();
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let is_organizer = members::organizes(&mut conn, caller.account).await?;
        let since = (since(cookie::lifetimes(is_organizer), now), since(Lifetimes::MEMBER, now));
        let before = if before.is_nil() { Uuid::max() } else { before };
        let found = accounts::sessions(&mut conn, caller.account, before, since, limit).await?;
        let view = |session: Session| SessionView {
            id: session.id,
            device: session.device,
            created_at: at(session.created_at),
            last_used_at: at(session.last_used_at),
            is_current: session.id == caller.session,
        };
        Ok(found.into_iter().map(view).collect())
    }

    /// Ends one of the caller's sessions, whichever it is.
    ///
    /// # Errors
    /// One that is not the caller's, or that has ended.
    pub async fn end_session(&self, caller: Caller, id: Uuid) -> Result<(), Refusal> {
        let now = self.now();
        let was_on = change!(self, Scope::Nothing, |conn| {
            Ok::<_, Refusal>(accounts::end_own_session(conn, caller.account, id, now).await?)
        })?;
        if !was_on {
            return Err(Refusal::NotFound);
        }
        self.marks.right_ended();
        tracing::info!(session = %id, "a session was ended");
        Ok(())
    }

    /// Signs out.
    ///
    /// # Errors
    /// A failed database.
    pub async fn sign_out(&self, caller: Caller) -> Result<(), Refusal> {
        let now = self.now();
        let ended = change!(self, Scope::Nothing, |conn| Ok(accounts::end_session(conn, caller.session, now).await?));
        self.marks.right_ended();
        ended
    }
}

/// Says whether a browser shows a token of a session of the account, which may be over.
async fn was_here(conn: &mut Conn, account: AccountId, shown: Option<&str>) -> Result<bool, StorageError> {
    let Some(token) = shown.filter(|token| cookie::is_well_formed(token)) else { return Ok(false) };
    let Some(token) = accounts::refresh_token(conn, &refresh::hash(token)).await? else { return Ok(false) };
    let session = accounts::session(conn, token.session).await?;
    Ok(session.is_some_and(|session| session.account == account))
}

type Settled = Option<(AccountId, Uuid, String)>;

/// Decides and writes in one change, so that of parallel uses one rotates and the others repeat.
async fn settle_refresh(conn: &mut Conn, presented: &str, now: Timestamp) -> Result<Settled, AccountRefusal> {
    let hash = refresh::hash(presented);
    let Some(token) = accounts::refresh_token(conn, &hash).await? else { return Ok(None) };
    let Some(session) = accounts::session(conn, token.session).await? else { return Ok(None) };
    let successor = match &token.successor_hash {
        Some(successor) => accounts::refresh_token(conn, successor).await?,
        None => None,
    };
    let state = RefreshState {
        spent_at: token.spent_at.map(at),
        successor_spent: successor.is_some_and(|successor| successor.spent_at.is_some()),
        session_ended: session.ended_at.is_some(),
        session_created_at: at(session.created_at),
        last_used_at: at(session.last_used_at),
    };
    match refresh::decide(state, now, Lifetimes::MEMBER) {
        RefreshDecision::Rotate => {
            let next = refresh::generate()?;
            let sealed = refresh::seal(&next, presented);
            accounts::rotate(conn, session.id, hash, refresh::hash(&next), sealed, now).await?;
            Ok(Some((session.account, session.id, next)))
        }
        RefreshDecision::Repeat => match token.sealed_successor.and_then(|sealed| refresh::open(&sealed, presented)) {
            Some(next) => Ok(Some((session.account, session.id, next))),
            None => end_family(conn, session.id, now).await,
        },
        RefreshDecision::EndFamily => end_family(conn, session.id, now).await,
        RefreshDecision::Refuse => Ok(None),
    }
}

async fn end_family(conn: &mut Conn, session: Uuid, now: Timestamp) -> Result<Settled, AccountRefusal> {
    tracing::warn!(%session, "a spent refresh token was used: its session is ended");
    accounts::end_session(conn, session, now).await?;
    Ok(None)
}
