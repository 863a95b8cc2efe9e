//! The figures of one round: strokes given, adjusted gross, gross, net, points, differential.

use super::book::{Book, Night, Terms};
use super::entry::{CardDigest, Entry, HoleScore};
use crate::domain::exact::{Exact, round_tenth, round_whole, whole};
use crate::domain::facts::course::Layout;
use crate::domain::facts::{Outcome, Scoring};
use crate::domain::handicap::course::{course_handicap, course_handicap_nine};
use crate::domain::handicap::differential::differential;
use crate::domain::ids::{EventId, MemberId, RoundId, SeasonId, TeeId};
use crate::domain::putting::PuttingTotals;
use crate::domain::scoring::countback::{Card, Countback, Method, usual_segments};
use crate::domain::scoring::hole_limit::hole_limit;
use crate::domain::scoring::points::points;
use crate::domain::scoring::strokes_received::strokes_received;
use crate::domain::units::{HoleCount, Tenths};

/// What a player brings to the first tee of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Strokes {
    /// The league index in effect; `None` below three differentials.
    pub league_index: Option<Tenths>,
    /// Whether the player has a league index or a starting one: without, hole scores are limited to par + 5.
    pub established: bool,
    /// The course strokes, rounded.
    pub course_handicap: i32,
    /// The playing strokes before any addition for tees of different par.
    pub allowed: i32,
    /// The playing strokes.
    pub playing_handicap: i32,
}

/// Everything derived from one counting round.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// The round.
    pub round: RoundId,
    /// Its event.
    pub event: EventId,
    /// Its season.
    pub season: SeasonId,
    /// Whose it is.
    pub member: MemberId,
    /// The player's flight in the season.
    pub flight: Option<String>,
    /// The tee that it was played from.
    pub tee: TeeId,
    /// How it ended.
    pub outcome: Outcome,
    /// Holes started.
    pub holes_played: u32,
    /// What the player was given.
    pub strokes: Strokes,
    /// All strokes, where every hole was holed out.
    pub gross: Option<i32>,
    /// The strokes after every hole's limit, where every hole was started.
    pub adjusted_gross: Option<i32>,
    /// The gross less the playing strokes.
    pub net: Option<i32>,
    /// Stableford points.
    pub points: Option<i32>,
    /// The round differential, unrounded: numerator and denominator.
    pub differential: Option<Exact>,
    /// The figure that decides the event; `None` for a card without a result.
    pub score: Option<i32>,
    /// What countback compares after the score: whole numbers, each the segment's figure times the number of holes.
    pub countback: Vec<i64>,
    /// All putts.
    pub putts: Option<u32>,
    /// The totals of its putts.
    pub putting: PuttingTotals,
}

impl Figures {
    /// Returns the round differential with one decimal.
    pub fn differential_tenths(&self) -> Option<Tenths> {
        self.differential.map(round_tenth)
    }
}

/// Works out the strokes that a player is given in an event.
///
/// # Formula
/// ```text
/// course strokes  = index · slope/113 + (rating − par)         rounded: for net double bogey
/// playing strokes = course strokes (unrounded) · allowance     rounded once
///                 + own par − lowest par of the event's tees   where net totals decide
/// ```
/// # Source
/// Rules of Handicapping 2024, Rules 6.1, 6.2 and Appendix C; the addition for par: USGA FAQ on different tees.
pub fn strokes(book: &Book, night: &Night, terms: &Terms<'_>, layout: &Layout, handicap: Handicap) -> Strokes {
    let above_lowest_par =
        if terms.scoring == Scoring::Net { layout.par() - book.lowest_par(night).unwrap_or(layout.par()) } else { 0 };
    let (course_handicap, allowed) = match handicap.index {
        None => (0, 0),
        Some(index) => {
            let rating_less_par = Exact::from(layout.course_rating) - whole(layout.par());
            let course_strokes = match layout.count {
                HoleCount::Eighteen => course_handicap,
                HoleCount::Nine => course_handicap_nine,
            };
            let unrounded = course_strokes(index.into(), layout.slope_rating, rating_less_par);
            let allowance = Exact::new(i128::from(terms.allowance_pct.get()), 100);
            (round_whole(unrounded) as i32, round_whole(unrounded * allowance) as i32)
        }
    };
    Strokes {
        league_index: handicap.league_index,
        established: handicap.index.is_some(),
        course_handicap,
        allowed,
        playing_handicap: allowed + above_lowest_par,
    }
}

