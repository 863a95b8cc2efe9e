//! The fixtures of a round robin.

use crate::domain::competition::round_robin::{BYE, berger, twice};
use crate::domain::competition::spread::spread;
use crate::domain::facts::{Competition, Competitor, Contender, Fixture};
use crate::domain::ids::{CompetitionId, EventId, FixtureId, SeasonId};
use crate::domain::rule::Rule;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::COMPETITIONS;
use crate::wire::body::matches::MOST_AT_ONCE;
use serde::Deserialize;
use uuid::Uuid;

/// What a round robin is made of.
#[derive(Clone, Debug, Deserialize)]
pub struct RoundRobin {
    /// How often every pair meets.
    #[serde(default = "once")]
    pub times: u8,
    /// The event of each round.
    pub events: Vec<EventId>,
    /// Who competes, in the order of the table; `None`: the teams of the competition.
    #[serde(default)]
    pub sides: Option<Vec<Competitor>>,
    /// The names of the bays that the fixtures are spread over.
    #[serde(default)]
    pub bays: Vec<String>,
    /// The names of the slots, the first first.
    #[serde(default)]
    pub slots: Vec<String>,
}

fn once() -> u8 {
    1
}

impl Leagues {
    /// Draws the fixtures of a round robin by the Berger table, and spreads them over the bays as evenly as a fixed search
    /// finds. Nothing is stored yet.
    ///
    /// # Errors
    /// Anybody but an organizer; another number of events than rounds, too few slots, or more fixtures than are made at
    /// once.
    pub(super) async fn drawn(
        &self,
        caller: Caller,
        id: CompetitionId,
        asked: RoundRobin,
    ) -> Result<Vec<(FixtureId, Fixture)>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::organized_document::<Competition>(&mut conn, caller, &COMPETITIONS, id.0).await?;
        let book = self.books.of(&mut conn, found.league).await?;
        drop(conn);
        let RoundRobin { times, events, sides, bays, slots } = asked;
        let named = found.body.teams.as_ref();
        let competes = |team| named.is_none_or(|named| named.contains(&team));
        let teams = book.book.teams_of(SeasonId(found.parent.unwrap_or_default())).map(|(team_id, _)| team_id);
        let sides = match sides {
            Some(sides) => sides,
            None if found.body.is_of_teams() => {
                teams.filter(|team| competes(*team)).map(|team_id| Competitor::Team { team_id }).collect()
            }
            None => {
                let detail = "players compete here: name them in `sides`";
                return Err(Refusal::fault("/round_robin/sides", Rule::Fixture, detail));
            }
        };
        let rounds_once = (sides.len() + sides.len() % 2).saturating_sub(1);
        let rounds_due = rounds_once * usize::from(times);
        if rounds_due * sides.len().div_ceil(2) > MOST_AT_ONCE {
            let detail = format!("that is more than the {MOST_AT_ONCE} fixtures that are made at once");
            return Err(Refusal::conflict(Rule::TooMany, detail));
        }
        if rounds_due != events.len() {
            let detail = format!("{} sides meet in {rounds_due} rounds: name an event for each", sides.len());
            return Err(Refusal::fault("/round_robin/events", Rule::Fixture, detail));
        }
        let count = sides.len();
        let work = move || {
            let once = berger(count);
            let rounds = if times == 2 { twice(&once) } else { once };
            let places = (!bays.is_empty()).then(|| spread(&rounds, bays.len()).places);
            (rounds, places, bays)
        };
        // Up to a second for hundreds of fixtures: not on a thread that answers requests.
        let Ok((rounds, places, bays)) = tokio::task::spawn_blocking(work).await else {
            return Err(Refusal::fault("/round_robin/bays", Rule::Validation, "the fixtures could not be spread"));
        };
        let mut fixtures = Vec::new();
        for (r, (round, event_id)) in rounds.iter().zip(events).enumerate() {
            for (m, (a, b)) in round.iter().enumerate() {
                let place = places.as_ref().and_then(|places| places[r][m]);
                let slot = match place {
                    Some(place) if !slots.is_empty() => match slots.get(place.slot - 1) {
                        Some(slot) => Some(slot.clone()),
                        None => {
                            let detail = "there are more fixtures in a round than these bays and slots hold";
                            return Err(Refusal::fault("/round_robin/slots", Rule::Fixture, detail));
                        }
                    },
                    _ => None,
                };
                let side = |n: usize| if n == BYE { None } else { sides.get(n - 1).copied().map(Contender::Named) };
                let bay = place.and_then(|place| bays.get(place.bay - 1).cloned());
                let fixture = Fixture { bay, slot, ..Fixture::new(event_id, side(*a), side(*b)) };
                fixtures.push((FixtureId(Uuid::now_v7()), fixture));
            }
        }
        Ok(fixtures)
    }
}
