//! A round as the derivation sees it: its scores by hole and the totals of its putts.

use crate::facts::course::Layout;
use crate::facts::{Outcome, Round};
use crate::ids::{EventId, MemberId, RoundId, SetupId};
use crate::putting::PuttingTotals;
use jiff::civil::Date;
use serde::Serialize;

/// Where a round stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RoundState {
    /// Handed in.
    Submitted,
    /// Handed in and attested by another member.
    Attested,
    /// Handed in by another player and not yet accepted.
    Proposed,
    /// Handed in after closing and not yet accepted.
    Late,
    /// Left out by a ruling.
    Excluded,
    /// Taken back.
    Withdrawn,
}

impl RoundState {
    const WORDS: [(RoundState, &'static str); 6] = [
        (RoundState::Submitted, "submitted"),
        (RoundState::Attested, "attested"),
        (RoundState::Proposed, "proposed"),
        (RoundState::Late, "late"),
        (RoundState::Excluded, "excluded"),
        (RoundState::Withdrawn, "withdrawn"),
    ];

    /// Returns whether the round counts for anything.
    pub fn counts(self) -> bool {
        matches!(self, RoundState::Submitted | RoundState::Attested)
    }

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize].1
    }

    /// Reads the word for it.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(_, known)| *known == word).map(|(state, _)| *state)
    }
}

/// What was scored on one hole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HoleScore {
    /// Never started.
    NotPlayed,
    /// Started, not holed out; with the most likely score where one was given.
    PickedUp(Option<u8>),
    /// Holed out.
    Holed(u8),
}

/// The scores of a card: number and score of each hole that it lists, by number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardDigest {
    /// How the round ended.
    pub outcome: Outcome,
    /// Hole number and score.
    pub holes: Vec<(u8, HoleScore)>,
    /// All putts, where every listed hole tells how many.
    pub putts: Option<u32>,
}

impl CardDigest {
    /// Boils a round down to its scores.
    pub fn of(round: &Round) -> Self {
        let mut holes: Vec<(u8, HoleScore)> = round
            .holes
            .iter()
            .map(|hole| {
                let strokes = hole.strokes.map(|strokes| strokes.get());
                let score = match strokes {
                    _ if hole.not_played => HoleScore::NotPlayed,
                    Some(strokes) if !hole.picked_up => HoleScore::Holed(strokes),
                    likely => HoleScore::PickedUp(likely),
                };
                (hole.number.get(), score)
            })
            .collect();
        holes.sort_by_key(|(number, _)| *number);
        let putts = round.holes.iter().map(|hole| hole.putts_taken()).sum::<Option<u32>>();
        Self { outcome: round.outcome, holes, putts }
    }

    /// Returns the score on a hole; a hole that the card leaves out was not played.
    pub fn score_on(&self, number: u8) -> HoleScore {
        self.holes.iter().find(|(n, _)| *n == number).map_or(HoleScore::NotPlayed, |(_, score)| *score)
    }

    /// Returns the strokes of each hole of a layout that was holed out.
    pub fn holed(&self, layout: &Layout) -> Vec<Option<u8>> {
        let on = |number| match self.score_on(number) {
            HoleScore::Holed(strokes) => Some(strokes),
            HoleScore::NotPlayed | HoleScore::PickedUp(_) => None,
        };
        layout.holes.iter().map(|hole| on(hole.number.get())).collect()
    }

    /// Returns how many holes were started.
    pub fn holes_played(&self) -> u32 {
        self.holes.iter().filter(|(_, score)| *score != HoleScore::NotPlayed).count() as u32
    }
}

/// A round as the derivation sees it: everything that its later life needs, and no putt.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The round.
    pub id: RoundId,
    /// Its event.
    pub event: EventId,
    /// Whose it is.
    pub member: MemberId,
    /// What it was putted on.
    pub setup: Option<SetupId>,
    /// Where it stands.
    pub state: RoundState,
    /// The day on which it was played.
    pub played_on: Date,
    /// Its scores.
    pub card: CardDigest,
    /// The totals of its putts.
    pub putting: PuttingTotals,
}
