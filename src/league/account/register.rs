//! Accounts: register, read, end.

use crate::accounts::RandomnessError;
use crate::accounts::keys::LIFETIME;
use crate::accounts::password::{self, Hasher, HasherError, Holder, PasswordRefusal, Purpose, Verdict};
use crate::accounts::throttle::{Network, RetryAfter, Throttle};
use crate::accounts::token::{IssueError, LiveKeys, SessionId};
use crate::change;
use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::league::account::view::AccountView;
use crate::league::member::change::{may_step_down, void_invitations};
use crate::league::member::invite::{code_hash, valid};
use crate::league::memory::books;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::accounts::{self, Account};
use crate::storage::journal::{self, Act};
use crate::storage::lasting::Deed;
use crate::storage::row_hashes::wrote;
use crate::storage::writer::Refusing;
use crate::storage::{Conn, Scope, StorageError, leagues, members, practice, secret_addresses};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::sync::{Arc, Mutex, PoisonError};
use uuid::Uuid;

/// Who may register.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Registration {
    /// Anybody.
    Open,
    /// Whoever has an invitation.
    Invited,
    /// Nobody.
    Closed,
}

/// Why an account was not let in, or not made.
#[derive(Debug, thiserror::Error)]
pub enum AccountRefusal {
    /// The address or the password is wrong; which is not said.
    #[error("wrong e-mail or password")]
    Wrong,
    /// The token is not one of ours, spent, or its session is over.
    #[error("sign in again")]
    SignedOut,
    /// Too many failures.
    #[error("too many failed attempts: try again in {0} s")]
    Wait(u32),
    /// The server is hashing as many passwords as it can.
    #[error("the server is busy")]
    Busy,
    /// The password is not acceptable.
    #[error(transparent)]
    Password(#[from] PasswordRefusal),
    /// The address is taken.
    #[error("an account with this e-mail already exists")]
    Taken,
    /// Registration needs an invitation, or is closed.
    #[error("{0}")]
    Closed(&'static str),
    /// Hashing failed.
    #[error(transparent)]
    Hashing(HasherError),
    /// A token could not be made.
    #[error(transparent)]
    Issuing(#[from] IssueError),
    /// No random bytes.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// Anything else.
    #[error(transparent)]
    Refused(#[from] Refusal),
}

impl From<HasherError> for AccountRefusal {
    fn from(error: HasherError) -> Self {
        match error {
            HasherError::Busy => AccountRefusal::Busy,
            other => AccountRefusal::Hashing(other),
        }
    }
}

impl From<StorageError> for AccountRefusal {
    fn from(error: StorageError) -> Self {
        AccountRefusal::Refused(error.into())
    }
}

impl Refusing for AccountRefusal {
    fn storage(&self) -> Option<&StorageError> {
        if let AccountRefusal::Refused(refusal) = self { refusal.storage() } else { None }
    }
}

/// What signing in needs beside the store.
#[derive(Clone)]
pub struct Door {
    /// What access tokens are signed with.
    pub keys: Arc<LiveKeys>,
    /// Hashes passwords.
    pub hasher: Hasher,
    /// Slows guessing of passwords.
    pub sign_ins: Arc<Mutex<Throttle>>,
    /// Slows guessing of invitation codes and of addresses that have an account.
    pub registrations: Arc<Mutex<Throttle>>,
    /// Who may register.
    pub registration: Registration,
}

/// An account with its place in each league.
#[derive(Debug, Serialize)]
pub struct Me {
    /// The account.
    #[serde(flatten)]
    pub account: AccountView,
    /// Its memberships.
    pub memberships: Vec<Membership>,
}

/// An account's place in a league.
#[derive(Debug, Serialize)]
pub struct Membership {
    /// The league.
    pub league_id: LeagueId,
    /// Its record there.
    pub member_id: MemberId,
    /// Its role there.
    pub role: Role,
}

/// A pair of tokens.
#[derive(Debug, Serialize)]
pub struct Tokens {
    /// For `Authorization: Bearer`.
    pub access_token: String,
    /// `Bearer`.
    pub token_type: &'static str,
    /// Seconds until the access token runs out.
    pub expires_in_s: i64,
    /// For a new pair.
    pub refresh_token: String,
}

/// A registration.
#[derive(Deserialize)]
pub struct NewAccount {
    /// The address.
    pub email: String,
    /// The password.
    pub password: String,
    /// What it calls itself.
    pub display_name: String,
    /// An invitation's code.
    #[serde(default)]
    pub invitation: Option<String>,
}

/// An attempt that was charged to a throttle. Unless it is said how it ended, it is given back.
pub(in crate::league) struct Attempt<'a> {
    throttle: &'a Mutex<Throttle>,
    key: &'a str,
    network: Network,
    now: Timestamp,
    is_settled: bool,
}

impl<'a> Attempt<'a> {
    /// Charges an attempt.
    ///
    /// # Errors
    /// [`AccountRefusal::Wait`] after too many failures.
    pub(in crate::league) fn begin(
        throttle: &'a Mutex<Throttle>,
        key: &'a str,
        network: Network,
        now: Timestamp,
    ) -> Result<Self, AccountRefusal> {
        locked(throttle).check(key, network, now).map_err(|RetryAfter(seconds)| AccountRefusal::Wait(seconds))?;
        Ok(Self { throttle, key, network, now, is_settled: false })
    }

    pub(in crate::league) fn succeeded(mut self) {
        self.is_settled = true;
        locked(self.throttle).succeeded(self.key, self.network, self.now);
    }

    pub(in crate::league) fn failed(mut self) {
        self.is_settled = true;
        locked(self.throttle).failed(self.key, self.network, self.now);
    }
}

impl Drop for Attempt<'_> {
    fn drop(&mut self) {
        if !self.is_settled {
            locked(self.throttle).abandoned(self.key, self.network);
        }
    }
}

fn locked(throttle: &Mutex<Throttle>) -> std::sync::MutexGuard<'_, Throttle> {
    throttle.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Door {
    pub(in crate::league) fn tokens(
        &self,
        account: AccountId,
        session: Uuid,
        refresh_token: String,
        now: Timestamp,
    ) -> Result<Tokens, IssueError> {
        Ok(Tokens {
            access_token: self.keys.now().issue(account, SessionId(session), now)?,
            token_type: "Bearer",
            expires_in_s: LIFETIME.as_secs(),
            refresh_token,
        })
    }
}

/// Puts an address in the form under which it is kept.
pub(in crate::league) fn normal_email(email: &str) -> String {
    email.trim().to_lowercase()
}

impl Leagues {
    /// Registers an account. A league's invitation stays good for joining; an operator's code is spent.
    ///
    /// What costs little is checked first; a password is hashed only for a registration that would succeed.
    ///
    /// # Errors
    /// Registration that is not open to the caller; an unacceptable password; a taken address; too many failures; a busy
    /// server.
    pub async fn register(
        &self,
        door: &Door,
        new: NewAccount,
        network: Network,
    ) -> Result<AccountView, AccountRefusal> {
        let now = self.now();
        let email = normal_email(&new.email);
        if !email.split_once('@').is_some_and(|(local, host)| !local.is_empty() && !host.is_empty()) {
            let detail = "an address has a part before and a part after the @";
            return Err(Refusal::fault("/email", Rule::NotAnAddress, detail).into());
        }
        match (door.registration, &new.invitation) {
            (Registration::Closed, _) => {
                return Err(AccountRefusal::Closed("no accounts can be created on this server"));
            }
            (Registration::Invited, None) => {
                return Err(AccountRefusal::Closed("creating an account on this server needs an invitation code"));
            }
            _ => {}
        }
        password::check(&new.password, Holder { display_name: &new.display_name, email: &email })?;
        let attempt = Attempt::begin(&door.registrations, &email, network, now)?;
        let made = self.make_account(door, new, email.clone(), now).await;
        match &made {
            Ok(_) => attempt.succeeded(),
            Err(AccountRefusal::Taken | AccountRefusal::Refused(Refusal::NotFound | Refusal::CodeSpent)) => {
                attempt.failed();
            }
            Err(_) => {}
        }
        made
    }

    async fn make_account(
        &self,
        door: &Door,
        new: NewAccount,
        email: String,
        now: Timestamp,
    ) -> Result<AccountView, AccountRefusal> {
        let mut conn = self.database.reader().await?;
        if let Some(code) = &new.invitation {
            valid(&mut conn, code_hash(code)?, now).await?;
        }
        if accounts::by_email(&mut conn, &email).await?.is_some() {
            return Err(AccountRefusal::Taken);
        }
        drop(conn);
        let account = Account {
            id: AccountId(Uuid::now_v7()),
            email,
            password_hash: door.hasher.hash(new.password).await?,
            display_name: new.display_name,
        };
        // Another registration may have come first.
        change!(self, Scope::Nothing, |conn| {
            if let Some(code) = new.invitation {
                let hash = code_hash(&code)?;
                let invitation = valid(conn, hash, now).await?;
                if invitation.league.is_none() && !leagues::spend_invitation(conn, hash, now).await? {
                    return Err(Refusal::CodeSpent.into());
                }
            }
            if !accounts::insert(conn, &account, now).await? {
                return Err(AccountRefusal::Taken);
            }
            Ok(AccountView::from(&account))
        })
    }

    /// Passes whoever knows an account's password, and returns the account.
    ///
    /// # Errors
    /// A wrong address or password, told alike; too many failures; a busy server.
    pub(in crate::league) async fn admit(
        &self,
        door: &Door,
        email: &str,
        password: String,
        network: Network,
    ) -> Result<AccountId, AccountRefusal> {
        let email = normal_email(email);
        let wait = |RetryAfter(seconds)| AccountRefusal::Wait(seconds);
        locked(&door.sign_ins).peek(&email, network, self.now()).map_err(wait)?;
        let turn = door.hasher.turn(Purpose::SignIn).await?;
        let attempt = Attempt::begin(&door.sign_ins, &email, network, self.now())?;
        let account = accounts::by_email(&mut self.database.reader().await?, &email).await?;
        let hash = account.as_ref().map(|account| account.password_hash.clone());
        let verdict = door.hasher.verify_on(turn, password.clone(), hash).await?;
        let (Verdict::Right { rehash }, Some(account)) = (verdict, account) else {
            attempt.failed();
            tracing::info!(?network, "a sign-in failed");
            return Err(AccountRefusal::Wrong);
        };
        attempt.succeeded();
        let id = account.id;
        if rehash {
            match door.hasher.hash(password).await {
                Ok(fresh) => {
                    change!(self, Scope::Nothing, |conn| {
                        Ok::<_, AccountRefusal>(accounts::rehash(conn, id, &fresh).await?)
                    })?;
                }
                // The next sign-in does it.
                Err(HasherError::Busy) => {}
                Err(error) => return Err(error.into()),
            }
        }
        Ok(id)
    }

    /// Reads the caller's account.
    ///
    /// # Errors
    /// An account that was ended.
    pub async fn me(&self, caller: Caller) -> Result<Me, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let account = accounts::get(&mut conn, caller.account).await?.ok_or(Refusal::NotFound)?;
        let memberships = members::of_account(&mut conn, caller.account).await?;
        let memberships = memberships.iter().map(|member| Membership {
            league_id: member.league,
            member_id: member.id,
            role: member.member.role,
        });
        Ok(Me { account: AccountView::from(&account), memberships: memberships.collect() })
    }

    /// Ends the caller's account. Its records in leagues stay, without an account; its practice goes, as nobody else may
    /// see it.
    ///
    /// # Errors
    /// The last organizer of a league; a browser whose password was given a while ago.
    pub async fn end_account(&self, caller: Caller) -> Result<(), Refusal> {
        let (now, lasting, account) = (self.now(), self.lasting.clone(), caller.account);
        access::fresh(caller, now)?;
        let ended = change!(self, Scope::AccountInLeagues(account), |conn| {
            for member in members::of_account(conn, account).await? {
                may_step_down(conn, &member).await?;
            }
            end(conn, account, now).await?;
            Ok(lasting.note(conn, Deed::EndAccount { account_id: account }, now).await?)
        });
        self.marks.right_ended();
        self.clearing.is_due();
        ended
    }
}

/// Ends an account, whoever is left to organize its leagues.
pub(in crate::league) async fn end(conn: &mut Conn, account: AccountId, now: Timestamp) -> Result<(), Refusal> {
    for member in members::of_account(conn, account).await? {
        void_invitations(conn, &member, now).await?;
        secret_addresses::void_of(conn, member.league, member.id, now).await?;
        if member.member.role != Role::Player {
            let mut stays = member.member.clone();
            stays.role = Role::Player;
            members::update(conn, member.league, member.id, &stays).await?;
            let (by, rows) = (Some(account), [wrote("members", member.id)]);
            let act = Act { by, act: "leave", kind: "member", id: member.id.0, content: &[], rows: &rows };
            journal::append(conn, member.league, act, now).await?;
        }
        practice::erase(conn, member.league, member.id).await?;
        books::mark(conn, member.league).await?;
    }
    Ok(accounts::delete(conn, account).await?)
}
