//! A whole league at once: standings, league indexes and putting from its book and its rounds.

use super::book::{Book, NightKey};
use super::entry::Entry;
use super::figures::Figures;
use super::record::{DifferentialKind, MemberRecord, member_record};
use crate::domain::ids::{EventId, MemberId, SeasonId};
use crate::domain::putting::report::PuttingReport;
use crate::domain::standings::table::{StandingsRow, season_table};
use crate::domain::units::Tenths;
use jiff::civil::Date;
use serde::Serialize;

/// Everything that a league shows of a season.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Overview {
    /// The season's table.
    pub standings: Vec<StandingsRow>,
    /// Every member's league index.
    pub handicaps: Vec<HandicapReport>,
    /// The putting of everyone with a counting round in the season.
    pub putting: Vec<PuttingReport>,
    /// Findings; none until the audit is built.
    pub findings: [(); 0],
}

/// A member's league index with the differentials behind it.
///
/// It is computed from simulator rounds with publicly described arithmetic, and no golf association issues or
/// recognises it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HandicapReport {
    /// The member.
    pub member_id: MemberId,
    /// The league index; `None` below three differentials.
    pub league_index: Option<Tenths>,
    /// The differentials, newest first.
    pub differentials: Vec<DifferentialReport>,
}

/// A differential as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DifferentialReport {
    /// The event that it comes from.
    pub event_id: Option<EventId>,
    /// The day that counts for it: the event's, or for one brought along the day on which it was played.
    pub played_on: Date,
    /// The differential after reductions for exceptional scores.
    pub value: Tenths,
    /// What it comes from.
    pub kind: DifferentialKind,
    /// Whether the index rests on it.
    pub counts: bool,
    /// By how much exceptional scores have lowered it (never positive).
    pub reduction: Tenths,
}

impl HandicapReport {
    /// Shows a member's record.
    pub fn of(member_id: MemberId, record: &MemberRecord) -> Self {
        let shown = record.differentials.iter().rev().map(|row| DifferentialReport {
            event_id: row.event,
            played_on: row.played_on,
            value: row.value,
            kind: row.kind,
            counts: row.counts,
            reduction: row.reduction,
        });
        Self { member_id, league_index: record.league_index, differentials: shown.collect() }
    }
}

/// Derives a league's overview of one season.
///
/// `until` looks back: events up to it, with today's facts. `entries` are put in order of members.
pub fn overview(book: &Book, entries: &mut [Entry], season: SeasonId, until: Option<NightKey>) -> Overview {
    entries.sort_by_key(|entry| (entry.member, entry.id));
    let mut figures: Vec<Figures> = Vec::new();
    let mut handicaps = Vec::new();
    let mut putting = Vec::new();
    for member in book.members.keys().copied() {
        let first = entries.partition_point(|entry| entry.member < member);
        let end = entries.partition_point(|entry| entry.member <= member);
        let record = member_record(book, member, &entries[first..end], until);
        handicaps.push(HandicapReport::of(member, &record));
        let played: Vec<Figures> = record.figures.into_iter().filter(|round| round.season == season).collect();
        if !played.is_empty() {
            putting.push(PuttingReport::of(member, played.iter().map(|round| (&*round.putting, round.putts))));
        }
        figures.extend(played);
    }
    let indexes = handicaps.iter().map(|report: &HandicapReport| (report.member_id, report.league_index)).collect();
    Overview { standings: season_table(book, season, &figures, until, &indexes), handicaps, putting, findings: [] }
}
