//! A card in a competition: the strokes that it receives, what its holes are worth, and its score.

use super::better::Better;
use super::quota::{quota, usual_points};
use super::score::HoleScore;
use crate::exact::{Exact, round_whole, whole};
use crate::facts::competition::{Basis, Competition, Maximum, MaximumByPar, PointsByResult, Scoring};
use crate::facts::course::{Hole, Layout};
use crate::facts::{Outcome, competition::Meeting};
use crate::scoring::countback::{Card, Countback, Method, usual_segments};
use crate::scoring::points::PointsTable;
use crate::scoring::strokes_received::strokes_received;
use crate::season::book::{Book, Night};
use crate::season::entry::CardDigest;
use crate::season::figures::{Figures, Handicap};
use crate::units::HoleCount;

/// The strokes that a player receives in a competition.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Given {
    /// The course handicap times the allowance, rounded once.
    pub allowed: i32,
    /// Those with the addition for tees of different par.
    pub playing_handicap: i32,
}

/// Works out the strokes that a player receives in a competition.
///
/// # Formula
/// ```text
/// course handicap (unrounded) · allowance      rounded once
///   at most the season's limit; over nine holes half of it, rounded (halves up)
///   + own par − lowest par of the event's tees   where net strokes are compared
/// ```
///
/// # Source
/// Rules of Handicapping 2024, Rule 6.2 and Appendix C; the addition for par: USGA FAQ on different tees.
pub fn given(book: &Book, night: &Night, terms: &Competition, layout: &Layout, handicap: Handicap) -> Given {
    let unlimited = unlimited(terms, layout, handicap);
    let allowed = limit_of(book, night, layout).map_or(unlimited, |limit| unlimited.min(limit));
    let adds_par = terms.basis == Basis::Net
        && matches!(terms.meeting, Meeting::Field {} | Meeting::Match(_))
        && matches!(terms.score, Scoring::Strokes {} | Scoring::MaximumScore { .. });
    let own = layout.par();
    let above_lowest = if adds_par { own - book.lowest_par(night).unwrap_or(own) } else { 0 };
    Given { allowed, playing_handicap: allowed + above_lowest }
}

/// Returns the course handicap times the allowance, rounded.
pub fn unlimited(terms: &Competition, layout: &Layout, handicap: Handicap) -> i32 {
    let allowance = Exact::new(terms.allowance().0.get().into(), 100);
    round_whole(handicap.course_handicap(layout) * allowance) as i32
}

/// Returns the most strokes that a season lets a player receive over the holes of a layout.
pub fn limit_of(book: &Book, night: &Night, layout: &Layout) -> Option<i32> {
    let limit = book.seasons.get(&night.season)?.handicap.limit?;
    Some(match layout.count {
        HoleCount::Eighteen => limit,
        HoleCount::Nine => round_whole(Exact::new(limit.into(), 2)) as i32,
    })
}

/// A card in a competition.
#[derive(Clone, Debug, PartialEq)]
pub struct Ball {
    /// What the player receives.
    pub given: Given,
    /// What each hole that was holed out is worth; empty where the whole card competes.
    pub holes: Vec<Option<i32>>,
    /// The score of the whole card; `None` without a result.
    pub score: Option<Exact>,
    /// What countback compares after the score, better values first by the same measure.
    pub countback: Vec<Exact>,
}

/// A committee's points where the terms have some.
fn table(given: Option<&PointsByResult>) -> Option<PointsTable> {
    given.and_then(|table| PointsTable::new(table).ok())
}

/// Returns the limit of a hole under maximum score.
///
/// # Source
/// Rules of Golf, Rule 21.2: the committee sets the maximum. Net double bogey counts the strokes received in this
/// competition; where the gross score competes, those of the course handicap.
fn limit(maximum: Maximum, hole: &Hole, received: i32) -> u8 {
    let par = hole.par.get();
    match maximum {
        Maximum::ByPar(MaximumByPar::DoublePar) => 2 * par,
        Maximum::ByPar(MaximumByPar::NetDoubleBogey) => {
            u8::try_from((i32::from(par) + 2 + received).max(1)).unwrap_or(u8::MAX)
        }
        Maximum::OverPar { over_par } => par.saturating_add(over_par),
        Maximum::Fixed(strokes) => strokes,
    }
}

/// Returns the strokes received on each hole: none where the gross score competes.
pub fn received(terms: &Competition, given: Given, layout: &Layout) -> Vec<i32> {
    match terms.basis {
        Basis::Net => strokes_received(given.playing_handicap, &layout.stroke_indexes()),
        Basis::Gross => vec![0; layout.holes.len()],
    }
}

/// Returns the limit of each hole under maximum score.
pub fn limits(maximum: Maximum, terms: &Competition, given: Given, course_handicap: i32, layout: &Layout) -> Vec<u8> {
    let strokes = match terms.basis {
        Basis::Net => given.playing_handicap,
        Basis::Gross => course_handicap,
    };
    let received = strokes_received(strokes, &layout.stroke_indexes());
    layout.holes.iter().zip(received).map(|(hole, received)| limit(maximum, hole, received)).collect()
}

/// Returns the points that a quota takes off the total; nothing elsewhere.
pub fn to_reach(terms: &Competition, given: Given, holes: HoleCount) -> Exact {
    let Scoring::Quota { base, .. } = terms.score else { return Exact::default() };
    quota(whole(base), if terms.basis == Basis::Net { given.playing_handicap } else { 0 }, holes)
}

