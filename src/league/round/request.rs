//! A round that is handed in, as it was sent.

use crate::domain::facts::Round;
use crate::domain::ids::{EventId, RoundId, SeasonId};
use crate::league::keys::RequestKey;
use std::sync::Arc;
use uuid::Uuid;

/// A round that is handed in.
#[derive(Clone)]
pub struct HandIn {
    pub event: EventId,
    /// The season that the event must be of, where the sender said one.
    pub season: Option<SeasonId>,
    /// The round; without a member it is the caller's own.
    pub round: Round,
    /// Whether the body named the member.
    pub names_member: bool,
    /// Whether the sender said that the day is right although it lies outside the event.
    pub confirms_dates: bool,
    /// The sender's session, where it is still to be seen whether it goes on.
    pub session: Option<Uuid>,
}

/// A hand-in with all that it takes to judge it; it may be judged more than once.
#[derive(Clone)]
pub(in crate::league) struct Request {
    /// The id that the round will have.
    pub(in crate::league) id: RoundId,
    pub(in crate::league) key: RequestKey,
    pub(in crate::league) sent: Arc<HandIn>,
}
