//! Sessions: sign in, refresh, sign out.

use crate::accounts::refresh::{self, Lifetimes, RefreshDecision, RefreshState};
use crate::accounts::throttle::Network;
use crate::change;
use crate::domain::ids::AccountId;
use crate::league::account::register::{AccountRefusal, Door, Tokens};
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::{Conn, Scope, accounts};
use jiff::Timestamp;
use uuid::Uuid;

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
        network: Network,
    ) -> Result<Tokens, AccountRefusal> {
        let account = self.admit(door, email, password, network).await?;
        let refresh_token = refresh::generate()?;
        let (session, now) = self.begin_session(account, refresh::hash(&refresh_token)).await?;
        Ok(door.tokens(account, session, refresh_token, now)?)
    }

    /// Begins a session of whoever holds the token with a hash.
    pub(in crate::league) async fn begin_session(
        &self,
        account: AccountId,
        token_hash: [u8; 32],
    ) -> Result<(Uuid, Timestamp), AccountRefusal> {
        let (session, now) = (Uuid::now_v7(), self.now());
        change!(self, Scope::Nothing, |conn| {
            Ok::<_, AccountRefusal>(accounts::begin_session(conn, session, account, now, token_hash).await?)
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
    let at = |milliseconds: i64| Timestamp::from_millisecond(milliseconds).unwrap_or(Timestamp::UNIX_EPOCH);
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
