//! Places in an event and the table of a season.

use super::ball::{Ball, ball};
use super::better::Better;
use super::eclectic::eclectic;
use super::places::{rank_by, share_points};
use super::season_total;
use super::skins::{Skins, Unwon, skins};
use crate::domain::exact::{Exact, Value, parse, whole};
use crate::domain::facts::competition::{Award, Competition, LastHole, Meeting};
use crate::domain::facts::{Outcome, Season, Tie};
use crate::domain::ids::{CompetitionId, EventId, MemberId, SeasonId};
use crate::domain::putting::sums::per_round;
use crate::domain::season::book::{Book, Night, NightKey};
use crate::domain::season::figures::Figures;
use crate::domain::season::record::flight_of;
use crate::domain::units::Tenths;
use num_traits::Zero;
use serde::Serialize;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};

/// League indexes by member: for those who brought a value along and have not played yet.
pub type LeagueIndexes = HashMap<MemberId, Option<Tenths>>;

/// One player's result in one event, with its place in the field and what it is worth.
///
/// A card without a result has no place; it is worth nothing where places or points are awarded, and has no value where
/// strokes add up.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed<'a> {
    /// The figures behind it.
    pub figures: &'a Figures,
    /// The card in the competition; `None` where other competitions are added up.
    pub ball: Option<Ball>,
    /// The place; `None` without a result.
    pub place: Option<u32>,
    /// Whether others share it.
    pub is_tied: bool,
    /// What it is worth in the season; `None`: no value at all.
    pub value: Option<Exact>,
}

impl Placed<'_> {
    /// Returns the score of the card, where it has one.
    pub fn score(&self) -> Option<Exact> {
        self.ball.as_ref()?.score
    }
}

/// Returns the part of the field that ranks a player apart; `None`: the player does not compete.
pub fn part<'a>(terms: &Competition, flight: Option<&'a str>) -> Option<Option<&'a str>> {
    match terms.field.flights.as_slice() {
        [] => Some(None),
        named => flight.filter(|flight| named.iter().any(|named| named == flight)).map(Some),
    }
}

/// Ranks the rounds of one event, each flight that the terms name apart, best first; those without a result come last. A
/// void event has no places and no values.
///
/// # Source
/// Equals share the better place (1, 2, 2, 4); where places are awarded and the terms say so, countback first compares
/// the last 9, 6, 3 and 1 holes by number. Common practice, no source, beside the texts named in `scoring::countback`.
pub fn places<'a>(
    book: &Book,
    night: &Night,
    id: CompetitionId,
    figures: impl IntoIterator<Item = &'a Figures>,
) -> Vec<Placed<'a>> {
    let Some(terms) = book.terms(night, id) else { return Vec::new() };
    let mut fields: BTreeMap<Option<&str>, Vec<&'a Figures>> = BTreeMap::new();
    for round in figures {
        if let Some(part) = part(terms, round.flight.as_deref()) {
            fields.entry(part).or_default().push(round);
        }
    }
    let placed = |mut field: Vec<&'a Figures>| {
        field.sort_by_key(|round| round.member);
        match &terms.meeting {
            _ if night.event.is_void() => unplaced(book, night, terms, field),
            Meeting::Sum { of } => added_up(book, night, terms, of, &field),
            Meeting::Season {} | Meeting::Match(_) => unplaced(book, night, terms, field),
            Meeting::Field {} => ranked(terms, balls(book, night, terms, field)),
            Meeting::Hole { .. } => by_hole(terms, balls(book, night, terms, field)),
        }
    };
    fields.into_values().flat_map(placed).collect()
}

fn unplaced<'a>(book: &Book, night: &Night, terms: &Competition, field: Vec<&'a Figures>) -> Vec<Placed<'a>> {
    let has_balls = !matches!(terms.meeting, Meeting::Sum { .. });
    let ball = |figures| has_balls.then(|| ball(book, night, terms, figures)).flatten();
    field.into_iter().map(|figures| Placed { ball: ball(figures), ..without_value(figures) }).collect()
}

fn without_value(figures: &Figures) -> Placed<'_> {
    Placed { figures, ball: None, place: None, is_tied: false, value: None }
}

fn balls<'a>(book: &Book, night: &Night, terms: &Competition, field: Vec<&'a Figures>) -> Vec<(&'a Figures, Ball)> {
    field.into_iter().filter_map(|figures| Some((figures, ball(book, night, terms, figures)?))).collect()
}

