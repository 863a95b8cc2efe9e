//! Places in an event and the table of a season.

use super::better::Better;
use super::places::{rank_by, share_points};
use super::season_total::{self, Counting};
use crate::domain::exact::{Exact, parse, to_f64_six, whole};
use crate::domain::facts::season::{EventTies, Season};
use crate::domain::facts::{Award, Outcome, Scoring};
use crate::domain::ids::{EventId, MemberId, SeasonId};
use crate::domain::putting::sums::per_round;
use crate::domain::season::book::{Book, Night, NightKey, Terms};
use crate::domain::season::figures::Figures;
use crate::domain::season::record::flight_of;
use crate::domain::units::Tenths;
use num_traits::{ToPrimitive, Zero};
use serde::{Serialize, Serializer};
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};

/// League indexes by member: for those who brought a value along and have not played yet.
pub type LeagueIndexes = HashMap<MemberId, Option<Tenths>>;

/// A value of the season: an exact number that is written whole where it is whole, else with six decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Value(pub Exact);

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0.is_integer().then(|| self.0.to_i64()).flatten() {
            Some(whole) => serializer.serialize_i64(whole),
            None => serializer.serialize_f64(to_f64_six(self.0)),
        }
    }
}

/// One player's result in one event, with its place in the flight and what it is worth.
///
/// A card without a result has no place; it is worth nothing where places or points are awarded, and has no value where
/// strokes add up.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed<'a> {
    /// The figures behind it.
    pub figures: &'a Figures,
    /// The place; `None` without a result.
    pub place: Option<u32>,
    /// Whether others share it.
    pub is_tied: bool,
    /// What it is worth in the season; `None`: no value at all.
    pub value: Option<Exact>,
}

/// Ranks the rounds of one event within each flight, best first; those without a result come last.
///
/// # Source
/// Equals share the better place (1, 2, 2, 4); where places are awarded and the season says so, countback first compares
/// the last 9, 6, 3 and 1 holes by number. Common practice, no source, beside the texts named in `scoring::countback`.
pub fn places<'a>(figures: impl IntoIterator<Item = &'a Figures>, terms: &Terms<'_>) -> Vec<Placed<'a>> {
    let mut fields: BTreeMap<Option<&str>, Vec<&'a Figures>> = BTreeMap::new();
    for round in figures {
        fields.entry(round.flight.as_deref()).or_default().push(round);
    }
    fields.into_values().flat_map(|field| ranked(field, terms)).collect()
}

fn ranked<'a>(mut field: Vec<&'a Figures>, terms: &Terms<'_>) -> Vec<Placed<'a>> {
    let better = better(terms.scoring.higher_wins());
    field.sort_by_key(|round| round.member);
    let (scored, rest): (Vec<&Figures>, Vec<&Figures>) = field.into_iter().partition(|round| round.score.is_some());
    let ranking = rank_by(&scored, |a, b| {
        better.compare(&a.score, &b.score).then_with(|| match (terms.award, terms.event_ties) {
            (Award::ByPlace { .. }, EventTies::Countback) => better.compare(&a.countback, &b.countback),
            (Award::ByScore {}, _) | (_, EventTies::Share) => Ordering::Equal,
        })
    });
    let taken: Vec<usize> = ranking.iter().map(|ranked| ranked.place).collect();
    let shares = match terms.award {
        Award::ByPlace { table } => {
            let table: Vec<Exact> = table.iter().map(|points| whole(*points)).collect();
            share_points(&table, &taken)
        }
        Award::ByScore {} => {
            ranking.iter().map(|ranked| whole(scored[ranked.item].score.unwrap_or_default())).collect()
        }
    };
    // Places rise, so those who share one stand together.
    let is_tied = |n: usize| taken.get(n + 1) == Some(&taken[n]) || (n > 0 && taken[n - 1] == taken[n]);
    let with_result = ranking.iter().zip(shares).enumerate().map(|(n, (ranked, value))| Placed {
        figures: scored[ranked.item],
        place: Some(ranked.place as u32),
        is_tied: is_tied(n),
        value: Some(value),
    });
    let worth_nothing = matches!(terms.award, Award::ByPlace { .. }) || terms.scoring == Scoring::Points;
    let without = rest.into_iter().map(|figures| Placed {
        figures,
        place: None,
        is_tied: false,
        value: worth_nothing.then(Exact::zero),
    });
    with_result.chain(without).collect()
}

fn better(higher_wins: bool) -> Better {
    if higher_wins { Better::Higher } else { Better::Lower }
}

/// One value of a row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ResultCell {
    /// The event; `None` for a value that was brought along.
    pub event_id: Option<EventId>,
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
    /// Their sum.
    pub total: Option<Value>,
    /// Every value, in the order of events.
    pub results: Vec<ResultCell>,
    /// Strokes gained putting for 18 recorded holes.
    pub strokes_gained_putting_per_round: Option<f64>,
}

