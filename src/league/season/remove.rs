//! A season without cards is removed, with everything that was laid down for it.

use crate::change;
use crate::domain::facts::{EventState, Season};
use crate::domain::ids::{LeagueId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::memory::books;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::documents::{self, SEASONS};
use crate::storage::journal::{self, Act};
use crate::storage::{carried, entrants, rounds, season_facts};

impl Leagues {
    /// Removes a season in which no card was handed in, with its events, competitions and carried results.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a season with a card, withdrawn ones included, or one that is being
    /// played.
    pub async fn remove_season(&self, caller: Caller, id: SeasonId, if_match: IfMatch) -> Result<LeagueId, Refusal> {
        let this = self.clone();
        let now = self.now();
        let (league, events) = change!(self, id, |conn| {
            let (season, _) = access::organized_document::<Season>(conn, caller, &SEASONS, id.0).await?;
            if_match.check(season.version)?;
            let league = season.league;
            let book = this.books.of(conn, league).await?;
            let nights = book.book.nights_of(id);
            for night in &nights {
                let is_open = night.event.state_at(now) == EventState::Open;
                let is_played = is_open && !entrants::cards_of(conn, league, night.id).await?.is_empty();
                if is_played || rounds::count_in_event(conn, league, night.id).await?.all > 0 {
                    let detail = format!(
                        "the event {} has cards, so its season cannot be deleted; withdrawn cards are kept too",
                        night.event.name
                    );
                    return Err(Refusal::conflict(Rule::EventHasCards, detail));
                }
            }
            let events: Vec<_> = nights.iter().map(|night| night.id).collect();
            let mut removed = Vec::new();
            for event in &events {
                documents::remove_event(conn, league, event.0).await?;
                removed.push(("event", event.0));
            }
            for fact in season_facts::list(conn, league).await?.into_iter().filter(|fact| fact.season == id) {
                season_facts::remove(conn, &fact).await?;
                removed.push((fact.kind.word(), fact.id));
            }
            for (competition, _) in book.book.competitions_of(id) {
                documents::remove_competition(conn, league, competition.0).await?;
                removed.push(("competition", competition.0));
            }
            for result in carried::results(conn, league).await?.into_iter().filter(|result| result.of == id) {
                carried::remove_result(conn, league, result.id).await?;
                removed.push(("carried_result", result.id));
            }
            documents::remove_season(conn, league, id.0).await?;
            removed.push(("season", id.0));
            books::mark(conn, league).await?;
            for (kind, id) in removed {
                let act = Act { by: Some(caller.account), act: "remove", kind, id, content: &[], rows: &[] };
                journal::append(conn, league, act, now).await?;
            }
            Ok::<_, Refusal>((league, events))
        })?;
        for event in events {
            self.boards.moved(event);
        }
        Ok(league)
    }
}
