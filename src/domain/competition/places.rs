//! Places in a ranking, and points shared between tied players.

use crate::exact::{Exact, whole};
use std::cmp::Ordering;
use std::collections::HashMap;

/// An entry of a ranking.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Which of the items ranked this is.
    pub item: usize,
    /// Its place, from 1; equal items share the better one: 1, 2, 2, 4.
    pub place: usize,
}

/// Ranks items, best first; equal ones keep their order and share a place.
///
/// `compare` puts the better item first.
///
/// # Examples
/// ```
/// use evenfield_domain::competition::places::rank_by;
/// let places: Vec<_> = rank_by(&[71, 68, 71, 75], Ord::cmp).iter().map(|placed| placed.place).collect();
/// assert_eq!(places, [1, 2, 2, 4]);
/// ```
pub fn rank_by<T>(items: &[T], compare: impl Fn(&T, &T) -> Ordering) -> Vec<Placed> {
    let mut order: Vec<usize> = (0..items.len()).collect();
    order.sort_by(|&a, &b| compare(&items[a], &items[b]));
    let mut ranked: Vec<Placed> = Vec::with_capacity(order.len());
    for (before, item) in order.into_iter().enumerate() {
        let tied = ranked.last().filter(|last| compare(&items[last.item], &items[item]).is_eq());
        let place = tied.map_or(before + 1, |last| last.place);
        ranked.push(Placed { item, place });
    }
    ranked
}

/// Returns the points of each place: tied players share the sum of the places that they occupy equally and exactly.
///
/// # Formula
/// ```text
/// c players at place p: (table[p] + … + table[p + c − 1]) / c     places beyond the table: 0
/// ```
///
/// # Shape
/// `places` in any order; the answer in the same.
///
/// # Source
/// Published point system, pcga.ca/point-system (tied 2nd and 3rd, worth 460 and 420: 440 each).
pub fn share_points(table: &[Exact], places: &[usize]) -> Vec<Exact> {
    let mut sharing: HashMap<usize, usize> = HashMap::new();
    for place in places {
        *sharing.entry(*place).or_default() += 1;
    }
    let shares: HashMap<usize, Exact> = sharing
        .into_iter()
        .map(|(place, players)| {
            let occupied = table.iter().skip(place.saturating_sub(1)).take(players);
            (place, occupied.sum::<Exact>() / whole(players as i128))
        })
        .collect();
    places.iter().map(|place| shares[place]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_items_share_the_better_place_in_their_given_order() {
        fn check(items: &[i32], expect: &[(usize, usize)]) {
            let found: Vec<_> = rank_by(items, Ord::cmp).iter().map(|placed| (placed.item, placed.place)).collect();
            assert_eq!(found, expect);
        }
        check(&[71, 68, 71, 75], &[(1, 1), (0, 2), (2, 2), (3, 4)]);
        check(&[5, 5, 5], &[(0, 1), (1, 1), (2, 1)]);
        check(&[], &[]);
    }

    #[test]
    fn tied_players_share_the_places_that_they_occupy() {
        fn check(table: &[i32], places: &[usize], expect: &[Exact]) {
            let table: Vec<_> = table.iter().map(|&points| whole(points)).collect();
            assert_eq!(share_points(&table, places), expect);
        }
        check(&[500, 460, 420, 380], &[1, 2, 2, 4], &[500, 440, 440, 380].map(|n: i32| whole(n)));
        check(&[10], &[1, 1, 1], &[Exact::new(10, 3); 3]);
        check(&[10], &[2, 1], &[whole(0), whole(10)]);
        check(&[], &[1], &[whole(0)]);
    }
}