/// Puts a card into a competition; `None` where its tee is unknown.
///
/// A card that was not completed has no score. One that was given up keeps what its holes are worth, one that was
/// disqualified does not.
pub fn ball(book: &Book, night: &Night, terms: &Competition, figures: &Figures) -> Option<Ball> {
    let layout = book.layout(night, figures.tee)?;
    let given = given(book, night, terms, &layout, figures.handicap);
    Some(of_card(terms, given, figures.course_handicap, &layout, &figures.card))
}

fn of_card(terms: &Competition, given: Given, course_handicap: i32, layout: &Layout, card: &CardDigest) -> Ball {
    let strokes = card.holed(layout);
    let received = received(terms, given, layout);
    let limits = match terms.score {
        Scoring::MaximumScore { maximum } => limits(maximum, terms, given, course_handicap, layout),
        _ => Vec::new(),
    };
    let own_table = match &terms.score {
        Scoring::Points { table: given } => table(given.as_ref()),
        Scoring::Quota { table: given, .. } => Some(table(given.as_ref()).unwrap_or_else(usual_points)),
        _ => None,
    };
    let worth = |n: usize, strokes: Option<u8>| {
        let (par, received) = (layout.holes[n].par.get(), received[n]);
        let (rule, received) = match &terms.score {
            Scoring::Strokes {} => (HoleScore::Strokes, received),
            Scoring::Points { .. } => (HoleScore::Points(own_table.as_ref()), received),
            Scoring::ParBogey {} => (HoleScore::ParBogey, received),
            Scoring::MaximumScore { .. } => (HoleScore::MaximumScore(limits[n]), received),
            Scoring::Quota { .. } => (HoleScore::Points(own_table.as_ref()), 0),
        };
        rule.of(par, received, strokes)
    };
    let holes = match (terms.goes_by_hole(), card.outcome) {
        (false, _) => Vec::new(),
        (true, Outcome::Disqualified) => vec![None; strokes.len()],
        (true, Outcome::Complete | Outcome::NoReturn) => {
            strokes.iter().enumerate().map(|(n, strokes)| strokes.and_then(|strokes| worth(n, Some(strokes)))).collect()
        }
    };
    let scored = || strokes.iter().enumerate().map(|(n, strokes)| worth(n, *strokes)).collect::<Option<Vec<i32>>>();
    let Some(scored) = (card.outcome == Outcome::Complete).then(scored).flatten() else {
        return Ball { given, holes, score: None, countback: Vec::new() };
    };
    let to_reach = to_reach(terms, given, layout.count);
    let total = whole(scored.iter().sum::<i32>()) - to_reach;
    let countback = match terms.counts_back() {
        false => Vec::new(),
        true => countback(terms, given, layout, &strokes, &scored, to_reach),
    };
    Ball { given, holes, score: Some(total), countback }
}

/// Returns what level scores compare: the last 9, 6, 3 and 1 holes, by number.
///
/// Strokes less their share of the handicap, with fractions, as [`Countback`] has it; everything else adds up the holes, and
/// takes the share of a quota off.
fn countback(
    terms: &Competition,
    given: Given,
    layout: &Layout,
    strokes: &[Option<u8>],
    scored: &[i32],
    to_reach: Exact,
) -> Vec<Exact> {
    let segments = usual_segments(scored.len());
    if let Scoring::Strokes {} = terms.score {
        let (method, handicap) = match terms.basis {
            Basis::Gross => (Method::Gross, 0),
            Basis::Net => (Method::NetFraction { rounded: false }, given.playing_handicap),
        };
        let card = Card { strokes, pars: &layout.pars(), stroke_indexes: &layout.stroke_indexes(), handicap };
        let key = Countback { method, segments, hole_by_hole: false }.key(&card).unwrap_or_default();
        return key.into_iter().skip(1).collect();
    }
    let holes = scored.len();
    let last = |count: usize| {
        let sum: i32 = scored[holes - count..].iter().sum();
        whole(sum) - to_reach * Exact::new(count as i128, holes as i128)
    };
    segments.into_iter().map(last).collect()
}

impl Ball {
    /// Compares two scores, and where the terms say so the last holes of level ones; the better ball is less.
    pub fn compare(&self, other: &Self, better: Better) -> std::cmp::Ordering {
        better.compare(&self.score, &other.score).then_with(|| better.compare(&self.countback, &other.countback))
    }
}

/// What a card shows of itself beside any competition's table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    pub playing_handicap: i32,
    /// The gross less the playing handicap.
    pub net: Option<i32>,
    /// Points with the strokes received: those of the competition where it has a table, else Stableford's.
    pub points: Option<i32>,
}

/// Works out what a card shows, by the terms of a competition.
pub fn shown(book: &Book, night: &Night, terms: &Competition, figures: &Figures) -> Option<Shown> {
    let layout = book.layout(night, figures.tee)?;
    let given = given(book, night, terms, &layout, figures.handicap);
    let own = match &terms.score {
        Scoring::Points { table: own } => table(own.as_ref()),
        _ => None,
    };
    let received = strokes_received(given.allowed, &layout.stroke_indexes());
    let rule = HoleScore::Points(own.as_ref());
    let holes = figures.card.holed(&layout);
    let points = || {
        let on = |(n, strokes): (usize, &Option<u8>)| rule.of(layout.holes[n].par.get(), received[n], *strokes);
        holes.iter().enumerate().filter_map(on).sum()
    };
    Some(Shown {
        playing_handicap: given.playing_handicap,
        net: figures.gross.map(|gross| gross - given.playing_handicap),
        points: (figures.card.outcome == Outcome::Complete).then(points),
    })
}