fn ranked<'a>(terms: &Competition, field: Vec<(&'a Figures, Ball)>) -> Vec<Placed<'a>> {
    let better = terms.score.better();
    let (scored, rest): (Vec<_>, Vec<_>) = field.into_iter().partition(|(_, ball)| ball.score.is_some());
    let ranking = rank_by(&scored, |(_, a), (_, b)| a.compare(b, better));
    let taken: Vec<usize> = ranking.iter().map(|ranked| ranked.place).collect();
    let shares = match &terms.award {
        Award::ByPlace { table, beyond } => {
            let beyond = std::iter::repeat_n(beyond, scored.len().saturating_sub(table.len()));
            let table: Vec<Exact> = table.iter().chain(beyond).map(|points| points.0).collect();
            share_points(&table, &taken)
        }
        Award::ByScore {} | Award::ByPoints {} => {
            ranking.iter().map(|ranked| scored[ranked.item].1.score.unwrap_or_default()).collect()
        }
    };
    let mut scored: Vec<Option<(&Figures, Ball)>> = scored.into_iter().map(Some).collect();
    let with_result = ranking.iter().zip(shares).enumerate().filter_map(|(n, (ranked, value))| {
        let (figures, ball) = scored[ranked.item].take()?;
        Some(Placed {
            figures,
            ball: Some(ball),
            place: Some(ranked.place as u32),
            is_tied: is_tied(&taken, n),
            value: Some(value),
        })
    });
    let mut placed: Vec<Placed<'_>> = with_result.collect();
    let worth_nothing = terms.better() == Better::Higher;
    placed.extend(rest.into_iter().map(|(figures, ball)| Placed {
        ball: Some(ball),
        value: worth_nothing.then(Exact::zero),
        ..without_value(figures)
    }));
    placed
}

/// Says whether a place is shared; those who share one stand together, as places rise.
fn is_tied(taken: &[usize], n: usize) -> bool {
    taken.get(n + 1) == Some(&taken[n]) || (n > 0 && taken[n - 1] == taken[n])
}

/// Plays a field's holes for skins.
pub fn skins_of(terms: &Competition, balls: &[&Ball]) -> Skins {
    let unwon = match terms.meeting {
        Meeting::Hole { carry: true, last } => Unwon::Carried { split_last: last == LastHole::Split },
        _ => Unwon::Void,
    };
    let cards: Vec<Vec<Option<Exact>>> =
        balls.iter().map(|ball| ball.holes.iter().map(|value| value.map(whole)).collect()).collect();
    let cards: Vec<&[Option<Exact>]> = cards.iter().map(Vec::as_slice).collect();
    skins(&cards, unwon, terms.score.better())
}

fn by_hole<'a>(terms: &Competition, field: Vec<(&'a Figures, Ball)>) -> Vec<Placed<'a>> {
    let (playing, out): (Vec<_>, Vec<_>) =
        field.into_iter().partition(|(figures, _)| figures.card.outcome != Outcome::Disqualified);
    let won = skins_of(terms, &playing.iter().map(|(_, ball)| ball).collect::<Vec<_>>()).skins;
    let valued = playing.into_iter().zip(won).map(|((figures, ball), won)| (figures, Some(ball), won));
    let mut placed = by_value(valued.collect(), Better::Higher);
    placed.extend(out.into_iter().map(|(figures, ball)| Placed { ball: Some(ball), ..without_value(figures) }));
    placed
}

fn by_value<'a>(valued: Vec<(&'a Figures, Option<Ball>, Exact)>, better: Better) -> Vec<Placed<'a>> {
    let ranking = rank_by(&valued, |(.., a), (.., b)| better.compare(a, b));
    let taken: Vec<usize> = ranking.iter().map(|ranked| ranked.place).collect();
    let mut valued: Vec<Option<_>> = valued.into_iter().map(Some).collect();
    let placed = ranking.iter().enumerate().filter_map(|(n, ranked)| {
        let (figures, ball, value) = valued[ranked.item].take()?;
        let (place, is_tied) = (Some(ranked.place as u32), is_tied(&taken, n));
        Some(Placed { figures, ball, place, is_tied, value: Some(value) })
    });
    placed.collect()
}

/// Returns which of two values of a table wins: in a sum as in what it adds up, which is all of one kind.
fn better_of(book: &Book, terms: &Competition) -> Better {
    let added = match &terms.meeting {
        Meeting::Sum { of } => of.first().and_then(|id| book.competitions.get(id)),
        Meeting::Field {} | Meeting::Match(_) | Meeting::Hole { .. } | Meeting::Season {} => None,
    };
    added.map_or(terms, |(_, added)| added).better()
}

