//! Who asks.

use crate::domain::ids::AccountId;
use jiff::Timestamp;
use uuid::Uuid;

/// Who asks.
#[derive(Clone, Copy, Debug)]
pub struct Caller {
    pub account: AccountId,
    pub session: Uuid,
    /// When the password was given for it, where a browser asks; none for whoever comes with a token.
    pub browser_since: Option<Timestamp>,
}
