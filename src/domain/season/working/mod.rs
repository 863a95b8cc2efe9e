//! The working of a result: every step from a card to its place and value, each with its rule, so that anybody can add
//! it up again.
//!
//! A step names its formula, the values that go in, and the result that the derivation holds. A name in a formula is a
//! value of the step or the result of a step before it.

mod index;
mod place;
mod score;
mod steps;

pub use steps::{Given, Named, Step};

use super::book::{Book, Night};
use super::entry::{Entry, HoleScore};
use super::figures::Figures;
use super::record::{MemberRecord, member_record};
use crate::exact::{Exact, round_tenth, whole};
use crate::facts::Nines;
use crate::facts::course::Layout;
use crate::handicap::course::half_index;
use crate::ids::{CompetitionId, EventId, MemberId, RoundId};
use crate::scoring::hole_limit::hole_limit;
use crate::scoring::strokes_received::strokes_received;
use crate::units::HoleCount;
use index::{AFTERWARDS, index_in_effect, index_of};
use jiff::Timestamp;
use place::place_and_value;
use score::{InCompetition, score};
use serde::Serialize;
use steps::{ALLOCATION, Steps};
use uuid::Uuid;

/// The working of a round's result.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Working {
    /// The round.
    pub round_id: RoundId,
    /// Its event.
    pub event_id: EventId,
    /// The competition whose result is worked out; `None`: no competition counts the event.
    pub competition_id: Option<CompetitionId>,
    /// Whose it is.
    pub member_id: MemberId,
    /// The holes in order: lists of a value a hole follow it.
    pub holes: Vec<u8>,
    /// The steps; none for a round that does not count.
    pub steps: Vec<Step>,
    /// What has no figure, and why.
    pub notes: Vec<&'static str>,
}

/// Explains the result of a round.
///
/// `entries` are the member's rounds; `field` the figures of the event's counting rounds, this one among them.
pub fn working(
    book: &Book,
    entries: &[Entry],
    field: &[Figures],
    round: RoundId,
    competition: Option<CompetitionId>,
) -> Option<Working> {
    let entry = entries.iter().find(|entry| entry.id == round)?;
    let night = book.nights.get(&entry.event)?;
    let mut steps = Steps { steps: Vec::new(), notes: Vec::new() };
    let mut holes = Vec::new();
    match field.iter().find(|figures| figures.round == round) {
        None => steps.notes.push("The round does not count: it waits to be accepted, was left out or was withdrawn."),
        Some(figures) => {
            let layout = book.layout(night, figures.tee)?;
            holes = layout.holes.iter().map(|hole| hole.number.get()).collect();
            let day_before = (night.date.yesterday().unwrap_or(night.date), Timestamp::MAX, EventId(Uuid::max()));
            let earlier = member_record(book, entry.member, entries, Some(day_before));
            index_in_effect(&mut steps, book, night, figures, &earlier);
            course_handicap(&mut steps, figures, &layout);
            card(&mut steps, entry, night, figures, &layout);
            let after = member_record(book, entry.member, entries, Some(night.key()));
            let waiting = waiting_nine(book, entry, &after);
            let nines = book.seasons.get(&night.season).map(|season| season.handicap.nines).unwrap_or_default();
            differential(&mut steps, (night, nines), figures, &after, waiting);
            match competition {
                None => steps.notes.push("No competition counts this event."),
                Some(competition) => {
                    let terms = book.terms(night, competition)?;
                    let of = InCompetition { book, night, terms, competition, figures, layout: &layout };
                    score(&mut steps, &of);
                    place_and_value(&mut steps, &of, field);
                }
            }
        }
    }
    let Steps { steps, notes } = steps;
    Some(Working {
        round_id: round,
        event_id: night.id,
        competition_id: competition,
        member_id: entry.member,
        holes,
        steps,
        notes,
    })
}

fn course_handicap(steps: &mut Steps, figures: &Figures, layout: &Layout) {
    let Some(index) = figures.handicap.played_off else {
        let none = "A player without any index plays off 0.";
        steps.add("course_handicap_unrounded", none, "0", vec![], Exact::default());
        steps.add("course_handicap", none, "0", vec![], figures.course_handicap);
        return;
    };
    let half = layout.count == HoleCount::Nine;
    if half {
        let rule = "Over nine holes half the index, to a tenth, goes in (Rules of Handicapping, Rule 6.1).";
        steps.add("half_index", rule, "round_tenth(index / 2)", vec![], half_index(index.into()));
    }
    let formula = if half {
        "half_index * slope_rating / 113 + course_rating - par"
    } else {
        "index * slope_rating / 113 + course_rating - par"
    };
    steps.add(
        "course_handicap_unrounded",
        "Rules of Handicapping, Rule 6.1.",
        formula,
        vec![
            ("slope_rating", i32::from(layout.slope_rating.get()).into()),
            ("course_rating", layout.course_rating.into()),
            ("par", layout.par().into()),
        ],
        figures.handicap.course_handicap(layout),
    );
    let rule = "Rounded for net double bogey (Rules of Handicapping, Rule 3.1).";
    steps.add("course_handicap", rule, "round_half_up(course_handicap_unrounded)", vec![], figures.course_handicap);
}

