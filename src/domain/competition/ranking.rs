//! Places and values in one event.

use super::ball::{Ball, ball};
use super::better::Better;
use super::places::{rank_by, share_points};
use super::skins::{Skins, Unwon, skins};
use crate::exact::{Exact, whole};
use crate::facts::Outcome;
use crate::facts::competition::{Award, Competition, LastHole, Meeting};
use crate::ids::{CompetitionId, MemberId};
use crate::season::book::{Book, Night};
use crate::season::figures::Figures;
use num_traits::Zero;
use std::collections::{BTreeMap, HashMap};

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

/// Ranks the rounds of one event, where the terms say so of those who entered, each flight that they name apart, best first; those without a result come last. After
/// a staggered start an event is worth the score to par. A void event has no places and no values, nor has one that makes a result with others: see `together`.
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
    let Some(terms) = book.terms(night, id).filter(|terms| terms.counts_event(night.id)) else { return Vec::new() };
    let mut fields: BTreeMap<Option<&str>, Vec<&'a Figures>> = BTreeMap::new();
    let is_in = |round: &&Figures| book.is_ranked(night.id, (id, terms), round.member);
    for round in figures.into_iter().filter(is_in) {
        if let Some(part) = part(terms, round.flight.as_deref()) {
            fields.entry(part).or_default().push(round);
        }
    }
    let placed = |mut field: Vec<&'a Figures>| {
        field.sort_by_key(|round| round.member);
        match &terms.meeting {
            _ if night.event.is_void() || terms.counts_with_others(night.id) => unplaced(book, night, terms, field),
            Meeting::Sum { of } => added_up(book, night, terms, of, &field),
            Meeting::Season {} | Meeting::Match(_) => unplaced(book, night, terms, field),
            Meeting::Field {} => ranked(terms, balls(book, night, terms, field)),
            Meeting::Hole { .. } => by_hole(terms, balls(book, night, terms, field)),
        }
    };
    let weight = terms.weight_of(night.id);
    let worth = |placed: &Placed<'a>| {
        let to_par = terms.start.as_ref().and_then(|_| par_of(book, night, placed.figures)).unwrap_or_default();
        placed.value.map(|value| (value - to_par) * weight)
    };
    let weighted = |placed: Placed<'a>| Placed { value: worth(&placed), ..placed };
    fields.into_values().flat_map(placed).map(weighted).collect()
}

/// Returns the par of the holes that a card was played over.
pub fn par_of(book: &Book, night: &Night, figures: &Figures) -> Option<Exact> {
    Some(whole(book.layout(night, figures.tee)?.par()))
}

/// Shows the rounds of an event that no competition ranks.
pub fn unranked<'a>(
    book: &Book,
    night: &Night,
    terms: &Competition,
    figures: impl IntoIterator<Item = &'a Figures>,
) -> Vec<Placed<'a>> {
    let mut field: Vec<&Figures> = figures.into_iter().collect();
    field.sort_by_key(|round| round.member);
    unplaced(book, night, terms, field)
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

pub(super) fn ranked<'a>(terms: &Competition, field: Vec<(&'a Figures, Ball)>) -> Vec<Placed<'a>> {
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
pub(super) fn better_of(book: &Book, terms: &Competition) -> Better {
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
    let has_values = |id: &&CompetitionId| {
        book.terms(night, **id).is_some_and(|terms| terms.values_events() && terms.counts_event(night.id))
    };
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
