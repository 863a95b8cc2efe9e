//! The table of a season.

use super::better::Better;
use super::eclectic::eclectic;
use super::ranking::{Placed, better_of, part, places};
use super::season_total;
use super::together::results_together;
use crate::exact::{Exact, Value, parse, whole};
use crate::facts::competition::{Competition, Meeting};
use crate::facts::{Adjustment, AdjustmentCounts, Competitor, Outcome, Season, Tie};
use crate::ids::{CompetitionId, EventId, MemberId, SeasonId};
use crate::putting::sums::per_round;
use crate::season::book::{Book, Night, NightKey};
use crate::season::figures::Figures;
use crate::season::record::flight_of;
use crate::units::Tenths;
use num_traits::Zero;
use serde::Serialize;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};

/// League indexes by member: for those who brought a value along and have not played yet.
pub type LeagueIndexes = HashMap<MemberId, Option<Tenths>>;

/// One value of a row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ResultCell {
    /// The event, the latest where several make one result; `None` for a value that was brought along.
    pub event_id: Option<EventId>,
    /// The events of the cards behind it, where there are several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub event_ids: Vec<EventId>,
    /// The value; `None` where the event gave none.
    pub value: Option<Value>,
    /// Whether the total rests on it.
    pub counted: bool,
    /// What a value that was brought along is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carried: Option<String>,
    /// The place in the event.
    #[serde(skip)]
    pub place: Option<u32>,
}

/// One row of the season's table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StandingsRow {
    /// The position in the flight; `None`: not ranked.
    pub position: Option<u32>,
    /// Whether others share it.
    pub tied: bool,
    /// Whose row it is.
    pub member_id: MemberId,
    /// The member's name.
    pub display_name: String,
    /// The member's flight.
    pub flight: Option<String>,
    /// Events played.
    pub events_played: u32,
    /// Values that count.
    pub events_counted: u32,
    /// Their sum, with the start.
    pub total: Option<Value>,
    /// Strokes to par that the player starts with, where the terms stagger the start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start: Option<Value>,
    /// Points that organizers gave or took; they are in the total, or compete for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub adjusted: Option<Value>,
    /// Every value, in the order of events.
    pub results: Vec<ResultCell>,
    /// Strokes gained putting for 18 recorded holes.
    pub strokes_gained_putting_per_round: Option<f64>,
}

/// Makes the table of a season's main competition; see [`competition_table`].
pub fn season_table<'f>(
    book: &Book,
    season: SeasonId,
    figures: impl IntoIterator<Item = &'f Figures>,
    until: Option<NightKey>,
    indexes: &LeagueIndexes,
) -> Vec<StandingsRow> {
    let Some(main) = book.main_of(season) else { return Vec::new() };
    competition_table(book, main, figures, until, indexes)
}

/// Makes the table of a competition from the figures of its season's counting rounds.
///
/// `until` looks back: only events up to it are taken. Figures of other seasons are passed over. `indexes` are asked for
/// the flight of a member who only brought a value along.
pub fn competition_table<'f>(
    book: &Book,
    id: CompetitionId,
    figures: impl IntoIterator<Item = &'f Figures>,
    until: Option<NightKey>,
    indexes: &LeagueIndexes,
) -> Vec<StandingsRow> {
    let Some((season_id, terms)) = book.competitions.get(&id) else { return Vec::new() };
    let Some(season) = book.seasons.get(season_id) else { return Vec::new() };
    let figures: Vec<&Figures> = figures.into_iter().collect();
    let starts = starts(book, (*season_id, terms), &figures, indexes);
    let mut by_event: HashMap<EventId, Vec<&Figures>> = HashMap::new();
    for round in figures.iter().copied().filter(|round| round.season == *season_id) {
        by_event.entry(round.event).or_default().push(round);
    }
    let mut drafts: BTreeMap<MemberId, Draft<'_>> = BTreeMap::new();
    for (member, carried) in book.carried_into(*season_id, id).filter_map(|one| Some((one.member()?, one))) {
        drafts.entry(member).or_default().carry(&carried.label, carried.value);
    }
    let is_seen = |night: &Night| until.is_none_or(|until| night.key() <= until);
    let of_seen = |event: EventId| book.nights.get(&event).is_some_and(is_seen);
    for adjustment in book.adjustments.values().filter(|(of, _)| *of == id).map(|(_, adjustment)| adjustment) {
        if let Competitor::Member { member_id } = adjustment.competitor
            && adjustment.event_id.is_none_or(of_seen)
        {
            drafts.entry(member_id).or_default().adjustments.push(adjustment);
        }
    }
    let mut nights_together: Vec<&Night> = Vec::new();
    for night in book.nights_of(*season_id) {
        if !is_seen(night) || night.event.is_void() || !terms.counts_event(night.id) {
            continue;
        }
        if terms.counts_with_others(night.id) {
            nights_together.push(night);
            continue;
        }
        let Some(rounds) = by_event.remove(&night.id) else { continue };
        for placed in places(book, night, id, rounds) {
            let cards = [placed.figures];
            drafts.entry(placed.figures.member).or_default().play((night, terms), placed, &cards);
        }
    }
    for result in results_together(book, (id, terms), &nights_together, &by_event) {
        for (placed, cards) in result.placed {
            drafts.entry(placed.figures.member).or_default().play((result.night, terms), placed, &cards);
        }
    }
    if !nights_together.is_empty() {
        let order: HashMap<EventId, usize> =
            book.nights_of(*season_id).iter().enumerate().map(|(n, night)| (night.id, n)).collect();
        for draft in drafts.values_mut() {
            draft.results.sort_by_key(|cell| cell.event_id.and_then(|event| order.get(&event)).copied());
        }
    }
    let better = better_of(book, terms);
    let of = Of { book, season, terms, better, indexes, starts };
    let rows = drafts.into_iter().filter_map(|(member, draft)| draft.row(&of, member)).collect();
    positioned(rows, &of)
}

