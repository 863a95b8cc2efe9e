//! A season is copied: its terms, competitions and events, some days later.

use crate::change;
use crate::domain::facts::counted_events::Counted;
use crate::domain::facts::{Competition, Fault, Season, SeasonCopy};
use crate::domain::ids::{CompetitionId, EventId, SeasonId};
use crate::league::attempts::Undone;
use crate::league::competition::lay_down as competition;
use crate::league::event::lay_down as event;
use crate::league::keys::{RequestKey, created};
use crate::league::season::lay_down as season;
use crate::league::views::{CompetitionView, EventView, SeasonView};
use crate::league::{Leagues, Refusal, access};
use crate::storage::Conn;
use crate::storage::documents::{Document, SEASONS};
use crate::storage::idempotency::Reply;
use serde::Serialize;
use serde_json::Value;
use std::collections::HashMap;

/// A season that was copied.
#[derive(Debug, Serialize)]
pub struct SeasonCopyView {
    #[serde(flatten)]
    pub season: SeasonView,
    pub competitions: Vec<CompetitionView>,
    pub events: Vec<EventView>,
}

/// Puts the new ids into what refers to the old ones.
fn renamed(value: &mut Value, ids: &HashMap<String, String>) {
    match value {
        Value::String(text) => {
            if let Some(new) = ids.get(text) {
                text.clone_from(new);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| renamed(item, ids)),
        Value::Object(fields) => fields.values_mut().for_each(|field| renamed(field, ids)),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// Orders competitions so that each stands after those that it rests on.
fn in_order(mut left: Vec<(CompetitionId, Competition)>) -> Vec<(CompetitionId, Competition)> {
    let mut ordered = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let is_free = |terms: &Competition| !left.iter().any(|(id, _)| terms.rests_on().contains(id));
        // No competition rests on itself, not even by others: one is always free.
        let Some(at) = left.iter().position(|(_, terms)| is_free(terms)) else { break };
        ordered.push(left.remove(at));
    }
    ordered
}

/// Returns the results whose events were copied, without those that were not.
fn still_counted(named: &[Counted], copied: &[EventId]) -> Vec<Counted> {
    let left = named.iter().map(|counted| {
        let event_ids = counted.event_ids.iter().copied().filter(|event| copied.contains(event)).collect();
        Counted { event_ids, ..counted.clone() }
    });
    left.filter(|counted| !counted.event_ids.is_empty()).collect()
}

impl Leagues {
    async fn add_season_copy(
        &self,
        conn: &mut Conn,
        key: &RequestKey,
        found: &Document<Season>,
        terms: &SeasonCopy,
    ) -> Result<SeasonCopyView, Refusal> {
        let (league, from) = (found.league, SeasonId(found.id));
        let by = (key.caller, key.now);
        let before = self.books.of(conn, league).await?;
        let broken = |fault: Fault| Refusal::Faults(vec![fault]);
        let copy = terms.of(&found.body).map_err(broken)?;
        let nights = before.book.nights_of(from);
        let events = nights.iter().map(|night| (night.id, &night.event));
        let copies = terms.events_of(events, &before.zone).map_err(broken)?;
        let made = season::add(conn, by, league, copy).await?;
        let id = made.id;
        let mut ids = HashMap::from([(from.to_string(), id.to_string())]);
        let book = self.books.of(conn, league).await?;
        for (_, copy) in &copies {
            if let Some(fault) = event::faults(&book, id, &made.season, copy, None).into_iter().next() {
                let detail = format!("{}: {}", copy.name, fault.detail);
                return Err(broken(Fault::new("/days", fault.rule, detail)));
            }
        }
        let copied: Vec<EventId> = copies.iter().map(|(old, _)| *old).collect();
        let mut events = Vec::with_capacity(copies.len());
        for (old, copy) in copies {
            let view = event::add(conn, by, (league, id), copy).await?;
            ids.insert(old.to_string(), view.id.to_string());
            events.push(view);
        }
        let mut competitions = Vec::new();
        let all = before.book.competitions_of(from);
        // The teams stay behind, and events that were not copied: whoever competes in the copy is all of its own.
        let left = |terms: &Competition| {
            let events = terms.events.as_ref().map(|named| still_counted(named, &copied));
            Competition { teams: None, events: events.filter(|left| !left.is_empty()), ..terms.clone() }
        };
        for (old, terms) in in_order(all.into_iter().map(|(id, terms)| (id, left(terms))).collect()) {
            let mut value = serde_json::to_value(&terms).expect("terms are plain values with text keys");
            renamed(&mut value, &ids);
            let terms = serde_json::from_value(value).expect("an id stands for an id");
            let view = competition::add(conn, by, (league, id), terms).await?;
            ids.insert(old.to_string(), view.id.to_string());
            competitions.push(view);
        }
        Ok(SeasonCopyView { season: made, competitions, events })
    }

    /// Copies a season, moved by some days, with its competitions and, as asked, its events.
    ///
    /// # Errors
    /// Anybody but an organizer; days past the end of the calendar; an event that does not fit any more.
    pub async fn copy_season(&self, key: RequestKey, id: SeasonId, terms: SeasonCopy) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, id, |conn| {
            let (found, _) = access::organized_document::<Season>(conn, key.caller, &SEASONS, id.0).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let view = this.add_season_copy(conn, &key, &found, &terms).await?;
            key.keep(conn, created(format!("/api/v1/seasons/{}", view.season.id), 1, &view)).await
        })
    }

    /// Says what copying a season would add, and adds nothing.
    ///
    /// # Errors
    /// As [`copy_season`](Self::copy_season).
    pub async fn preview_season_copy(
        &self,
        key: RequestKey,
        id: SeasonId,
        terms: SeasonCopy,
    ) -> Result<SeasonCopyView, Refusal> {
        let this = self.clone();
        let attempt: Result<(), Undone<SeasonCopyView>> = change!(self, id, |conn| {
            let (found, _) = access::organized_document::<Season>(conn, key.caller, &SEASONS, id.0).await?;
            Err(Undone::seen(this.add_season_copy(conn, &key, &found, &terms).await?))
        });
        Undone::view(attempt)
    }
}
