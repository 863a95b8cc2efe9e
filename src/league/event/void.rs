//! Events that no competition counts: made void, and back.

use crate::domain::competition::matches;
use crate::domain::facts::Event;
use crate::domain::ids::{EventId, MemberId};
use crate::domain::rule::Rule;
use crate::domain::season::{Book, RoundState};
use crate::league::Refusal;
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::final_event;
use crate::storage::{Conn, StorageError, entrants, events_kept, rounds};
use jiff::Timestamp;
use uuid::Uuid;

/// Passes an event that can be made void now, or be taken back: always until it is final, then until the next event of its
/// season is.
///
/// # Errors
/// A failed database; a final event after which another of its season became final.
pub(super) async fn may_become_void(conn: &mut Conn, book: &LeagueBook, id: EventId) -> Result<(), Refusal> {
    if !book.book.nights.get(&id).is_some_and(|night| night.event.is_final()) {
        return Ok(());
    }
    let kept = events_kept::in_order(conn, book.league).await?;
    let later = kept.iter().skip_while(|kept| kept.event != id).skip(1);
    match later.map(|kept| kept.event).find(|event| is_of_its_season(&book.book, id, *event)) {
        Some(_) => {
            let detail = "a later event of this season is final, so whether this one is void can no longer change";
            Err(Refusal::conflict(Rule::EventFinal, detail))
        }
        None => Ok(()),
    }
}

fn is_of_its_season(book: &Book, id: EventId, other: EventId) -> bool {
    let season = |event| book.nights.get(event).map(|night| night.season);
    season(&id) == season(&other)
}

/// Passes a change of a final event, of which only whether it is void can change.
///
/// # Errors
/// A failed database; any other change, or one that comes too late.
pub(super) async fn may_change_final(
    conn: &mut Conn,
    book: &LeagueBook,
    id: EventId,
    (before, after): (&Event, &Event),
) -> Result<(), Refusal> {
    match after.differs_in_void_alone(before) {
        true => may_become_void(conn, book, id).await,
        false => Err(final_event()),
    }
}

/// Tells those who have a card in an event, entered it, or are expected by a fixture that it became void or counts again.
///
/// # Errors
/// A failed database or an unreadable row.
pub(super) async fn tell(
    conn: &mut Conn,
    book: &LeagueBook,
    (id, event): (EventId, &Event),
    by: MemberId,
    now: Timestamp,
) -> Result<(), StorageError> {
    let Some(night) = book.book.nights.get(&id) else { return Ok(()) };
    let cards = rounds::of_event(conn, book.league, id, Uuid::nil(), i64::MAX).await?;
    let cards = cards.into_iter().filter(|row| row.state != RoundState::Withdrawn).map(|row| row.member);
    let mut to: Vec<MemberId> = cards.collect();
    to.extend(entrants::of_event(conn, book.league, id).await?.into_iter().map(|entrant| entrant.member));
    to.extend(matches::expected(&book.book, night));
    let tells = if event.is_void() { Tells::Void } else { Tells::VoidUndone };
    notices::tell(conn, About::event(book.league, id), tells, &to, by, now).await
}
