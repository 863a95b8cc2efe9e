//! Browsers: who is signed in by a cookie.

use crate::accounts::{cookie, refresh};
use crate::change;
use crate::domain::ids::AccountId;
use crate::league::account::register::{AccountRefusal, Door};
use crate::league::account::session::Arrival;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::{Scope, accounts, members};
use jiff::{SignedDuration, Timestamp};

/// How much older than its last noted use a session gets before the next use is noted: reading is not writing.
const NOTED_EVERY: SignedDuration = SignedDuration::from_hours(1);

impl Leagues {
    /// Signs a browser in and returns the token for its cookie.
    ///
    /// # Errors
    /// A wrong address or password, told alike; too many failures; a busy server.
    pub async fn sign_in_browser(
        &self,
        door: &Door,
        email: &str,
        password: String,
        arrival: Arrival,
    ) -> Result<(String, Caller), AccountRefusal> {
        let account = self.admit(door, email, password, arrival.network).await?;
        self.begin_browser(account, arrival).await
    }

    /// Signs a browser in to an account whose password was just given, and returns the token for its cookie.
    ///
    /// # Errors
    /// A failed database.
    pub async fn begin_browser(
        &self,
        account: AccountId,
        arrival: Arrival,
    ) -> Result<(String, Caller), AccountRefusal> {
        let token = cookie::generate()?;
        let (session, now) = self.begin_session(account, refresh::hash(&token), arrival, true).await?;
        Ok((token, Caller { account, session, browser_since: Some(now) }))
    }

    /// Returns who holds a browser's token. Whoever organizes a league stays signed in for a shorter time.
    ///
    /// # Errors
    /// [`AccountRefusal::SignedOut`]: a token that is not ours, or of a session that is over.
    pub async fn browser(&self, token: &str) -> Result<Caller, AccountRefusal> {
        if !cookie::is_well_formed(token) {
            return Err(AccountRefusal::SignedOut);
        }
        let now = self.now();
        let mut conn = self.database.reader().await?;
        let stored = accounts::refresh_token(&mut conn, &refresh::hash(token)).await?;
        let stored = stored.ok_or(AccountRefusal::SignedOut)?;
        let session = accounts::session(&mut conn, stored.session).await?.ok_or(AccountRefusal::SignedOut)?;
        let is_organizer = members::organizes(&mut conn, session.account).await?;
        drop(conn);
        let at = |milliseconds: i64| Timestamp::from_millisecond(milliseconds).unwrap_or(Timestamp::UNIX_EPOCH);
        let (created_at, last_used) = (at(session.created_at), at(session.last_used_at));
        let ends_at = cookie::lifetimes(is_organizer).ends_at(created_at, last_used);
        if session.ended_at.is_some() || now >= ends_at {
            return Err(AccountRefusal::SignedOut);
        }
        if now.duration_since(last_used) >= NOTED_EVERY {
            let id = session.id;
            change!(self, Scope::Nothing, |conn| Ok::<_, Refusal>(accounts::touch(conn, id, now).await?))?;
        }
        Ok(Caller { account: session.account, session: session.id, browser_since: Some(created_at) })
    }

    /// Takes the password of whoever is signed in once more; a new session takes the place of the old one.
    ///
    /// # Errors
    /// A wrong password; too many failures; a busy server.
    pub async fn sign_in_afresh(
        &self,
        door: &Door,
        caller: Caller,
        password: String,
        arrival: Arrival,
    ) -> Result<String, AccountRefusal> {
        let email = self.me(caller).await?.account.email;
        let (token, _) = self.sign_in_browser(door, &email, password, arrival).await?;
        self.sign_out(caller).await?;
        Ok(token)
    }
}