/// What the rows of a table have in common.
struct Of<'a> {
    book: &'a Book,
    season: &'a Season,
    terms: &'a Competition,
    better: Better,
    indexes: &'a LeagueIndexes,
    /// Where each player starts; `None`: all start level.
    starts: Option<HashMap<MemberId, Option<u32>>>,
}

/// Returns the positions that players had in the table by which a competition starts, before its first event.
fn starts(
    book: &Book,
    (season, terms): (SeasonId, &Competition),
    figures: &[&Figures],
    indexes: &LeagueIndexes,
) -> Option<HashMap<MemberId, Option<u32>>> {
    let start = terms.start.as_ref()?;
    let nights = book.nights_of(season);
    let first = nights.iter().position(|night| terms.counts_event(night.id) && !night.event.is_void())?;
    let Some(before) = first.checked_sub(1).map(|n| nights[n].key()) else { return Some(HashMap::new()) };
    let table = competition_table(book, start.competition_id, figures.iter().copied(), Some(before), indexes);
    Some(table.into_iter().map(|row| (row.member_id, row.position)).collect())
}

/// A row in the making.
#[derive(Default)]
struct Draft<'a> {
    adjustments: Vec<&'a Adjustment>,
    flight: Option<String>,
    has_played: bool,
    events_played: u32,
    results: Vec<ResultCell>,
    /// What each hole was worth in each event, where the best of them count.
    holes: Vec<Vec<Option<Exact>>>,
    /// Strokes gained putting, in billionths.
    gains: i64,
    recorded_holes: u32,
}

impl Draft<'_> {
    fn carry(&mut self, label: &str, value: f64) {
        let exact = parse(&value.to_string()).unwrap_or_default();
        self.events_played += 1;
        self.results.push(ResultCell {
            event_id: None,
            event_ids: Vec::new(),
            value: Some(Value(exact)),
            counted: false,
            carried: Some(label.to_owned()),
            place: None,
        });
    }

    /// Takes in the result of an event, or of the events up to it that make one together, with the cards behind it.
    fn play(&mut self, (night, terms): (&Night, &Competition), placed: Placed<'_>, cards: &[&Figures]) {
        if !std::mem::replace(&mut self.has_played, true) {
            self.flight = placed.figures.flight.clone();
        }
        let is_played = cards.iter().any(|figures| figures.card.outcome != Outcome::Disqualified);
        self.events_played += u32::from(is_played);
        self.gains += cards.iter().map(|figures| figures.putting.gains).sum::<i64>();
        self.recorded_holes += cards.iter().map(|figures| figures.putting.recorded_holes).sum::<u32>();
        let together = if cards.len() > 1 { cards.iter().map(|figures| figures.event).collect() } else { Vec::new() };
        self.results.push(ResultCell {
            event_id: Some(night.id),
            event_ids: together,
            value: placed.value.map(Value),
            counted: false,
            carried: None,
            place: placed.place,
        });
        if let (Meeting::Season {}, Some(ball)) = (&terms.meeting, placed.ball) {
            self.holes.push(ball.holes.into_iter().map(|value| value.map(whole)).collect());
        }
    }

    /// Returns the points of the adjustments that count then.
    fn points(&self, counts: AdjustmentCounts) -> Vec<Exact> {
        self.adjustments.iter().filter(|one| one.counts == counts).map(|one| one.points.0).collect()
    }

    fn row(mut self, of: &Of<'_>, member: MemberId) -> Option<StandingsRow> {
        let person = of.book.members.get(&member);
        if !self.has_played {
            let index = of.indexes.get(&member).copied().flatten();
            self.flight = person.and_then(|person| flight_of(of.season, person, index.or(person.starting_handicap)));
        }
        let flight = part(of.terms, self.flight.as_deref())?.map(str::to_owned);
        let counting = of.terms.counting;
        let (counted, total) = match of.terms.meeting {
            Meeting::Season {} => {
                let best: Option<Vec<Exact>> = eclectic(&self.holes, of.better).into_iter().collect();
                (u32::from(best.is_some()), best.unwrap_or_default().into_iter().sum())
            }
            Meeting::Field {} | Meeting::Match(_) | Meeting::Hole { .. } | Meeting::Sum { .. } => {
                let added = self.points(AdjustmentCounts::Before);
                count_best(&mut self.results, &added, counting, of.better)
            }
        };
        let after = self.points(AdjustmentCounts::After);
        let short_of_best = counting.best.is_some_and(|best| counted < best.saturating_sub(counting.drop_worst))
            && of.better == Better::Lower
            && !matches!(of.terms.meeting, Meeting::Season {});
        let ranked = self.events_played >= counting.minimum && !short_of_best && counted > 0;
        let start = of.terms.start.as_ref().zip(of.starts.as_ref());
        let start = start.map(|(start, positions)| start.of(positions.get(&member).copied().flatten()));
        Some(StandingsRow {
            position: ranked.then_some(0),
            tied: false,
            member_id: member,
            display_name: person.map(|person| person.display_name.clone()).unwrap_or_default(),
            flight,
            events_played: self.events_played,
            events_counted: counted,
            total: (counted > 0 || !after.is_empty())
                .then(|| Value(total + after.iter().sum::<Exact>() + start.map_or_else(Exact::zero, |start| start.0))),
            adjusted: (!self.adjustments.is_empty())
                .then(|| Value(self.adjustments.iter().map(|adjustment| adjustment.points.0).sum())),
            start,
            results: self.results,
            strokes_gained_putting_per_round: per_round(self.gains, self.recorded_holes),
        })
    }
}