/// Makes the table of a season from the figures of its counting rounds.
///
/// `until` looks back: only events up to it are taken. Figures of other seasons are passed over. `indexes` are asked for
/// the flight of a member who only brought a value along.
pub fn season_table<'f>(
    book: &Book,
    season_id: SeasonId,
    figures: impl IntoIterator<Item = &'f Figures>,
    until: Option<NightKey>,
    indexes: &LeagueIndexes,
) -> Vec<StandingsRow> {
    let Some(season) = book.seasons.get(&season_id) else { return Vec::new() };
    let mut by_event: HashMap<EventId, Vec<&Figures>> = HashMap::new();
    for round in figures.into_iter().filter(|round| round.season == season_id) {
        by_event.entry(round.event).or_default().push(round);
    }
    let mut drafts: BTreeMap<MemberId, Draft> = BTreeMap::new();
    for carried in book.carried_results.get(&season_id).into_iter().flatten() {
        drafts.entry(carried.member_id).or_default().carry(&carried.label, carried.value);
    }
    for night in book.nights_of(season_id) {
        if until.is_some_and(|until| night.key() > until) {
            continue;
        }
        let (Some(terms), Some(rounds)) = (book.terms(night), by_event.remove(&night.id)) else { continue };
        for placed in places(rounds, &terms) {
            drafts.entry(placed.figures.member).or_default().play(night, &placed);
        }
    }
    let better = better(matches!(season.award, Award::ByPlace { .. }) || season.scoring.higher_wins());
    let rows = drafts.into_iter().map(|(member, draft)| draft.row(book, season, member, better, indexes)).collect();
    positioned(rows, season, better)
}

/// A row in the making.
#[derive(Default)]
struct Draft {
    flight: Option<String>,
    has_played: bool,
    events_played: u32,
    results: Vec<ResultCell>,
    /// Strokes gained putting, in billionths.
    gains: i64,
    recorded_holes: u32,
}

impl Draft {
    fn carry(&mut self, label: &str, value: f64) {
        let exact = parse(&value.to_string()).unwrap_or_default();
        self.events_played += 1;
        self.results.push(ResultCell {
            event_id: None,
            value: Some(Value(exact)),
            counted: false,
            carried: Some(label.to_owned()),
            place: None,
        });
    }

    fn play(&mut self, night: &Night, placed: &Placed<'_>) {
        if !std::mem::replace(&mut self.has_played, true) {
            self.flight = placed.figures.flight.clone();
        }
        self.events_played += u32::from(placed.figures.outcome != Outcome::Disqualified);
        self.gains += placed.figures.putting.gains;
        self.recorded_holes += placed.figures.putting.recorded_holes;
        self.results.push(ResultCell {
            event_id: Some(night.id),
            value: placed.value.map(Value),
            counted: false,
            carried: None,
            place: placed.place,
        });
    }

    fn row(
        mut self,
        book: &Book,
        season: &Season,
        member: MemberId,
        better: Better,
        indexes: &LeagueIndexes,
    ) -> StandingsRow {
        let person = book.members.get(&member);
        if !self.has_played {
            let index = indexes.get(&member).copied().flatten();
            self.flight = person.and_then(|person| flight_of(season, person, index.or(person.starting_handicap)));
        }
        let (counted, total) = count_best(&mut self.results, season.counting.best, better);
        let short_of_best = season.counting.best.is_some_and(|best| counted < best) && better == Better::Lower;
        let ranked = self.events_played >= season.counting.minimum && !short_of_best && counted > 0;
        StandingsRow {
            position: ranked.then_some(0),
            tied: false,
            member_id: member,
            display_name: person.map(|person| person.display_name.clone()).unwrap_or_default(),
            flight: self.flight,
            events_played: self.events_played,
            events_counted: counted,
            total: (counted > 0).then_some(Value(total)),
            results: self.results,
            strokes_gained_putting_per_round: per_round(self.gains, self.recorded_holes),
        }
    }
}

/// Marks the best values; where equal ones compete the earlier drops. Returns how many count, and their sum.
fn count_best(results: &mut [ResultCell], best: Option<u32>, better: Better) -> (u32, Exact) {
    let values: Vec<Option<Exact>> = results.iter().map(|cell| cell.value.map(|value| value.0)).collect();
    let counting = Counting { best: best.map(|best| best as usize), drop_worst: 0 };
    let best = season_total::count_best(&values, counting, better);
    for n in &best.counted {
        results[*n].counted = true;
    }
    (best.counted.len() as u32, best.total)
}

/// Gives positions within flights and puts the rows in order.
///
/// Ties: more first places among the counted; then the counted values compared best first; then the same position.
fn positioned(rows: Vec<StandingsRow>, season: &Season, better: Better) -> Vec<StandingsRow> {
    let flight_rank = |row: &StandingsRow| {
        let known = |name: &str| season.flights.iter().position(|flight| flight.name == name);
        row.flight.as_deref().and_then(known).unwrap_or(usize::MAX)
    };
    let mut keyed: Vec<((usize, Option<String>), Merit, StandingsRow)> =
        rows.into_iter().map(|row| ((flight_rank(&row), row.flight.clone()), Merit::of(&row, better), row)).collect();
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
    first_places_lacking: u32,
    values: Vec<Exact>,
}

impl Merit {
    fn of(row: &StandingsRow, better: Better) -> Self {
        let signed = |value: Value| if better == Better::Higher { -value.0 } else { value.0 };
        let counted = || row.results.iter().filter(|cell| cell.counted);
        let mut values: Vec<Exact> = counted().filter_map(|cell| cell.value).map(signed).collect();
        values.sort_unstable();
        // A value of nothing is no better and no worse than no value.
        while better == Better::Higher && values.last().is_some_and(Zero::is_zero) {
            values.pop();
        }
        let firsts = counted().filter(|cell| cell.place == Some(1)).count() as u32;
        let total = row.total.map_or_else(Exact::zero, signed);
        Self { total, first_places_lacking: u32::MAX - firsts, values }
    }
}
