//! The table of a competition whose sides meet in matches.

use super::better::Better;
use super::level::split;
use super::match_play::Side;
use super::meetings::FixtureSeen;
use super::season_total::{Counting, count_best};
use crate::exact::{Exact, parse, whole};
use crate::facts::{Adjustment, AdjustmentCounts, CarriedResult, Competitor, MatchTerms};
use crate::ids::EventId;
use num_traits::Zero;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// What splits those who are level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelBy {
    /// What the fixtures among them were worth, where all pairs of them met equally often.
    HeadToHead,
    /// Fixtures won.
    Won,
    /// Points of fixtures.
    Points,
    /// The values that count, best first.
    BestValues,
}

/// How values make a table.
#[derive(Clone, Copy, Debug)]
pub struct TableTerms<'a> {
    pub meeting: &'a MatchTerms,
    pub counting: Counting,
    /// How many events must have been played for a position.
    pub minimum: u32,
    pub ties: &'a [LevelBy],
    /// What the values of events are multiplied by; 1 where nothing is said.
    pub weights: &'a HashMap<EventId, Exact>,
}

/// Fixtures that stand: played, or decided by walk-over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Fixtures {
    pub played: u32,
    pub won: u32,
    pub tied: u32,
    pub lost: u32,
}

/// The value of an event, or one that was brought along.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EventValue {
    /// `None`: it was brought along.
    pub event: Option<EventId>,
    /// What a value that was brought along is called.
    pub label: Option<String>,
    pub value: Exact,
    /// Whether the total rests on it.
    pub counted: bool,
}

/// A row of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct MatchRow {
    pub competitor: Competitor,
    /// `None`: not ranked.
    pub position: Option<u32>,
    /// Whether others share it.
    pub tied: bool,
    pub fixtures: Fixtures,
    pub points_for: Exact,
    pub points_against: Exact,
    /// Events in which a fixture was played.
    pub events_played: u32,
    /// Values that count.
    pub events_counted: u32,
    pub total: Option<Exact>,
    /// In the order of events; what was brought along comes first.
    pub results: Vec<EventValue>,
}

/// What is said of a table beside its fixtures.
#[derive(Clone, Copy, Debug, Default)]
pub struct Beside<'a> {
    /// Each counts as an event played before all others.
    pub carried: &'a [&'a CarriedResult],
    pub adjustments: &'a [&'a Adjustment],
}

/// Makes the table: a row for each competitor named and for each with a fixture, a carried result or an adjustment.
///
/// An event is worth the sum of a competitor's fixtures in it, times its weight: their points, or what the terms say for won,
/// tied and lost.
/// A fixture counts once it stands, a bye once its event is final. `events` is the order of the events; fixtures of other
/// events are passed over, so looking back takes the events up to a date.
///
/// # Source
/// Common practice, no source.
pub fn match_table(
    terms: TableTerms<'_>,
    competitors: &[Competitor],
    events: &[EventId],
    fixtures: &[FixtureSeen],
    beside: Beside<'_>,
) -> Vec<MatchRow> {
    let fixtures: Vec<&FixtureSeen> =
        fixtures.iter().filter(|seen| seen.counts() && events.contains(&seen.event)).collect();
    let adjustments: Vec<&&Adjustment> =
        beside.adjustments.iter().filter(|one| one.event_id.is_none_or(|event| events.contains(&event))).collect();
    let mut everybody: BTreeSet<Competitor> = competitors.iter().copied().collect();
    everybody.extend(fixtures.iter().flat_map(|seen| [seen.a, seen.b]).flatten());
    everybody.extend(adjustments.iter().map(|one| one.competitor));
    everybody.extend(beside.carried.iter().map(|one| one.competitor));
    let mut own: HashMap<Competitor, Vec<(Side, &FixtureSeen)>> = HashMap::new();
    for seen in &fixtures {
        for side in [Side::A, Side::B] {
            if let Some(competitor) = seen.on(side) {
                own.entry(competitor).or_default().push((side, seen));
            }
        }
    }
    let rows: Vec<MatchRow> = everybody
        .into_iter()
        .map(|competitor| {
            let adjustments = adjustments.iter().filter(|one| one.competitor == competitor);
            let carried = beside.carried.iter().filter(|one| one.competitor == competitor);
            let fixtures = own.get(&competitor).map_or(&[][..], Vec::as_slice);
            let beside = Beside {
                carried: &carried.copied().collect::<Vec<_>>(),
                adjustments: &adjustments.map(|one| **one).collect::<Vec<_>>(),
            };
            row(terms, competitor, events, fixtures, beside)
        })
        .collect();
    positioned(rows, terms, &fixtures)
}

/// Returns what a fixture is worth to a side.
fn value(terms: &MatchTerms, seen: &FixtureSeen, side: Side) -> Exact {
    match (seen.points, terms.result) {
        (None, _) => terms.bye.0,
        (Some(points), None) => points.of(side),
        (Some(_), Some([won, tied, lost])) => match seen.winner() {
            Some(winner) if winner == side => won.0,
            Some(_) => lost.0,
            None => tied.0,
        },
    }
}