/// Adds up what other competitions are worth in the event. Where strokes add up, a player needs a value in each of them.
fn added_up<'a>(
    book: &Book,
    night: &Night,
    terms: &Competition,
    of: &[CompetitionId],
    field: &[&'a Figures],
) -> Vec<Placed<'a>> {
    let has_values = |id: &&CompetitionId| book.terms(night, **id).is_some_and(Competition::values_events);
    let parts: Vec<HashMap<MemberId, Exact>> = of
        .iter()
        .filter(has_values)
        .map(|id| {
            let placed = places(book, night, *id, field.iter().copied());
            placed.into_iter().filter_map(|placed| Some((placed.figures.member, placed.value?))).collect()
        })
        .collect();
    let better = better_of(book, terms);
    let value = |figures: &Figures| {
        let values: Vec<Exact> = parts.iter().filter_map(|part| part.get(&figures.member).copied()).collect();
        let is_whole = better == Better::Higher || values.len() == parts.len();
        (is_whole && !values.is_empty()).then(|| values.iter().sum::<Exact>())
    };
    let (with, without): (Vec<_>, Vec<_>) =
        field.iter().map(|figures| (*figures, value(figures))).partition(|(_, value)| value.is_some());
    let with = with.into_iter().filter_map(|(figures, value)| Some((figures, None, value?))).collect();
    let mut placed = by_value(with, better);
    placed.extend(without.into_iter().map(|(figures, _)| without_value(figures)));
    placed
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
    let mut by_event: HashMap<EventId, Vec<&Figures>> = HashMap::new();
    for round in figures.into_iter().filter(|round| round.season == *season_id) {
        by_event.entry(round.event).or_default().push(round);
    }
    let mut drafts: BTreeMap<MemberId, Draft> = BTreeMap::new();
    if book.main_of(*season_id) == Some(id) {
        for carried in book.carried_results.get(season_id).into_iter().flatten() {
            drafts.entry(carried.member_id).or_default().carry(&carried.label, carried.value);
        }
    }
    for night in book.nights_of(*season_id) {
        if until.is_some_and(|until| night.key() > until) || night.event.is_void() {
            continue;
        }
        let Some(rounds) = by_event.remove(&night.id) else { continue };
        for placed in places(book, night, id, rounds) {
            drafts.entry(placed.figures.member).or_default().play(night, terms, placed);
        }
    }
    let better = better_of(book, terms);
    let of = Of { book, season, terms, better, indexes };
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
}

/// A row in the making.
#[derive(Default)]
struct Draft {
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

    fn play(&mut self, night: &Night, terms: &Competition, placed: Placed<'_>) {
        if !std::mem::replace(&mut self.has_played, true) {
            self.flight = placed.figures.flight.clone();
        }
        self.events_played += u32::from(placed.figures.card.outcome != Outcome::Disqualified);
        self.gains += placed.figures.putting.gains;
        self.recorded_holes += placed.figures.putting.recorded_holes;
        self.results.push(ResultCell {
            event_id: Some(night.id),
            value: placed.value.map(Value),
            counted: false,
            carried: None,
            place: placed.place,
        });
        if let (Meeting::Season {}, Some(ball)) = (&terms.meeting, placed.ball) {
            self.holes.push(ball.holes.into_iter().map(|value| value.map(whole)).collect());
        }
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
                count_best(&mut self.results, counting, of.better)
            }
        };
        let short_of_best = counting.best.is_some_and(|best| counted < best.saturating_sub(counting.drop_worst))
            && of.better == Better::Lower
            && !matches!(of.terms.meeting, Meeting::Season {});
        let ranked = self.events_played >= counting.minimum && !short_of_best && counted > 0;
        Some(StandingsRow {
            position: ranked.then_some(0),
            tied: false,
            member_id: member,
            display_name: person.map(|person| person.display_name.clone()).unwrap_or_default(),
            flight,
            events_played: self.events_played,
            events_counted: counted,
            total: (counted > 0).then_some(Value(total)),
            results: self.results,
            strokes_gained_putting_per_round: per_round(self.gains, self.recorded_holes),
        })
    }
}

/// Marks the best values; where equal ones compete the earlier drops. Returns how many count, and their sum.
fn count_best(
    results: &mut [ResultCell],
    counting: crate::domain::facts::competition::Counting,
    better: Better,
) -> (u32, Exact) {
    let values: Vec<Option<Exact>> = results.iter().map(|cell| cell.value.map(|value| value.0)).collect();
    let counting = season_total::Counting {
        best: counting.best.map(|best| best as usize),
        drop_worst: counting.drop_worst as usize,
    };
    let best = season_total::count_best(&values, counting, better);
    for n in &best.counted {
        results[*n].counted = true;
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
