//! A whole league at once: standings, league indexes and putting from its book and its rounds.

use super::book::{Book, NightKey};
use super::entry::{Entry, RoundState};
use super::figures::Figures;
use super::findings::{AuditFacts, FindingReport, findings};
use super::putting::{Chosen, PuttsMet, PuttsOfRounds, is_of_field, plain, putting_report};
use super::record::{DifferentialKind, MemberRecord, figures_without_card, member_record};
use crate::competition::match_shown::{FixtureShown, MatchTableRow, TableRows};
use crate::competition::matches::{self, MatchCards};
use crate::competition::meetings::FixtureSeen;
use crate::competition::table::{StandingsRow, competition_table, season_table};
use crate::ids::{CompetitionId, EventId, MemberId, SeasonId};
use crate::putting::baseline::{Baseline, Yardstick};
use crate::putting::field::{Field, FieldRow};
use crate::putting::holed::HoledByFoot;
use crate::putting::report::PuttingReport;
use crate::units::Tenths;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::HashSet;

/// The table of one competition.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompetitionTable {
    pub id: CompetitionId,
    pub name: String,
    pub standings: TableRows,
    /// The fixtures of a competition of matches, in the order in which they were made.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fixtures: Vec<FixtureShown>,
}

/// Everything that a league shows of a season.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Overview {
    /// The table of the season's main competition.
    pub standings: Vec<StandingsRow>,
    /// The tables of all its competitions, the main one first.
    pub competitions: Vec<CompetitionTable>,
    /// Every member's league index.
    pub handicaps: Vec<HandicapReport>,
    /// The putting of everyone with a counting round in the season.
    pub putting: Vec<PuttingReport>,
    /// What the evidence opened: for organizers and those concerned alone.
    pub findings: Vec<FindingReport>,
    /// The baseline that putting is compared with, where it is the field's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<FieldTable>,
}

/// What is asked of a league.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The season.
    pub season: SeasonId,
    /// Looks back: events up to this one, with today's facts.
    pub until: Option<NightKey>,
    /// What putting is compared with.
    pub yardstick: Yardstick,
    /// Which rounds the putting is of.
    pub chosen: Chosen,
    /// Whether evidence is weighed: it takes longer than all the rest.
    pub weighs_evidence: bool,
}

impl Asked {
    /// Asks for a season as it is now, putting against the tour.
    pub fn now(season: SeasonId) -> Self {
        Self { season, until: None, yardstick: Yardstick::Tour, chosen: Chosen::default(), weighs_evidence: true }
    }
}

/// The field's baseline as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FieldTable {
    /// The season.
    pub season_id: SeasonId,
    /// Its name.
    pub baseline: Yardstick,
    /// The attested rounds that it rests on.
    pub rounds: u32,
    /// Their struck putts.
    pub putts: u32,
    /// The table, from the shortest distance on.
    pub items: Vec<FieldRow>,
    /// There is one page.
    pub next: Option<String>,
}

