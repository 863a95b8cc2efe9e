//! Sides of fixtures that earlier fixtures decide.

use crate::facts::{Competitor, Contender, Fixture};
use crate::ids::FixtureId;
use std::collections::{BTreeSet, HashMap, HashSet};

/// Returns the places of fixtures in an order in which each stands after those that decide its sides. Those that wait for
/// themselves are left out.
pub fn in_order(fixtures: &[(FixtureId, &Fixture)]) -> Vec<usize> {
    let places: HashMap<FixtureId, usize> = fixtures.iter().enumerate().map(|(n, (id, _))| (*id, n)).collect();
    let mut open = vec![0_usize; fixtures.len()];
    let mut awaited: Vec<Vec<usize>> = vec![Vec::new(); fixtures.len()];
    for (n, (_, fixture)) in fixtures.iter().enumerate() {
        for decides in fixture.waits_for().filter_map(|id| places.get(&id)) {
            open[n] += 1;
            awaited[*decides].push(n);
        }
    }
    let mut order: Vec<usize> = (0..fixtures.len()).filter(|n| open[*n] == 0).collect();
    let mut done = 0;
    while let Some(decides) = order.get(done) {
        done += 1;
        for next in std::mem::take(&mut awaited[*decides]) {
            open[next] -= 1;
            if open[next] == 0 {
                order.push(next);
            }
        }
    }
    order
}

/// Returns whether a fixture waits for itself, through others.
pub fn waits_for_itself<'f>(
    id: FixtureId,
    fixture: &Fixture,
    fixtures: impl Fn(FixtureId) -> Option<&'f Fixture>,
) -> bool {
    let mut left: Vec<FixtureId> = fixture.waits_for().collect();
    let mut been = HashSet::new();
    while let Some(next) = left.pop() {
        if next == id {
            return true;
        }
        if been.insert(next) {
            left.extend(fixtures(next).into_iter().flat_map(Fixture::waits_for));
        }
    }
    false
}

/// Returns everybody who may come to stand on one of some sides.
pub fn candidates<'f>(
    sides: impl IntoIterator<Item = Contender>,
    fixtures: impl Fn(FixtureId) -> Option<&'f Fixture>,
) -> BTreeSet<Competitor> {
    let mut left: Vec<Contender> = sides.into_iter().collect();
    let (mut been, mut found) = (HashSet::new(), BTreeSet::new());
    while let Some(side) = left.pop() {
        match (side.named(), side.waits_for()) {
            (Some(competitor), _) => {
                found.insert(competitor);
            }
            (None, Some(decides)) if been.insert(decides) => {
                left.extend(fixtures(decides).into_iter().flat_map(Fixture::sides).flatten());
            }
            (None, _) => {}
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{EventId, MemberId};
    use uuid::Uuid;

    fn id(n: u128) -> FixtureId {
        FixtureId(Uuid::from_u128(n))
    }

    fn member(n: u128) -> Contender {
        Contender::Named(Competitor::Member { member_id: MemberId(Uuid::from_u128(n)) })
    }

    fn fixture(a: Contender, b: Contender) -> Fixture {
        Fixture::new(EventId(Uuid::nil()), Some(a), Some(b))
    }

    fn winner(n: u128) -> Contender {
        Contender::WinnerOf { winner_of: id(n) }
    }

    /// The final 1 of two semi-finals 2 and 3, the match 4 of those who lost them.
    fn cup() -> Vec<(FixtureId, Fixture)> {
        let loser = |n| Contender::LoserOf { loser_of: id(n) };
        vec![
            (id(1), fixture(winner(2), winner(3))),
            (id(2), fixture(member(11), member(12))),
            (id(4), fixture(loser(2), loser(3))),
            (id(3), fixture(member(13), member(14))),
        ]
    }

    #[test]
    fn each_fixture_stands_after_those_that_decide_its_sides() {
        let cup = cup();
        let listed: Vec<(FixtureId, &Fixture)> = cup.iter().map(|(id, fixture)| (*id, fixture)).collect();
        let order: Vec<u128> = in_order(&listed).into_iter().map(|n| listed[n].0.0.as_u128()).collect();
        assert_eq!(order, [2, 3, 1, 4]);
        assert_eq!(in_order(&listed[..1]), [0], "what is not there is not waited for");
    }

    #[test]
    fn a_circle_is_found_and_left_out() {
        let of = |n: FixtureId| move |(id, _): &&(FixtureId, Fixture)| *id == n;
        let mut cup = cup();
        let find = |cup: &[(FixtureId, Fixture)], n| cup.iter().find(of(n)).map(|(_, fixture)| fixture.clone());
        assert!(!waits_for_itself(id(1), &cup[0].1, |n| cup.iter().find(of(n)).map(|(_, fixture)| fixture)));
        cup[1].1.b = Some(winner(1));
        let semi = find(&cup, id(2)).unwrap();
        assert!(waits_for_itself(id(2), &semi, |n| cup.iter().find(of(n)).map(|(_, fixture)| fixture)));
        let listed: Vec<(FixtureId, &Fixture)> = cup.iter().map(|(id, fixture)| (*id, fixture)).collect();
        assert_eq!(in_order(&listed), [3]);
    }

    #[test]
    fn whoever_may_come_is_found_once() {
        let cup = cup();
        let of = |n: FixtureId| cup.iter().find(|(id, _)| *id == n).map(|(_, fixture)| fixture);
        let mut expect: Vec<Competitor> = (11..=14).filter_map(|n| member(n).named()).collect();
        expect.sort_unstable();
        assert_eq!(candidates([winner(1), winner(2)], of).into_iter().collect::<Vec<_>>(), expect);
        assert_eq!(candidates([winner(9)], of).len(), 0);
    }
}
