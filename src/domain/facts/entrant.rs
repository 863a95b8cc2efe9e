//! Who plays in an event, and how far a card in play has got.

use super::fault::Fault;
use super::round::CardHole;
use crate::facts::course::Layout;
use crate::ids::CompetitionId;
use crate::rule::Rule;
use serde::{Deserialize, Serialize};

/// When and where a member plays in an event, and in what.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct EventEntry {
    /// The time slot, in the league's own words.
    #[serde(default)]
    pub slot: Option<String>,
    /// The bay, in the league's own words.
    #[serde(default)]
    pub bay: Option<String>,
    /// The competitions that it enters, of those that rank only who does.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub competitions: Vec<CompetitionId>,
}

/// The holes so far of a card in play.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CardInPlay {
    /// The holes, each once.
    pub holes: Vec<CardHole>,
}

impl CardInPlay {
    /// Finds every hole that is not played in the event or given twice, or that has no score.
    pub fn faults(&self, layout: &Layout) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (h, hole) in self.holes.iter().enumerate() {
            let (at, number) = (format!("/holes/{h}/number"), hole.number.get());
            if !layout.holes.iter().any(|on_card| on_card.number == hole.number) {
                faults.push(Fault::new(at, Rule::HoleNotOnCard, format!("hole {number} is not played")));
            } else if self.holes[..h].iter().any(|other| other.number == hole.number) {
                faults.push(Fault::new(at, Rule::HoleRepeated, format!("hole {number} is given twice")));
            }
            if hole.strokes.is_none() && !hole.picked_up && !hole.not_played {
                let detail = "strokes are missing; leave them out only if the hole was picked up or not played";
                faults.push(Fault::new(format!("/holes/{h}/strokes"), Rule::StrokesMissing, detail));
            }
        }
        faults
    }

    /// Returns how many holes were started.
    pub fn holes_played(&self) -> u32 {
        self.holes.iter().filter(|hole| !hole.not_played).count() as u32
    }

    /// Returns the strokes over par on the holes holed out so far.
    pub fn over_par(&self, layout: &Layout) -> i32 {
        let on = |hole: &CardHole| {
            let par = layout.holes.iter().find(|on_card| on_card.number == hole.number)?.par.get();
            let strokes = hole.strokes.filter(|_| !hole.picked_up)?;
            Some(i32::from(strokes.get()) - par as i32)
        };
        self.holes.iter().filter_map(on).sum()
    }
}