/// The index that a player plays off.
#[derive(Clone, Copy, Debug)]
pub struct Handicap {
    /// The league index, from three differentials on.
    pub league_index: Option<Tenths>,
    /// The league index or else the starting one.
    pub index: Option<Tenths>,
}

/// Works out one round's figures.
pub fn figures(
    entry: &Entry,
    night: &Night,
    terms: &Terms<'_>,
    tee: TeeId,
    layout: &Layout,
    strokes: Strokes,
    flight: Option<String>,
) -> Figures {
    let card = &entry.card;
    let complete = card.outcome == Outcome::Complete;
    let holed: Option<Vec<i32>> =
        holed_strokes(card, layout).into_iter().map(|strokes| strokes.map(i32::from)).collect();
    let gross = holed.filter(|_| complete).map(|holes| holes.iter().sum::<i32>());
    let net = gross.map(|gross| gross - strokes.playing_handicap);
    let stableford = complete.then(|| stableford_total(card, layout, strokes.allowed));
    let adjusted_gross = if complete { adjusted_gross(card, layout, strokes) } else { None };
    let differential = adjusted_gross.map(|adjusted| {
        differential(
            whole(adjusted),
            layout.course_rating.into(),
            layout.slope_rating,
            terms.playing_conditions,
            layout.count,
        )
    });
    let score = match terms.scoring {
        Scoring::Gross => gross,
        Scoring::Net => net,
        Scoring::Points => stableford,
    };
    Figures {
        round: entry.id,
        event: night.id,
        season: night.season,
        member: entry.member,
        flight,
        tee,
        outcome: card.outcome,
        holes_played: card.holes_played(),
        strokes,
        gross,
        adjusted_gross,
        net,
        points: stableford,
        differential,
        score,
        countback: if score.is_some() { countback_figures(card, layout, terms.scoring, strokes) } else { Vec::new() },
        putts: card.putts,
        putting: entry.putting,
    }
}

fn holed_strokes(card: &CardDigest, layout: &Layout) -> Vec<Option<u8>> {
    let on = |number| match card.score_on(number) {
        HoleScore::Holed(strokes) => Some(strokes),
        HoleScore::NotPlayed | HoleScore::PickedUp(_) => None,
    };
    layout.holes.iter().map(|hole| on(hole.number.get())).collect()
}

fn stableford_total(card: &CardDigest, layout: &Layout, handicap: i32) -> i32 {
    let received = strokes_received(handicap, &layout.stroke_indexes());
    let scores = holed_strokes(card, layout);
    let holes = layout.holes.iter().zip(received).zip(scores);
    holes.map(|((hole, received), score)| points(hole.par.get(), received, score)).sum()
}

/// Adds up the strokes after each hole's limit; `None` where a hole was not started.
///
/// # Source
/// Rules of Handicapping 2024, Rules 3.1 (net double bogey; par + 5 before an index) and 3.3 (most likely score).
fn adjusted_gross(card: &CardDigest, layout: &Layout, strokes: Strokes) -> Option<i32> {
    let received = strokes_received(strokes.course_handicap, &layout.stroke_indexes());
    let limits = layout.holes.iter().zip(received);
    limits
        .map(|(hole, received)| {
            let limit = hole_limit(hole.par.get(), received, strokes.established);
            match card.score_on(hole.number.get()) {
                HoleScore::NotPlayed => None,
                HoleScore::PickedUp(None) => Some(limit),
                HoleScore::PickedUp(Some(score)) | HoleScore::Holed(score) => Some(i32::from(score).min(limit)),
            }
        })
        .sum()
}

fn countback_figures(card: &CardDigest, layout: &Layout, scoring: Scoring, strokes: Strokes) -> Vec<i64> {
    let (method, handicap) = match scoring {
        Scoring::Gross => (Method::Gross, 0),
        Scoring::Net => (Method::NetFraction { rounded: false }, strokes.playing_handicap),
        Scoring::Points => (Method::Points, strokes.allowed),
    };
    let holes = layout.holes.len();
    let countback = Countback { method, segments: usual_segments(holes), hole_by_hole: false };
    let card = Card {
        strokes: &holed_strokes(card, layout),
        pars: &layout.pars(),
        stroke_indexes: &layout.stroke_indexes(),
        handicap,
    };
    let key = countback.key(&card).unwrap_or_default();
    key.into_iter().skip(1).map(|segment| round_whole(segment * whole(holes as i64))).collect()
}
