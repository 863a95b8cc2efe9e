//! An account as its holder sees it.

use crate::domain::ids::AccountId;
use crate::storage::accounts::Account;
use serde::Serialize;

/// An account as its holder sees it.
#[derive(Debug, Serialize)]
pub struct AccountView {
    pub id: AccountId,
    /// Its address.
    pub email: String,
    /// What it calls itself.
    pub display_name: String,
}

impl From<&Account> for AccountView {
    fn from(account: &Account) -> Self {
        Self { id: account.id, email: account.email.clone(), display_name: account.display_name.clone() }
    }
}