fn row(
    terms: TableTerms<'_>,
    competitor: Competitor,
    events: &[EventId],
    fixtures: &[(Side, &FixtureSeen)],
    beside: Beside<'_>,
) -> MatchRow {
    let mut row = MatchRow {
        competitor,
        position: None,
        tied: false,
        fixtures: Fixtures::default(),
        points_for: whole(0),
        points_against: whole(0),
        events_played: 0,
        events_counted: 0,
        total: None,
        results: Vec::new(),
    };
    let mut values: BTreeMap<usize, Exact> = BTreeMap::new();
    let mut played: BTreeSet<EventId> = BTreeSet::new();
    for &(side, seen) in fixtures {
        let Some(place) = events.iter().position(|event| *event == seen.event) else { continue };
        let weight = terms.weights.get(&seen.event).copied().unwrap_or_else(|| whole(1));
        *values.entry(place).or_insert_with(Exact::zero) += value(terms.meeting, seen, side) * weight;
        let Some(points) = seen.points else { continue };
        played.insert(seen.event);
        row.points_for += points.of(side);
        row.points_against += points.of(side.other());
        row.fixtures.played += 1;
        match seen.winner() {
            Some(winner) if winner == side => row.fixtures.won += 1,
            Some(_) => row.fixtures.lost += 1,
            None => row.fixtures.tied += 1,
        }
    }
    let brought = |carried: &&CarriedResult| EventValue {
        event: None,
        label: Some(carried.label.clone()),
        value: parse(&carried.value.to_string()).unwrap_or_default(),
        counted: false,
    };
    let of_event =
        |(n, value): (usize, Exact)| EventValue { event: Some(events[n]), label: None, value, counted: false };
    row.results = beside.carried.iter().map(brought).chain(values.into_iter().map(of_event)).collect();
    let added = |counts| {
        let own = beside.adjustments.iter().filter(|one| one.counts == counts);
        own.map(|one| one.points.0).collect::<Vec<Exact>>()
    };
    let (before, after) = (added(AdjustmentCounts::Before), added(AdjustmentCounts::After));
    let competing: Vec<Option<Exact>> = row.results.iter().map(|one| one.value).chain(before).map(Some).collect();
    let best = count_best(&competing, terms.counting, Better::Higher);
    for n in &best.counted {
        if let Some(result) = row.results.get_mut(*n) {
            result.counted = true;
        }
    }
    row.events_played = (played.len() + beside.carried.len()) as u32;
    row.events_counted = best.counted.len() as u32;
    let has_total = !best.counted.is_empty() || !after.is_empty();
    row.total = has_total.then(|| best.total + after.iter().sum::<Exact>());
    let is_ranked = !best.counted.is_empty() && row.events_played >= terms.minimum;
    row.position = is_ranked.then_some(0);
    row
}

fn positioned(rows: Vec<MatchRow>, terms: TableTerms<'_>, fixtures: &[&FixtureSeen]) -> Vec<MatchRow> {
    let (ranked, unranked): (Vec<usize>, Vec<usize>) = (0..rows.len()).partition(|n| rows[*n].position.is_some());
    let total = |word: Option<LevelBy>, group: &[usize]| -> Option<Vec<Vec<Exact>>> {
        let keys = |key: &dyn Fn(&MatchRow) -> Vec<Exact>| Some(group.iter().map(|n| key(&rows[*n])).collect());
        match word {
            None => keys(&|row| vec![-row.total.unwrap_or_default()]),
            Some(LevelBy::Won) => keys(&|row| vec![-whole(row.fixtures.won)]),
            Some(LevelBy::Points) => keys(&|row| vec![-row.points_for]),
            Some(LevelBy::BestValues) => keys(&|row| {
                let mut values: Vec<Exact> =
                    row.results.iter().filter(|one| one.counted).map(|one| -one.value).collect();
                values.sort_unstable();
                // A value of nothing is no better than no value.
                while values.last().is_some_and(Zero::is_zero) {
                    values.pop();
                }
                values
            }),
            Some(LevelBy::HeadToHead) => {
                let among: Vec<Competitor> = group.iter().map(|n| rows[*n].competitor).collect();
                let values = head_to_head(terms.meeting, &among, fixtures)?;
                Some(values.into_iter().map(|value| vec![-value]).collect())
            }
        }
    };
    let words: Vec<Option<LevelBy>> = std::iter::once(None).chain(terms.ties.iter().copied().map(Some)).collect();
    let mut order = Vec::with_capacity(rows.len());
    let mut position = 1;
    for level in split(ranked, &words, &total) {
        let (sharing, tied) = (level.len() as u32, level.len() > 1);
        order.extend(level.into_iter().map(|n| (n, Some(position), tied)));
        position += sharing;
    }
    order.extend(unranked.into_iter().map(|n| (n, None, false)));
    let mut rows: Vec<Option<MatchRow>> = rows.into_iter().map(Some).collect();
    let placed =
        |(n, position, tied): (usize, Option<u32>, bool)| rows[n].take().map(|row| MatchRow { position, tied, ..row });
    order.into_iter().filter_map(placed).collect()
}

/// Returns what the fixtures among a group were worth to each; `None` where not all pairs met equally often.
fn head_to_head(terms: &MatchTerms, among: &[Competitor], fixtures: &[&FixtureSeen]) -> Option<Vec<Exact>> {
    let places: HashMap<Competitor, usize> = among.iter().enumerate().map(|(n, one)| (*one, n)).collect();
    let place = |side: Option<Competitor>| places.get(&side?);
    let mut met: HashMap<(usize, usize), u32> = HashMap::new();
    let mut values = vec![Exact::zero(); among.len()];
    for seen in fixtures {
        let (Some(&a), Some(&b)) = (place(seen.a), place(seen.b)) else { continue };
        *met.entry((a.min(b), a.max(b))).or_default() += 1;
        values[a] += value(terms, seen, Side::A);
        values[b] += value(terms, seen, Side::B);
    }
    let times = met.values().next()?;
    let is_equal = met.len() == among.len() * (among.len() - 1) / 2 && met.values().all(|met| met == times);
    is_equal.then_some(values)
}