/// Marks the best values, with `added` competing; where equal ones compete the earlier drops. Returns how many count, and
/// their sum.
fn count_best(
    results: &mut [ResultCell],
    added: &[Exact],
    counting: crate::facts::competition::Counting,
    better: Better,
) -> (u32, Exact) {
    let of_events = results.iter().map(|cell| cell.value.map(|value| value.0));
    let values: Vec<Option<Exact>> = of_events.chain(added.iter().copied().map(Some)).collect();
    let counting = season_total::Counting {
        best: counting.best.map(|best| best as usize),
        drop_worst: counting.drop_worst as usize,
    };
    let best = season_total::count_best(&values, counting, better);
    for n in &best.counted {
        if let Some(cell) = results.get_mut(*n) {
            cell.counted = true;
        }
    }
    (best.counted.len() as u32, best.total)
}

/// Gives positions within flights and puts the rows in order: by total, then as the terms split those level.
fn positioned(rows: Vec<StandingsRow>, of: &Of<'_>) -> Vec<StandingsRow> {
    let flight_rank = |row: &StandingsRow| {
        let known = |name: &str| of.season.flights.iter().position(|flight| flight.name == name);
        row.flight.as_deref().and_then(known).unwrap_or(usize::MAX)
    };
    let mut keyed: Vec<((usize, Option<String>), Merit, StandingsRow)> =
        rows.into_iter().map(|row| ((flight_rank(&row), row.flight.clone()), Merit::of(&row, of), row)).collect();
    keyed.sort_by(|a, b| {
        let ranked_first = a.2.position.is_none().cmp(&b.2.position.is_none());
        let merit = if a.2.position.is_some() { a.1.cmp(&b.1) } else { Ordering::Equal };
        a.0.cmp(&b.0).then(ranked_first).then(merit).then(a.2.member_id.cmp(&b.2.member_id))
    });
    let mut done = Vec::with_capacity(keyed.len());
    for flight in keyed.chunk_by_mut(|a, b| a.0 == b.0) {
        let mut position = 1;
        for level in flight.chunk_by_mut(|a, b| a.1 == b.1 && a.2.position.is_some() && b.2.position.is_some()) {
            let (sharing, tied) = (level.len() as u32, level.len() > 1);
            for (_, _, row) in level.iter_mut().filter(|(_, _, row)| row.position.is_some()) {
                row.position = Some(position);
                row.tied = tied;
            }
            position += sharing;
        }
    }
    done.extend(keyed.into_iter().map(|(_, _, row)| row));
    done
}

/// What decides between two rows: smaller is better.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Merit {
    total: Exact,
    /// What each way of splitting the level compares, in the order of the terms.
    ties: Vec<Vec<Exact>>,
}

impl Merit {
    fn of(row: &StandingsRow, of: &Of<'_>) -> Self {
        let signed = |value: Value| if of.better == Better::Higher { -value.0 } else { value.0 };
        let counted = || row.results.iter().filter(|cell| cell.counted);
        let compared = |tie: &Tie| match tie {
            Tie::Countback | Tie::HeadToHead | Tie::Won | Tie::Points => Vec::new(),
            Tie::Firsts => vec![whole(-(counted().filter(|cell| cell.place == Some(1)).count() as i64))],
            Tie::BestValues => {
                let mut values: Vec<Exact> = counted().filter_map(|cell| cell.value).map(signed).collect();
                values.sort_unstable();
                // A value of nothing is no better and no worse than no value.
                while of.better == Better::Higher && values.last().is_some_and(Zero::is_zero) {
                    values.pop();
                }
                values
            }
        };
        let total = row.total.map_or_else(Exact::zero, signed);
        Self { total, ties: of.terms.ties.iter().map(compared).collect() }
    }
}
