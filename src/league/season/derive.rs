//! Keeping derived rows up: one member after a round, everybody after a change of terms.

use crate::domain::ids::{EventId, MemberId, RoundId, SeasonId};
use crate::domain::season::record::{figures_of_latest, member_record};
use crate::domain::season::{Entry, Figures};
use crate::league::Refusal;
use crate::league::memory::books::LeagueBook;
use crate::storage::results::{self, StoredResult};
use crate::storage::{Conn, StorageError, documents};
use std::borrow::Borrow;
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

/// The seasons and events that show something else.
pub type Shown = BTreeSet<(SeasonId, EventId)>;

/// Derives one member afresh and stores what is different.
///
/// # Errors
/// A failed database or an unreadable row.
async fn member(conn: &mut Conn, book: &LeagueBook, member: MemberId) -> Result<Shown, StorageError> {
    let mut stored = results::of_member(conn, book.league, member).await?;
    let mut shown = Shown::new();
    for Changed { place, before } in bring_up(book, member, &mut stored, |stored| stored) {
        shown.extend(before.iter().chain(&stored[place].figures).map(|figures| (figures.season, figures.event)));
        results::set_figures(conn, book.league, &stored[place]).await?;
    }
    Ok(shown)
}

/// Lets a member's rounds be followed by a new one. Returns the places of the earlier ones whose figures are others now,
/// and what shows something else.
pub fn followed_by(book: &LeagueBook, rounds: &mut Vec<Arc<StoredResult>>, new: Entry) -> (Vec<usize>, Shown) {
    let (member, event, last) = (new.member, new.event, rounds.len());
    let known = rounds.iter().map(|known| (&known.entry, known.figures.as_ref()));
    if let Some(figures) = figures_of_latest(&book.book, member, known, &new) {
        let shown = Shown::from([(figures.season, event)]);
        rounds.push(Arc::new(StoredResult::new(new, Some(figures))));
        return (Vec::new(), shown);
    }
    rounds.push(Arc::new(StoredResult::new(new, None)));
    let mut shown = Shown::new();
    let mut changed = Vec::new();
    for Changed { place, before } in bring_up(book, member, rounds, Arc::make_mut) {
        shown.extend(before.iter().chain(&rounds[place].figures).map(|figures| (figures.season, figures.event)));
        if place != last {
            changed.push(place);
        }
    }
    shown.extend(book.book.nights.get(&event).map(|night| (night.season, event)));
    (changed, shown)
}

async fn show_anew(conn: &mut Conn, book: &LeagueBook, shown: Shown) -> Result<(), StorageError> {
    documents::show_anew(conn, shown.into_iter().map(|(season, event)| (book.league, season, event))).await
}

/// Derives one member and moves the marks of what shows something else.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn member_and_marks(conn: &mut Conn, book: &LeagueBook, who: MemberId) -> Result<(), StorageError> {
    let shown = member(conn, book, who).await?;
    show_anew(conn, book, shown).await
}

/// Derives everybody, after a change of the league's terms.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn everybody(conn: &mut Conn, book: &LeagueBook) -> Result<(), Refusal> {
    conn.think_long().await?;
    for who in results::members(conn, book.league).await? {
        member(conn, book, who).await?;
    }
    documents::show_all_anew(conn, book.league).await?;
    Ok(())
}

/// A round whose figures were not those that follow from the cards.
pub struct Changed {
    /// Its place among the member's rounds.
    pub place: usize,
    /// The figures that it had.
    pub before: Option<Figures>,
}

/// Brings a member's figures up to what follows from the cards; returns the rounds whose figures were others. `own` makes a
/// round the caller's own to change.
pub fn bring_up<R: Borrow<StoredResult>>(
    book: &LeagueBook,
    member: MemberId,
    stored: &mut [R],
    own: fn(&mut R) -> &mut StoredResult,
) -> Vec<Changed> {
    let entries = stored.iter().map(|stored| &stored.borrow().entry);
    let record = member_record(&book.book, member, entries, None);
    let mut after: HashMap<RoundId, Figures> =
        record.figures.into_iter().map(|figures| (figures.round, figures)).collect();
    let rounds = stored.iter_mut().enumerate();
    rounds
        .filter_map(|(place, stored)| {
            let known: &StoredResult = (*stored).borrow();
            let figures = after.remove(&known.entry.id);
            (known.figures != figures).then(|| Changed { place, before: own(stored).put_figures(figures) })
        })
        .collect()
}
