//! Passwords: change one's own; choose a new one with a code that the operator made.

use crate::accounts::password::{self, Holder, Purpose};
use crate::accounts::reset;
use crate::domain::ids::AccountId;
use crate::domain::rule::Rule;
use crate::league::account::register::{AccountRefusal, Door};
use crate::league::account::session::Arrival;
use crate::league::member::notices::Tells;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::lasting::Deed;
use crate::storage::{Conn, Scope, accounts, notices};
use crate::{change, sql, values};
use jiff::Timestamp;
use uuid::Uuid;

/// A password's change.
pub struct NewPassword {
    /// The password so far.
    pub current: String,
    /// The one to come.
    pub new: String,
}

/// Reads whose password a code may set.
async fn holder(conn: &mut Conn, hash: [u8; 32], now: Timestamp) -> Result<AccountId, Refusal> {
    let row = conn.row(sql!("password_reset_get"), values![hash]).await?.ok_or(Refusal::NotFound)?;
    let expires_at: Timestamp = row.parsed("password_resets", "expires_at")?;
    if row.get::<Option<String>>("spent_at")?.is_some() || expires_at <= now {
        return Err(Refusal::CodeSpent);
    }
    Ok(row.id("account_id")?)
}

impl Leagues {
    /// Changes the caller's password. Every other session of the account ends, and codes for a new password are spent.
    ///
    /// # Errors
    /// A wrong password; an unacceptable new one; too many failures; a busy server.
    pub async fn change_password(
        &self,
        door: &Door,
        caller: Caller,
        change: NewPassword,
        arrival: Arrival,
    ) -> Result<(), AccountRefusal> {
        let account = self.me(caller).await?.account;
        password::check(&change.new, Holder { display_name: &account.display_name, email: &account.email })?;
        let admitted = self.admit(door, &account.email, change.current, arrival.network).await;
        admitted.map_err(|refusal| match refusal {
            AccountRefusal::Wrong => {
                let detail = "the current password is wrong";
                Refusal::fault("/current_password", Rule::WrongPassword, detail).into()
            }
            other => other,
        })?;
        let hash = door.hasher.hash(change.new).await?;
        let (now, lasting, id) = (self.now(), self.lasting.clone(), account.id);
        change!(self, Scope::Account(id), |conn| {
            accounts::set_password(conn, id, &hash, caller.session, now).await?;
            notices::insert_about_account(conn, id, Tells::PasswordChanged.word(), &arrival.device, now).await?;
            lasting.note(conn, Deed::ChangePassword { account_id: id }, now).await?;
            Ok::<_, AccountRefusal>(())
        })?;
        self.marks.right_ended();
        tracing::info!("a password was changed");
        Ok(())
    }

    /// Makes a code for a new password, as the operator; `None`: no account has this address.
    ///
    /// # Errors
    /// A failed database.
    pub async fn operator_reset(&self, email: &str) -> Result<Option<String>, Refusal> {
        let (code, now) = (reset::generate()?, self.now());
        let hash = reset::hash(&code).ok_or(Refusal::NotFound)?;
        let email = crate::league::account::register::normal_email(email);
        let is_made = change!(self, Scope::Nothing, |conn| {
            let Some(account) = accounts::by_email(conn, &email).await? else { return Ok(false) };
            conn.run(sql!("password_reset_insert"), values![hash, account.id, now + reset::LIFETIME]).await?;
            Ok::<_, Refusal>(true)
        })?;
        Ok(is_made.then_some(code))
    }

    /// Sets the password of the account that a code is for. Every session of it ends, and every such code is spent.
    ///
    /// # Errors
    /// A code that nobody made; one that was used, ran out or came before another change; an unacceptable password; a busy
    /// server.
    pub async fn reset_password(
        &self,
        door: &Door,
        code: &str,
        new: String,
        arrival: Arrival,
    ) -> Result<(), AccountRefusal> {
        let hash = reset::hash(code).ok_or(Refusal::NotFound)?;
        let mut conn = self.database.reader().await?;
        let id = holder(&mut conn, hash, self.now()).await?;
        let account = accounts::get(&mut conn, id).await?.ok_or(Refusal::NotFound)?;
        drop(conn);
        password::check(&new, Holder { display_name: &account.display_name, email: &account.email })?;
        let turn = door.hasher.turn(Purpose::NewPassword).await?;
        // A code that is sent many times at once is spent by the time that most of them have their turn.
        holder(&mut self.database.reader().await?, hash, self.now()).await?;
        let fresh = door.hasher.hash_on(turn, new).await?;
        let (now, lasting) = (self.now(), self.lasting.clone());
        change!(self, Scope::Account(id), |conn| {
            // Another use of the code, or another change, may have come first.
            holder(conn, hash, now).await?;
            accounts::set_password(conn, id, &fresh, Uuid::nil(), now).await?;
            notices::insert_about_account(conn, id, Tells::PasswordChanged.word(), &arrival.device, now).await?;
            lasting.note(conn, Deed::ChangePassword { account_id: id }, now).await?;
            Ok::<_, AccountRefusal>(())
        })?;
        self.marks.right_ended();
        tracing::info!("a password was reset");
        Ok(())
    }
}