/// What follows from the card alone: gross, adjusted gross, differential.
fn card(steps: &mut Steps, entry: &Entry, night: &Night, figures: &Figures, layout: &Layout) {
    let indexes: Vec<i32> = layout.stroke_indexes().into_iter().map(i32::from).collect();
    let pars: Vec<i32> = layout.pars().into_iter().map(i32::from).collect();
    let course = strokes_received(figures.course_handicap, &layout.stroke_indexes());
    steps.add(
        "course_strokes_received",
        ALLOCATION,
        "allocate(course_handicap, stroke_indexes)",
        vec![("stroke_indexes", indexes.into())],
        course.clone(),
    );
    let has_index = figures.handicap.played_off.is_some();
    let limits: Vec<i32> = layout
        .holes
        .iter()
        .zip(&course)
        .map(|(hole, received)| hole_limit(hole.par.get(), *received, has_index))
        .collect();
    let (rule, formula) = if has_index {
        (
            "Net double bogey, at most par + 5 (Rules of Handicapping, Rule 3.1).",
            "min(pars + 2 + course_strokes_received, pars + 5)",
        )
    } else {
        ("Par + 5 before there is an index (Rules of Handicapping, Rule 3.1).", "pars + 5")
    };
    steps.add("hole_limits", rule, formula, vec![("pars", pars.into())], limits);
    let counted: Vec<Option<i32>> = layout
        .holes
        .iter()
        .map(|hole| match entry.card.score_on(hole.number.get()) {
            HoleScore::Holed(strokes) | HoleScore::PickedUp(Some(strokes)) => Some(i32::from(strokes)),
            HoleScore::PickedUp(None) | HoleScore::NotPlayed => None,
        })
        .collect();
    if let Some(gross) = figures.gross {
        let holed: Vec<Option<i32>> =
            entry.card.holed(layout).into_iter().map(|strokes| strokes.map(i32::from)).collect();
        steps.add("gross", "All strokes of the card.", "sum(strokes)", vec![("strokes", holed.into())], gross);
    } else {
        steps.notes.push("No gross and no net: not every hole was holed out, or the card is no complete one.");
    }
    if let Some(adjusted) = figures.adjusted_gross {
        let rule = "Each hole up to its limit; a picked-up hole counts its most likely score, else the limit (Rules of \
                    Handicapping, Rules 3.1 and 3.3).";
        steps.add(
            "adjusted_gross",
            rule,
            "sum(min(strokes, hole_limits))",
            vec![("strokes", counted.into())],
            adjusted,
        );
        if !night.event.counts_for_index() {
            steps.notes.push("No differential: the event is void, and its cards do not count for the league index.");
            return;
        }
        let (rule, formula) = match layout.count {
            HoleCount::Eighteen => (
                "Rules of Handicapping, Rule 5.1.",
                "113 / slope_rating * (adjusted_gross - course_rating - playing_conditions)",
            ),
            HoleCount::Nine => (
                "Rules of Handicapping, Rule 5.1 for nine holes: half the playing conditions; not rounded yet.",
                "113 / slope_rating * (adjusted_gross - course_rating - playing_conditions / 2)",
            ),
        };
        steps.add(
            "differential",
            rule,
            formula,
            vec![
                ("slope_rating", i32::from(layout.slope_rating.get()).into()),
                ("course_rating", layout.course_rating.into()),
                ("playing_conditions", i32::from(night.playing_conditions().get()).into()),
            ],
            figures.differential,
        );
    } else {
        steps.notes.push("No differential: a hole was not played, or the card is no complete one.");
    }
}

/// Returns the unrounded differential of the nine-hole round that waited for this one.
fn waiting_nine(book: &Book, entry: &Entry, record: &MemberRecord) -> Option<Exact> {
    let is_nine = |figures: &&Figures| {
        let night = book.nights.get(&figures.event);
        let pairs = |night: &Night| {
            let season = book.seasons.get(&night.season);
            night.event.holes == HoleCount::Nine && season.is_some_and(|season| season.handicap.nines == Nines::Pair)
        };
        night.is_some_and(pairs) && figures.differential.is_some()
    };
    let nines: Vec<&Figures> = record.figures.iter().filter(is_nine).collect();
    let own = nines.iter().position(|figures| figures.round == entry.id)?;
    // Firsts and seconds of pairs take turns.
    (own % 2 == 1).then(|| nines[own - 1].differential).flatten()
}

fn differential(
    steps: &mut Steps,
    (night, nines): (&Night, Nines),
    figures: &Figures,
    after: &MemberRecord,
    waiting: Option<Exact>,
) {
    let Some(own) = figures.differential else { return };
    let whole_differential = match (night.event.holes, waiting) {
        (HoleCount::Nine, _) if nines == Nines::Double => {
            let rule = "A nine-hole differential counts twice (league rule).";
            steps.add("record_differential", rule, "2 * differential", vec![], own * whole(2));
            own * whole(2)
        }
        (HoleCount::Eighteen, _) => {
            steps.add("record_differential", "An 18-hole differential stands alone.", "differential", vec![], own);
            own
        }
        (HoleCount::Nine, Some(first)) => {
            let rule = "Two nine-hole differentials make one (league rule: in order, dated at the second).";
            let values = vec![("first_nine", Given::Number(first))];
            steps.add("record_differential", rule, "first_nine + differential", values, first + own);
            first + own
        }
        (HoleCount::Nine, None) => {
            steps.notes.push("The nine-hole differential waits for another to make one of 18 holes.");
            return;
        }
    };
    let rounded = round_tenth(whole_differential);
    let rule = "Rounded to a tenth (Rules of Handicapping, Rule 5.1).";
    steps.add("score_differential", rule, "round_tenth(record_differential)", vec![], rounded);
    let Some(latest) = after.latest else { return };
    if figures.handicap.league_index.is_some() {
        let rule = "An exceptional score lowers the latest 20 differentials, this one too (Rules of Handicapping, Rule \
                    5.9).";
        let formula = "0 - at_least(league_index - record_differential, 7) - at_least(league_index - \
                       record_differential, 10)";
        steps.add("reduction", rule, formula, vec![], latest.reduction);
    }
    index_of(steps, after, &AFTERWARDS);
}
