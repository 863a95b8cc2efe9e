//! The fixtures of a knock-out.

use crate::domain::competition::knock_out::{Beside, BracketMatch, Part, Slot, bracket, draw};
use crate::domain::facts::{Competitor, Contender, Fault, Fixture};
use crate::domain::ids::{EventId, FixtureId};
use crate::domain::rule::Rule;
use crate::league::Refusal;
use serde::Deserialize;
use uuid::Uuid;

/// What a knock-out is made of.
#[derive(Clone, Debug, Deserialize)]
pub struct KnockOut {
    /// Who competes, the best seed first.
    pub seeds: Vec<Competitor>,
    /// The event of each round; one may hold several.
    pub events: Vec<EventId>,
    #[serde(default)]
    pub third_place: bool,
    #[serde(default)]
    pub consolation: bool,
}

impl KnockOut {
    /// Draws all fixtures by seed. Whether sides and events fit the competition is seen where fixtures are laid down.
    ///
    /// # Errors
    /// A side that is seeded twice; another number of events than rounds; too few sides for what is played beside.
    pub(super) fn fixtures(&self) -> Result<Vec<(FixtureId, Fixture)>, Refusal> {
        let sides = self.seeds.len();
        let rounds = draw(sides).rounds;
        let mut faults = Vec::new();
        for (n, seed) in self.seeds.iter().enumerate() {
            if self.seeds[..n].contains(seed) {
                let at = format!("/knock_out/seeds/{n}");
                faults.push(Fault::new(at, Rule::RepeatedId, "this side is seeded already"));
            }
        }
        if self.events.len() != rounds as usize {
            let detail = format!("{sides} sides meet in {rounds} rounds: name an event for each");
            faults.push(Fault::new("/knock_out/events", Rule::Fixture, detail));
        }
        if self.third_place && sides < 4 {
            let detail = "third place is played between two who lost a semi-final: that takes four sides";
            faults.push(Fault::new("/knock_out/third_place", Rule::Fixture, detail));
        }
        let enough = if self.third_place { 5 } else { 4 };
        let first_losers = sides - sides.next_power_of_two() / 2;
        if self.consolation && (sides < enough || first_losers < 2) {
            let detail = "a consolation takes two who lost in the first round and do not play for third place anyway";
            faults.push(Fault::new("/knock_out/consolation", Rule::Fixture, detail));
        }
        if !faults.is_empty() {
            return Err(Refusal::Faults(faults));
        }
        let matches = bracket(sides, Beside { third_place: self.third_place, consolation: self.consolation });
        let ids: Vec<FixtureId> = matches.iter().map(|_| FixtureId(Uuid::now_v7())).collect();
        let side = |slot| match slot {
            Slot::Seed(n) => Contender::Named(self.seeds[n - 1]),
            Slot::WinnerOf(n) => Contender::WinnerOf { winner_of: ids[n] },
            Slot::LoserOf(n) => Contender::LoserOf { loser_of: ids[n] },
        };
        let fixture = |one: &BracketMatch| Fixture {
            name: Some(name(one, rounds)),
            ..Fixture::new(self.events[one.round as usize], Some(side(one.a)), Some(side(one.b)))
        };
        Ok(ids.iter().copied().zip(matches.iter().map(fixture)).collect())
    }
}

/// Returns what people call a match of a knock-out.
fn name(one: &BracketMatch, rounds: u32) -> String {
    let of_round = match rounds - one.round {
        1 => "Final".to_owned(),
        2 => format!("Semi-final {}", one.number),
        3 => format!("Quarter-final {}", one.number),
        _ => format!("Round {}, match {}", one.round + 1, one.number),
    };
    match (one.part, one.of) {
        (Part::Main, _) => of_round,
        (Part::ThirdPlace, _) => "Third place".to_owned(),
        (Part::Consolation, 1) if one.round + 1 == rounds => "Consolation final".to_owned(),
        (Part::Consolation, _) => format!("Consolation, round {}, match {}", one.round, one.number),
    }
}
