//! What teams, line-ups, fixtures, concessions, adjustments and side contests have in common: storing, the journal, what shows anew.

use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::{Caller, Refusal};
use crate::storage::journal::{self, Act};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::season_facts::{Kind, SeasonFact};
use crate::storage::{Conn, documents, leagues, season_facts};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// Somebody who does something now.
#[derive(Clone, Copy)]
pub(in crate::league) struct By {
    pub caller: Caller,
    pub member: MemberId,
    pub now: Timestamp,
}

pub(in crate::league) struct New<'a, T> {
    pub id: Uuid,
    pub season: SeasonId,
    pub kind: Kind,
    /// What it belongs to.
    pub of: Uuid,
    /// The event of a line-up.
    pub event: Option<EventId>,
    pub body: &'a T,
}

fn text(body: &impl Serialize) -> String {
    serde_json::to_string(body).expect("facts are plain values with text keys")
}

/// Stores something new; returns its id.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn create<T: Serialize>(
    conn: &mut Conn,
    by: By,
    book: &LeagueBook,
    new: New<'_, T>,
) -> Result<Uuid, Refusal> {
    let league = book.league;
    let New { id, season, kind, of, event, body } = new;
    let seq = leagues::next_seq(conn, league).await?;
    let received_at = by.now;
    let fact = SeasonFact { league, id, season, kind, of, event, version: 1, seq, received_at, text: text(body) };
    season_facts::insert(conn, &fact).await?;
    shows_anew(conn, book, season).await?;
    let rows = [wrote("season_facts", id)];
    let (account, content) = (Some(by.caller.account), fact.text.as_bytes());
    let act = Act { by: account, act: "create", kind: kind.word(), id, content, rows: &rows };
    journal::append(conn, league, act, by.now).await?;
    Ok(id)
}

/// Replaces what is stored; returns the number of the new version.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn replace(
    conn: &mut Conn,
    by: By,
    book: &LeagueBook,
    before: &SeasonFact,
    body: &impl Serialize,
) -> Result<i64, Refusal> {
    let (league, id, body) = (before.league, before.id, text(body));
    let seq = leagues::next_seq(conn, league).await?;
    season_facts::replace(conn, before, by.member, seq, by.now, &body).await?;
    shows_anew(conn, book, before.season).await?;
    let kind = before.kind.word();
    let rows = [wrote("season_facts", id), wrote_version(kind, id, before.version)];
    let (account, content) = (Some(by.caller.account), body.as_bytes());
    let act = Act { by: account, act: "replace", kind, id, content, rows: &rows };
    journal::append(conn, league, act, by.now).await?;
    Ok(before.version + 1)
}

/// Removes what is stored.
///
/// # Errors
/// A failed database.
pub(in crate::league) async fn remove(
    conn: &mut Conn,
    by: By,
    book: &LeagueBook,
    fact: &SeasonFact,
) -> Result<(), Refusal> {
    season_facts::remove(conn, fact).await?;
    shows_anew(conn, book, fact.season).await?;
    let (account, kind) = (Some(by.caller.account), fact.kind.word());
    let act = Act { by: account, act: "remove", kind, id: fact.id, content: &[], rows: &[] };
    Ok(journal::append(conn, fact.league, act, by.now).await?)
}

async fn shows_anew(conn: &mut Conn, book: &LeagueBook, season: SeasonId) -> Result<(), Refusal> {
    let league: LeagueId = book.league;
    books::mark(conn, league).await?;
    documents::show_seasons_anew(conn, [(league, season)]).await?;
    let events: Vec<EventId> = book.book.nights_of(season).iter().map(|night| night.id).collect();
    Ok(documents::show_events_anew(conn, events.into_iter().map(|event| (league, event))).await?)
}
