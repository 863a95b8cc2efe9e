//! An event is copied to later days: last week's night again, or a series.

use super::lay_down::{add, faults};
use crate::change;
use crate::domain::facts::{Event, EventCopies, Fault, Season};
use crate::domain::ids::{EventId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::attempts::Undone;
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::LeagueBook;
use crate::league::views::{EventView, Page};
use crate::league::{Leagues, Refusal, access, sound};
use crate::storage::Conn;
use crate::storage::documents::{self, Document, EVENTS, SEASONS};
use crate::storage::idempotency::Reply;

/// Finds whether copies fit their season. A copy that opens with another event of it was made before, or by mistake.
fn copy_faults(book: &LeagueBook, season: SeasonId, policy: &Season, copies: &[Event]) -> Vec<Fault> {
    let nights = book.book.nights_of(season);
    for copy in copies {
        let faults = faults(book, season, policy, copy, None);
        let day = book.day(copy.opens_at);
        if let Some(fault) = faults.into_iter().next() {
            // What is wrong with a copy is mended by choosing other days; the event itself can stay as it is.
            let detail = format!("{}, {day}: {}", copy.name, fault.detail);
            return vec![Fault::new("/days", fault.rule, detail)];
        }
        if let Some(other) = nights.iter().find(|night| night.event.opens_at == copy.opens_at) {
            let detail = format!("{} opens at the same time on {day}: leave that day out", other.event.name);
            return vec![Fault::new("/skip", Rule::Validation, detail)];
        }
    }
    Vec::new()
}

impl Leagues {
    async fn add_copies(
        &self,
        conn: &mut Conn,
        key: &RequestKey,
        event: &Document<Event>,
        terms: &EventCopies,
    ) -> Result<Vec<EventView>, Refusal> {
        let (league, season) = (event.league, SeasonId(event.parent.unwrap_or_default()));
        let policy = documents::get::<Season>(conn, &SEASONS, season.0).await?.ok_or(Refusal::NotFound)?;
        let book = self.books.of(conn, league).await?;
        let copies = terms.of(&event.body, &book.zone).map_err(|fault| Refusal::Faults(vec![fault]))?;
        sound(copy_faults(&book, season, &policy.body, &copies))?;
        let mut views = Vec::with_capacity(copies.len());
        for copy in copies {
            views.push(add(conn, (key.caller, key.now), (league, season), copy).await?);
        }
        Ok(views)
    }

    /// Copies an event to later days of its season: all copies or none.
    ///
    /// # Errors
    /// Anybody but an organizer; a copy that does not fit the season, or that opens when another event does.
    pub async fn copy_event(&self, key: RequestKey, id: EventId, terms: EventCopies) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, id, |conn| {
            let (event, _) = access::organized_document::<Event>(conn, key.caller, &EVENTS, id.0).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let items = this.add_copies(conn, &key, &event, &terms).await?;
            let location = format!("/api/v1/seasons/{}/events", event.parent.unwrap_or_default());
            key.keep(conn, created(location, 1, &Page { items, next: None })).await
        })
    }

    /// Says what copying an event would add, and adds nothing.
    ///
    /// # Errors
    /// As [`copy_event`](Self::copy_event).
    pub async fn preview_event_copies(
        &self,
        key: RequestKey,
        id: EventId,
        terms: EventCopies,
    ) -> Result<Vec<EventView>, Refusal> {
        let this = self.clone();
        let attempt: Result<(), Undone<Vec<EventView>>> = change!(self, id, |conn| {
            let (event, _) = access::organized_document::<Event>(conn, key.caller, &EVENTS, id.0).await?;
            Err(Undone::seen(this.add_copies(conn, &key, &event, &terms).await?))
        });
        Undone::view(attempt)
    }
}
