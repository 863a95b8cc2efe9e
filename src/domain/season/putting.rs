//! Putting of a season: from counting rounds and their putts to each member's report and the field's baseline.

use super::book::Book;
use super::entry::{Entry, RoundState};
use super::figures::Figures;
use crate::domain::facts::Putt;
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::compact::CompactPutts;
use crate::domain::putting::field::PlainHole;
use crate::domain::putting::report::{PuttedRound, PuttingReport};
use std::collections::HashMap;

/// The recorded putts of rounds, packed.
pub type PuttsOfRounds = HashMap<RoundId, CompactPutts>;

/// Makes a member's putting report.
///
/// # Shape
/// `figures` of the member's counting rounds in the order of events; `entries` of the member; `putts` gives those of a
/// round by hole.
pub fn putting_report<'a>(
    book: &Book,
    member: MemberId,
    figures: impl IntoIterator<Item = &'a Figures>,
    entries: &[Entry],
    mut putts: impl FnMut(RoundId) -> Vec<Vec<Putt>>,
    baseline: &Baseline,
) -> PuttingReport {
    let round = |figures: &Figures| {
        Some(PuttedRound {
            setup: entries.iter().find(|entry| entry.id == figures.round)?.setup,
            stimp: book.nights.get(&figures.event)?.event.stimp_ft,
            holes: figures.putting.holes,
            recorded_holes: figures.putting.recorded_holes,
            putts: figures.putts,
            by_hole: putts(figures.round),
        })
    };
    let rounds: Vec<PuttedRound> = figures.into_iter().filter_map(round).collect();
    PuttingReport::of(member, &rounds, baseline)
}

/// Leaves of a round's putts what a baseline sees.
pub fn plain(by_hole: &[Vec<Putt>]) -> Vec<PlainHole> {
    by_hole.iter().map(|hole| hole.iter().map(|putt| (putt.distance_ft, putt.result)).collect()).collect()
}

/// Returns whether a round is among those that the field rests on.
pub fn is_of_field(entries: &[Entry], figures: &Figures) -> bool {
    entries.iter().any(|entry| entry.id == figures.round && entry.state == RoundState::Attested)
}
