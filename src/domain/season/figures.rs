//! The figures of one round that no competition decides: course handicap, gross, adjusted gross, differential.

use super::book::Night;
use super::entry::{CardDigest, Entry, HoleScore};
use crate::exact::{Exact, round_tenth, round_whole, whole};
use crate::facts::Outcome;
use crate::facts::course::Layout;
use crate::handicap::course::{course_handicap, course_handicap_nine};
use crate::handicap::differential::differential;
use crate::ids::{EventId, MemberId, RoundId, SeasonId, TeeId};
use crate::putting::PuttingTotals;
use crate::scoring::hole_limit::hole_limit;
use crate::scoring::strokes_received::strokes_received;
use crate::units::{HoleCount, Tenths};

/// What a player brings to the first tee of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Handicap {
    /// The league index in effect; `None` below three differentials.
    pub league_index: Option<Tenths>,
    /// The index that is played off, the league index or else the starting one. Without one, hole scores are limited to
    /// par + 5.
    pub played_off: Option<Tenths>,
}

impl Handicap {
    /// Returns the course handicap from a tee, unrounded; 0 without an index.
    ///
    /// # Formula
    /// ```text
    /// index · slope/113 + (rating − par)
    /// ```
    ///
    /// # Source
    /// Rules of Handicapping 2024, Rule 6.1.
    pub fn course_handicap(self, layout: &Layout) -> Exact {
        let Some(index) = self.played_off else { return Exact::default() };
        let rating_less_par = Exact::from(layout.course_rating) - whole(layout.par());
        let course_handicap = match layout.count {
            HoleCount::Eighteen => course_handicap,
            HoleCount::Nine => course_handicap_nine,
        };
        course_handicap(index.into(), layout.slope_rating, rating_less_par)
    }
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
    /// Its scores.
    pub card: CardDigest,
    /// What the player brought to the first tee.
    pub handicap: Handicap,
    /// The course handicap, rounded: for net double bogey.
    pub course_handicap: i32,
    /// All strokes, where every hole was holed out.
    pub gross: Option<i32>,
    /// The strokes after every hole's limit, where every hole was started.
    pub adjusted_gross: Option<i32>,
    /// The round differential, unrounded: numerator and denominator; none in a void event whose cards do not count for the
    /// index.
    pub differential: Option<Exact>,
    /// The totals of its putts.
    pub putting: PuttingTotals,
}

impl Figures {
    /// Returns the round differential with one decimal.
    pub fn differential_tenths(&self) -> Option<Tenths> {
        self.differential.map(round_tenth)
    }
}

/// Works out one round's figures.
pub fn figures(
    entry: &Entry,
    night: &Night,
    tee: TeeId,
    layout: &Layout,
    handicap: Handicap,
    flight: Option<String>,
) -> Figures {
    let card = &entry.card;
    let complete = card.outcome == Outcome::Complete;
    let gross = complete.then(|| card.holed(layout).into_iter().map(|strokes| strokes.map(i32::from)).sum());
    let course_handicap = round_whole(handicap.course_handicap(layout)) as i32;
    let adjusted_gross = match complete {
        true => adjusted_gross(card, layout, course_handicap, handicap.played_off.is_some()),
        false => None,
    };
    let differential = adjusted_gross.filter(|_| night.event.counts_for_index()).map(|adjusted| {
        differential(
            whole(adjusted),
            layout.course_rating.into(),
            layout.slope_rating,
            night.playing_conditions(),
            layout.count,
        )
    });
    Figures {
        round: entry.id,
        event: night.id,
        season: night.season,
        member: entry.member,
        flight,
        tee,
        card: card.clone(),
        handicap,
        course_handicap,
        gross: gross.flatten(),
        adjusted_gross,
        differential,
        putting: entry.putting,
    }
}

/// Adds up the strokes after each hole's limit; `None` where a hole was not started.
///
/// # Source
/// Rules of Handicapping 2024, Rules 3.1 (net double bogey; par + 5 before an index) and 3.3 (most likely score).
fn adjusted_gross(card: &CardDigest, layout: &Layout, course_handicap: i32, has_index: bool) -> Option<i32> {
    let received = strokes_received(course_handicap, &layout.stroke_indexes());
    let limits = layout.holes.iter().zip(received);
    limits
        .map(|(hole, received)| {
            let limit = hole_limit(hole.par.get(), received, has_index);
            match card.score_on(hole.number.get()) {
                HoleScore::NotPlayed => None,
                HoleScore::PickedUp(None) => Some(limit),
                HoleScore::PickedUp(Some(score)) | HoleScore::Holed(score) => Some(i32::from(score).min(limit)),
            }
        })
        .sum()
}