impl FieldTable {
    /// Shows a field.
    pub fn of(season_id: SeasonId, field: &Field) -> Self {
        let (rounds, putts, items) = (field.rounds, field.putts, field.rows.clone());
        Self { season_id, baseline: field.baseline.name(), rounds, putts, items, next: None }
    }
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
    /// The differential after reductions for exceptional scores and adjustments of the index.
    pub value: Tenths,
    /// What it comes from.
    pub kind: DifferentialKind,
    /// Whether the index rests on it.
    pub counts: bool,
    /// By how much those have moved it.
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
/// `entries` are put in order of members; `putts` hold at least those of the season.
pub fn overview(
    book: &Book,
    entries: &mut [Entry],
    putts: &PuttsOfRounds,
    facts: &AuditFacts,
    asked: Asked,
) -> Overview {
    let Asked { season, until, yardstick, chosen, weighs_evidence } = asked;
    entries.sort_by_key(|entry| (entry.member, entry.id));
    let mut figures: Vec<Figures> = Vec::new();
    let mut handicaps = Vec::new();
    let mut played = Vec::new();
    for member in book.members.keys().copied() {
        let first = entries.partition_point(|entry| entry.member < member);
        let end = entries.partition_point(|entry| entry.member <= member);
        let own = &entries[first..end];
        let record = member_record(book, member, own, until);
        handicaps.push(HandicapReport::of(member, &record));
        let before = figures.len();
        figures.extend(record.figures.into_iter().filter(|round| round.season == season));
        if figures.len() > before {
            played.push((member, own, before..figures.len()));
        }
    }
    let met = |round| PuttsMet {
        by_hole: putts.get(&round).map(|putts| putts.by_hole()).unwrap_or_default(),
        // no figure here needs them
        numbers: Vec::new(),
        declared_radius_ft: facts.taken_at.get(&round).and_then(|(_, radius)| *radius),
    };
    let attested = || {
        played.iter().flat_map(|(member, own, rounds)| {
            let attested = figures[rounds.clone()].iter().filter(|round| is_of_field(own, round));
            attested.map(|round| (*member, plain(&met(round.round))))
        })
    };
    let field = (yardstick == Yardstick::Field).then(|| Field::of(attested().map(|(_, holes)| holes)));
    let baseline = field.as_ref().map_or(Baseline::tour(), |field| &field.baseline);
    let report = |(member, own, rounds): &(MemberId, &[Entry], std::ops::Range<usize>)| {
        putting_report(book, *member, &figures[rounds.clone()], own, met, chosen, baseline)
    };
    let putting = side_by_side(&played, report);
    let weighed = || findings(book, entries, putts, facts, &HoledByFoot::of(attested()), season, until);
    let findings = if weighs_evidence { weighed() } else { Vec::new() };
    let indexes = handicaps.iter().map(|report: &HandicapReport| (report.member_id, report.league_index)).collect();
    let cards = match_cards(book, entries, &figures, season);
    let competitions = book.competitions_of(season).into_iter().map(|(id, terms)| {
        let name = terms.name.clone();
        if terms.ranks_cards() {
            let rows = competition_table(book, id, &figures, until, &indexes);
            return CompetitionTable { id, name, standings: TableRows::Cards(rows), fixtures: Vec::new() };
        }
        let seen = matches::fixtures(book, id, &cards, until);
        let rows = matches::table(book, id, &seen, until).into_iter().map(|row| MatchTableRow::of(book, row));
        let shown = |seen: &FixtureSeen| {
            let (_, fixture) = book.fixtures.get(&seen.id)?;
            Some(FixtureShown::of(book, id, fixture, seen, false))
        };
        let fixtures = seen.iter().filter_map(shown).collect();
        CompetitionTable { id, name, standings: TableRows::Matches(rows.collect()), fixtures }
    });
    Overview {
        standings: season_table(book, season, &figures, until, &indexes),
        competitions: competitions.collect(),
        handicaps,
        putting,
        findings,
        field: field.map(|field| FieldTable::of(season, &field)),
    }
}

/// Puts the cards of a season together as its matches see them; `entries` are in order of members.
fn match_cards<'a>(book: &Book, entries: &[Entry], figures: &'a [Figures], season: SeasonId) -> MatchCards<'a> {
    let mut cards = MatchCards { figures: figures.iter().collect(), ..MatchCards::default() };
    let have: HashSet<(EventId, MemberId)> = figures.iter().map(|round| (round.event, round.member)).collect();
    let with_cards: HashSet<EventId> = figures.iter().map(|round| round.event).collect();
    let excluded = entries.iter().filter(|entry| entry.state == RoundState::Excluded);
    cards.left_out.extend(excluded.map(|entry| (entry.event, entry.member)));
    for night in book.nights_of(season) {
        if !night.event.is_final() && !with_cards.contains(&night.id) {
            continue;
        }
        for member in matches::expected(book, night).into_iter().filter(|member| !have.contains(&(night.id, *member))) {
            let first = entries.partition_point(|entry| entry.member < member);
            let end = entries.partition_point(|entry| entry.member <= member);
            let without = figures_without_card(book, member, &entries[first..end], night);
            cards.without_card.extend(without.map(|figures| ((night.id, member), figures)));
        }
    }
    cards
}

/// The fewest items for which threads are worth their start.
const WORTH_A_THREAD: usize = 64;

/// Maps items on as many threads as the machine runs at once; the order stays.
///
/// A report takes milliseconds where a round takes microseconds, and no member's hangs on another's.
fn side_by_side<T: Sync, U: Send>(items: &[T], of: impl Fn(&T) -> U + Sync) -> Vec<U> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    if threads == 1 || items.len() < WORTH_A_THREAD {
        return items.iter().map(of).collect();
    }
    std::thread::scope(|scope| {
        let of = &of;
        let parts = items.chunks(items.len().div_ceil(threads));
        let parts: Vec<_> = parts.map(|part| scope.spawn(move || part.iter().map(of).collect::<Vec<U>>())).collect();
        let joined = parts.into_iter().map(|part| part.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        joined.flatten().collect()
    })
}
