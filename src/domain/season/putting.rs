//! Putting of a season: from counting rounds and their putts to each member's report and the field's baseline.

use super::book::Book;
use super::entry::{Entry, RoundState};
use super::figures::Figures;
use crate::domain::facts::{Putt, PuttResult};
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::compact::CompactPutts;
use crate::domain::putting::field::PlainHole;
use crate::domain::putting::report::{PuttedRound, PuttingReport};
use crate::domain::units::Feet;
use std::collections::HashMap;

/// The recorded putts of rounds, packed.
pub type PuttsOfRounds = HashMap<RoundId, CompactPutts>;

/// The putts of a round and the softening that was declared when it came in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PuttsMet {
    /// The recorded putts by hole; holes without a putt are left out.
    pub by_hole: Vec<Vec<Putt>>,
    /// The declared radius.
    pub declared_radius_ft: Option<Feet>,
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
    baseline: &Baseline,
) -> PuttingReport {
    PuttingReport::of(member, &putted_rounds(book, figures, entries, putts), baseline)
}

/// Joins a member's counting rounds with their putts, set-ups and green speeds.
///
/// # Shape
/// `figures` of the member's counting rounds in the order of events; `entries` of the member; `putts` gives those of a
/// round by hole.
pub fn putted_rounds<'a>(
    book: &Book,
    figures: impl IntoIterator<Item = &'a Figures>,
    entries: &[Entry],
    mut putts: impl FnMut(RoundId) -> PuttsMet,
) -> Vec<PuttedRound> {
    let round = |figures: &Figures| {
        let PuttsMet { by_hole, declared_radius_ft } = putts(figures.round);
        Some(PuttedRound {
            setup: entries.iter().find(|entry| entry.id == figures.round)?.setup,
            stimp: book.nights.get(&figures.event)?.event.stimp_ft,
            holes: figures.putting.holes,
            recorded_holes: figures.putting.recorded_holes,
            putts: figures.card.putts,
            by_hole,
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
