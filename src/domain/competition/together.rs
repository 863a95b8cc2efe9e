//! Several events that make one result: 36 holes, or the better of two nights.

use super::ball::{Ball, ball};
use super::better::Better;
use super::ranking::{Placed, part, ranked};
use crate::exact::Exact;
use crate::facts::competition::Competition;
use crate::facts::counted_events::Take;
use crate::ids::{CompetitionId, EventId, MemberId};
use crate::season::book::{Book, Night};
use crate::season::figures::Figures;
use std::collections::{BTreeMap, HashMap};

/// What several events are worth together.
#[derive(Clone, Debug)]
pub struct Together<'a> {
    /// The latest of them that somebody has a card in.
    pub night: &'a Night,
    /// Each player's result, with the cards behind it.
    pub placed: Vec<(Placed<'a>, Vec<&'a Figures>)>,
}

/// Ranks the results of those of `nights`, in their order, that count together.
///
/// A result is of the events up to the latest that anybody has a card in. In a sum of strokes a player needs a card with a
/// result in each of them; of anything else there is the sum of what there is. The best of several is that of the cards
/// that are there. Each flight that the terms name is ranked apart.
///
/// # Source
/// Common practice, no source.
pub fn results_together<'a>(
    book: &'a Book,
    (id, terms): (CompetitionId, &Competition),
    nights: &[&'a Night],
    cards: &HashMap<EventId, Vec<&'a Figures>>,
) -> Vec<Together<'a>> {
    let has_cards = |night: &Night| cards.get(&night.id).is_some_and(|cards| !cards.is_empty());
    let mut results = Vec::new();
    for counted in terms.events.iter().flatten() {
        let of_result: Vec<&Night> =
            nights.iter().copied().filter(|night| counted.event_ids.contains(&night.id)).collect();
        let Some(last) = of_result.iter().rposition(|night| has_cards(night)) else { continue };
        let of_result = &of_result[..=last];
        let ranked_by = book.terms(of_result[last], id).unwrap_or(terms);
        let mut players: BTreeMap<MemberId, Vec<(&'a Figures, Ball)>> = BTreeMap::new();
        for night in of_result {
            let by = book.terms(night, id).unwrap_or(terms);
            for figures in cards.get(&night.id).into_iter().flatten() {
                if let Some(ball) = ball(book, night, by, figures) {
                    players.entry(figures.member).or_default().push((figures, ball));
                }
            }
        }
        let mut behind: HashMap<MemberId, Vec<&'a Figures>> = HashMap::new();
        let mut fields: BTreeMap<Option<&'a str>, Vec<(&'a Figures, Ball)>> = BTreeMap::new();
        for (member, balls) in players {
            let Some((latest, ball)) = balls.last().cloned() else { continue };
            let Some(part) = part(ranked_by, latest.flight.as_deref()) else { continue };
            let scores = balls.iter().map(|(_, ball)| ball.score).collect::<Vec<_>>();
            let score = score_of(&scores, of_result.len(), counted.take, ranked_by.score.better());
            let whole = Ball { holes: Vec::new(), score, countback: Vec::new(), ..ball };
            behind.insert(member, balls.into_iter().map(|(figures, _)| figures).collect());
            fields.entry(part).or_default().push((latest, whole));
        }
        let placed = fields.into_values().flat_map(|field| ranked(ranked_by, field)).map(|placed| {
            let cards = behind.remove(&placed.figures.member).unwrap_or_default();
            (Placed { value: placed.value.map(|value| value * counted.weight.0), ..placed }, cards)
        });
        results.push(Together { placed: placed.collect(), night: of_result[last] });
    }
    results
}

/// Returns what the cards of a player are worth together over so many events; `None`: no result.
fn score_of(scores: &[Option<Exact>], events: usize, take: Take, better: Better) -> Option<Exact> {
    let there = || scores.iter().copied().flatten();
    match (take, better) {
        (Take::Best, _) => there().min_by(|a, b| better.compare(a, b)),
        (Take::Sum, Better::Lower) => (there().count() == events).then(|| there().sum()),
        (Take::Sum, Better::Higher) => there().next().map(|_| there().sum()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::whole;

    #[test]
    fn several_cards_are_one_score() {
        let check = |scores: &[Option<i64>], take, better, expect: Option<i64>| {
            let scores: Vec<Option<Exact>> = scores.iter().map(|score| score.map(whole)).collect();
            assert_eq!(score_of(&scores, 2, take, better), expect.map(whole), "{scores:?} {take:?} {better:?}");
        };
        check(&[Some(72), Some(75)], Take::Sum, Better::Lower, Some(147));
        check(&[Some(72)], Take::Sum, Better::Lower, None);
        check(&[Some(72), None], Take::Sum, Better::Lower, None);
        check(&[Some(36), None], Take::Sum, Better::Higher, Some(36));
        check(&[None, None], Take::Sum, Better::Higher, None);
        check(&[Some(72), Some(75)], Take::Best, Better::Lower, Some(72));
        check(&[Some(30), Some(36)], Take::Best, Better::Higher, Some(36));
        check(&[Some(75), None], Take::Best, Better::Lower, Some(75));
    }
}
