//! Putting of a season: from counting rounds and their putts to each member's report and the field's baseline.

use super::book::{Book, Night};
use super::entry::{Entry, RoundState};
use super::figures::Figures;
use crate::facts::{Putt, PuttResult};
use crate::ids::{EventId, MemberId, RoundId, SetupId};
use crate::putting::baseline::Baseline;
use crate::putting::compact::CompactPutts;
use crate::putting::field::PlainHole;
use crate::putting::report::{PuttedRound, PuttingReport};
use crate::units::Feet;
use jiff::civil::Date;
use std::collections::HashMap;

/// The recorded putts of rounds, packed.
pub type PuttsOfRounds = HashMap<RoundId, CompactPutts>;

/// The putts of a round and the softening that was declared when it came in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PuttsMet {
    /// The recorded putts by hole; holes without a putt are left out.
    pub by_hole: Vec<Vec<Putt>>,
    /// The number of each of these holes.
    pub numbers: Vec<u8>,
    /// The declared radius.
    pub declared_radius_ft: Option<Feet>,
}

/// Which of a member's rounds a report is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Chosen {
    /// Those of this event.
    pub event: Option<EventId>,
    /// Those of events from this day on.
    pub from: Option<Date>,
    /// Those of events up to this day.
    pub to: Option<Date>,
    /// Those putted on this set-up.
    pub setup: Option<SetupId>,
}

impl Chosen {
    fn has(&self, night: &Night, setup: Option<SetupId>) -> bool {
        self.event.is_none_or(|event| event == night.id)
            && self.from.is_none_or(|from| from <= night.date)
            && self.to.is_none_or(|to| night.date <= to)
            && self.setup.is_none_or(|chosen| setup == Some(chosen))
    }
}

/// Makes a member's putting report.
///
/// # Shape
/// As [`putted_rounds`].
pub fn putting_report<'a>(
    book: &Book,
    member: MemberId,
    figures: impl IntoIterator<Item = &'a Figures>,
    entries: &[Entry],
    putts: impl FnMut(RoundId) -> PuttsMet,
    chosen: Chosen,
    baseline: &Baseline,
) -> PuttingReport {
    PuttingReport::of(member, &putted_rounds(book, figures, entries, putts, chosen), baseline)
}

/// Joins those of a member's counting rounds that are chosen with their putts, set-ups and green speeds.
///
/// # Shape
/// `figures` of the member's counting rounds in the order of events; `entries` of the member; `putts` gives those of a
/// round by hole.
pub fn putted_rounds<'a>(
    book: &Book,
    figures: impl IntoIterator<Item = &'a Figures>,
    entries: &[Entry],
    mut putts: impl FnMut(RoundId) -> PuttsMet,
    chosen: Chosen,
) -> Vec<PuttedRound> {
    let round = |figures: &Figures| {
        let night = book.nights.get(&figures.event)?;
        let setup = entries.iter().find(|entry| entry.id == figures.round)?.setup;
        if !chosen.has(night, setup) {
            return None;
        }
        let PuttsMet { by_hole, numbers, declared_radius_ft } = putts(figures.round);
        Some(PuttedRound {
            event: night.id,
            date: night.date,
            setup,
            stimp: night.event.stimp_ft,
            holes: figures.putting.holes,
            recorded_holes: figures.putting.recorded_holes,
            putts: figures.card.putts,
            by_hole,
            numbers,
            left_out: book.seasons.get(&figures.season).and_then(|season| season.left_out(declared_radius_ft)),
        })
    };
    figures.into_iter().filter_map(round).collect()
}

/// Leaves of a round's putts what the field's baseline sees: those up to the first inside the declared radius.
pub fn plain(met: &PuttsMet) -> Vec<PlainHole> {
    let hole =
        |hole: &Vec<Putt>| undeclared(hole.iter().map(|putt| (putt.distance_ft, putt.result)), met.declared_radius_ft);
    met.by_hole.iter().map(hole).collect()
}

/// Takes a hole's putts up to the first that was struck inside the declared radius: nobody knows what that one and what
/// follows it would have been.
pub fn undeclared(putts: impl Iterator<Item = (Feet, PuttResult)>, declared_radius_ft: Option<Feet>) -> PlainHole {
    putts.take_while(|(distance, _)| declared_radius_ft.is_none_or(|radius| *distance > radius)).collect()
}

/// Returns whether a round is among those that the field rests on.
pub fn is_of_field(entries: &[Entry], figures: &Figures) -> bool {
    entries.iter().any(|entry| entry.id == figures.round && entry.state == RoundState::Attested)
}
