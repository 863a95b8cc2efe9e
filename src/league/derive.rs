//! Keeping derived rows up: one member after a round, everybody after a change of terms.

use super::Refusal;
use super::books::LeagueBook;
use crate::domain::ids::{EventId, MemberId, RoundId, SeasonId};
use crate::domain::season::record::member_record;
use crate::domain::season::{Entry, Figures};
use crate::storage::results::{self, StoredResult};
use crate::storage::{Conn, StorageError, documents};
use std::collections::{BTreeSet, HashMap};

/// Derives one member afresh and stores what is different. Returns the seasons and events that show something else.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn member(
    conn: &mut Conn,
    book: &LeagueBook,
    member: MemberId,
) -> Result<BTreeSet<(SeasonId, EventId)>, StorageError> {
    let stored = results::of_member(conn, book.league, member).await?;
    let mut changed = BTreeSet::new();
    for (entry, before, after) in differences(book, member, stored) {
        results::set_figures(conn, book.league, member, entry.id, after.as_ref()).await?;
        changed.extend(before.iter().chain(&after).map(|figures| (figures.season, figures.event)));
    }
    Ok(changed)
}

/// Derives one member with a round that is not stored yet, stores it with its figures and whatever else is different,
/// and moves the marks of what shows something else. Returns all the member's rounds, the new one last.
///
/// # Errors
/// A failed database.
pub async fn with_new_round(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    mut stored: Vec<StoredResult>,
    new: Entry,
) -> Result<Vec<StoredResult>, StorageError> {
    let (member, event, id) = (new.member, new.event, new.id);
    stored.push(StoredResult { entry: new, figures: None });
    let mut shown = BTreeSet::from([(season, event)]);
    for (entry, before, after) in differences(book, member, stored.clone()) {
        shown.extend(before.iter().chain(&after).map(|figures| (figures.season, figures.event)));
        if entry.id != id {
            results::set_figures(conn, book.league, member, entry.id, after.as_ref()).await?;
        }
        if let Some(place) = stored.iter_mut().find(|stored| stored.entry.id == entry.id) {
            place.figures = after;
        }
    }
    if let Some(new) = stored.last() {
        results::insert(conn, book.league, season, new).await?;
    }
    for (season, event) in shown {
        documents::show_anew(conn, book.league, season, event).await?;
    }
    Ok(stored)
}

/// Derives one member and moves the marks of what shows something else.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn member_and_marks(conn: &mut Conn, book: &LeagueBook, who: MemberId) -> Result<(), StorageError> {
    for (season, event) in member(conn, book, who).await? {
        documents::show_anew(conn, book.league, season, event).await?;
    }
    Ok(())
}

/// Derives everybody, after a change of the league's terms.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn everybody(conn: &mut Conn, book: &LeagueBook) -> Result<(), Refusal> {
    for who in results::members(conn, book.league).await? {
        member(conn, book, who).await?;
    }
    documents::show_all_anew(conn, book.league).await?;
    Ok(())
}

/// Compares stored figures with those that follow from the cards: each round that differs, with both.
pub fn differences(
    book: &LeagueBook,
    member: MemberId,
    stored: Vec<StoredResult>,
) -> Vec<(Entry, Option<Figures>, Option<Figures>)> {
    let (entries, before): (Vec<Entry>, Vec<Option<Figures>>) =
        stored.into_iter().map(|stored| (stored.entry, stored.figures)).unzip();
    let record = member_record(&book.book, member, &entries, None);
    let mut after: HashMap<RoundId, Figures> =
        record.figures.into_iter().map(|figures| (figures.round, figures)).collect();
    entries
        .into_iter()
        .zip(before)
        .map(|(entry, before)| {
            let after = after.remove(&entry.id);
            (entry, before, after)
        })
        .filter(|(_, before, after)| before != after)
        .collect()
}
