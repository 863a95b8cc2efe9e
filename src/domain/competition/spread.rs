//! Bays and slots for the matches of a round robin, as even for every team as a fixed search finds.

use super::round_robin::{BYE, Round};

/// Where and when a match of a round is played; both from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    pub bay: usize,
    /// The slot: matches of one slot are played at the same time.
    pub slot: usize,
}

/// The places of a schedule, and how uneven they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spread {
    /// One a match, round by round; a bye has none.
    pub places: Vec<Vec<Option<Place>>>,
    /// For the team that fares worst: how much oftener it has one bay than another.
    pub bays_apart: usize,
    /// The same for slots.
    pub slots_apart: usize,
}

/// The descents that are tried.
const STARTS: usize = 60;
/// The most exchanges that are looked at; the descent under way is finished.
const MOST_TRIES: usize = 300_000;

/// Spreads the matches of each round over `bays` bays, in as few slots as hold them.
///
/// The search is the same each time: sixty descents from shuffled starts (fewer for many teams), each exchanging the places
/// of two matches of a round as long as that makes the places of the teams more even. The best one is taken; a more even
/// one may exist.
///
/// # Formula
/// ```text
/// made small: Σ over teams, of the squares of how often each has each bay and each slot
/// ```
///
/// # Source
/// evenfield's own.
pub fn spread(rounds: &[Round], bays: usize) -> Spread {
    let mut chance = Chance(1);
    let mut tries = 0;
    let mut best: Option<(Fairness, Draft)> = None;
    for _ in 0..STARTS {
        let mut draft = Draft::shuffled(rounds, bays, &mut chance);
        while draft.improve(&mut tries) {}
        let fairness = draft.fairness();
        if best.as_ref().is_none_or(|(found, _)| fairness < *found) {
            best = Some((fairness, draft));
        }
        if tries >= MOST_TRIES {
            break;
        }
    }
    let (fairness, draft) = best.unwrap_or_else(|| (Fairness::default(), Draft::shuffled(&[], bays, &mut chance)));
    Spread { places: draft.places(rounds), bays_apart: fairness.bays_apart, slots_apart: fairness.slots_apart }
}

/// A fixed sequence of numbers that look like chance (Knuth's MMIX generator).
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % bound
    }
}

/// What is compared between drafts, in order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Fairness {
    worst: usize,
    bays_apart: usize,
    slots_apart: usize,
}

/// A schedule in the making.
struct Draft {
    rounds: Vec<Vec<Meeting>>,
    /// How often each team has each bay and each slot.
    bays: Vec<Vec<i32>>,
    slots: Vec<Vec<i32>>,
}

/// A match of a round with its place, which counts from 0.
#[derive(Clone, Copy)]
struct Meeting {
    teams: [usize; 2],
    bay: usize,
    slot: usize,
}

fn is_bye(pair: &(usize, usize)) -> bool {
    pair.0 == BYE || pair.1 == BYE
}

impl Draft {
    fn shuffled(rounds: &[Round], bays: usize, chance: &mut Chance) -> Self {
        let pairs = || rounds.iter().flatten().filter(|pair| !is_bye(pair));
        let teams = pairs().flat_map(|&(a, b)| [a, b]).max().map_or(0, |most| most + 1);
        let matches = rounds.iter().map(|round| round.iter().filter(|pair| !is_bye(pair)).count()).max().unwrap_or(0);
        let used = bays.min(matches).max(1);
        let mut draft = Self {
            rounds: Vec::with_capacity(rounds.len()),
            bays: vec![vec![0; used]; teams],
            slots: vec![vec![0; matches.div_ceil(used)]; teams],
        };
        for (n, round) in rounds.iter().enumerate() {
            let mut meetings: Vec<Meeting> = round
                .iter()
                .filter(|pair| !is_bye(pair))
                .enumerate()
                .map(|(place, &(a, b))| {
                    // A last slot that is not full uses other bays each round.
                    let turn = if place / used == matches / used { n * (matches % used) } else { 0 };
                    Meeting { teams: [a, b], bay: (place + turn) % used, slot: place / used }
                })
                .collect();
            for last in (1..meetings.len()).rev() {
                exchange(&mut meetings, last, chance.below(last + 1));
            }
            for meeting in &meetings {
                draft.count(*meeting, 1);
            }
            draft.rounds.push(meetings);
        }
        draft
    }

    fn count(&mut self, meeting: Meeting, by: i32) {
        for team in meeting.teams {
            self.bays[team][meeting.bay] += by;
            self.slots[team][meeting.slot] += by;
        }
    }

    /// Exchanges places where that helps; returns whether it did anywhere.
    fn improve(&mut self, tries: &mut usize) -> bool {
        let mut helped = false;
        for n in 0..self.rounds.len() {
            for second in 1..self.rounds[n].len() {
                for first in 0..second {
                    *tries += 1;
                    let (one, other) = (self.rounds[n][first], self.rounds[n][second]);
                    if self.gain(one, other) + self.gain(other, one) < 0 {
                        self.count(one, -1);
                        self.count(other, -1);
                        exchange(&mut self.rounds[n], first, second);
                        self.count(self.rounds[n][first], 1);
                        self.count(self.rounds[n][second], 1);
                        helped = true;
                    }
                }
            }
        }
        helped
    }

    /// Returns half of what the sum of squares gains if the first meeting takes the place of the second.
    fn gain(&self, meeting: Meeting, there: Meeting) -> i32 {
        let moved = |counts: &[i32], from: usize, to: usize| if from == to { 0 } else { counts[to] - counts[from] + 1 };
        let of_team = |team: usize| {
            moved(&self.bays[team], meeting.bay, there.bay) + moved(&self.slots[team], meeting.slot, there.slot)
        };
        meeting.teams.into_iter().map(of_team).sum()
    }

    fn fairness(&self) -> Fairness {
        let apart = |counts: &[Vec<i32>]| {
            let of_team =
                |counts: &Vec<i32>| counts.iter().max().zip(counts.iter().min()).map(|(most, least)| most - least);
            counts.iter().filter_map(of_team).max().unwrap_or(0).unsigned_abs() as usize
        };
        let (bays_apart, slots_apart) = (apart(&self.bays), apart(&self.slots));
        Fairness { worst: bays_apart.max(slots_apart), bays_apart, slots_apart }
    }

    fn places(&self, rounds: &[Round]) -> Vec<Vec<Option<Place>>> {
        let place = |meeting: &Meeting| Place { bay: meeting.bay + 1, slot: meeting.slot + 1 };
        let of_round = |(round, meetings): (&Round, &Vec<Meeting>)| {
            let mut meetings = meetings.iter();
            round.iter().map(|pair| if is_bye(pair) { None } else { meetings.next().map(place) }).collect()
        };
        rounds.iter().zip(&self.rounds).map(of_round).collect()
    }
}

/// Exchanges the places of two meetings; the meetings keep their order.
fn exchange(meetings: &mut [Meeting], a: usize, b: usize) {
    let (one, other) = (meetings[a], meetings[b]);
    (meetings[a].bay, meetings[a].slot) = (other.bay, other.slot);
    (meetings[b].bay, meetings[b].slot) = (one.bay, one.slot);
}

#[cfg(test)]
mod tests {
    use super::super::round_robin::{berger, circle, twice};
    use super::*;
    use std::collections::{BTreeMap, BTreeSet};

    /// Counts afresh what the schedule says of itself.
    fn check(rounds: &[Round], bays: usize) -> Spread {
        let found = spread(rounds, bays);
        let mut by_bay: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
        let mut by_slot = by_bay.clone();
        let mut slots = 0;
        let mut used = 0;
        for (round, places) in rounds.iter().zip(&found.places) {
            assert_eq!(round.len(), places.len());
            let mut taken = BTreeSet::new();
            for (&(a, b), place) in round.iter().zip(places) {
                assert_eq!(place.is_none(), a == BYE || b == BYE);
                let Some(place) = place else { continue };
                assert!((1..=bays).contains(&place.bay) && place.slot >= 1);
                assert!(taken.insert((place.slot, place.bay)), "two matches in one place");
                slots = slots.max(place.slot);
                used = used.max(place.bay);
                for team in [a, b] {
                    *by_bay.entry(team).or_default().entry(place.bay).or_default() += 1;
                    *by_slot.entry(team).or_default().entry(place.slot).or_default() += 1;
                }
            }
            assert_eq!(slots, taken.len().div_ceil(bays), "no more slots than it takes");
        }
        let apart = |counts: BTreeMap<usize, BTreeMap<usize, usize>>, places: usize| {
            let of_team = |counts: &BTreeMap<usize, usize>| {
                let of_place = |place| counts.get(&place).copied().unwrap_or(0);
                (1..=places).map(of_place).max().unwrap_or(0) - (1..=places).map(of_place).min().unwrap_or(0)
            };
            counts.values().map(of_team).max().unwrap_or(0)
        };
        assert_eq!((apart(by_bay, used), apart(by_slot, slots)), (found.bays_apart, found.slots_apart));
        found
    }

    #[test]
    fn bays_alone_are_at_most_two_apart() {
        for teams in [5, 6, 8, 10, 12] {
            for rounds in [berger(teams), circle(teams), twice(&berger(teams)), twice(&circle(teams))] {
                let found = check(&rounds, teams / 2);
                assert!(found.bays_apart <= 2, "{teams} teams: {}", found.bays_apart);
                assert_eq!(found.slots_apart, 0);
            }
        }
    }

    #[test]
    fn fewer_bays_take_more_slots_and_more_bays_stay_empty() {
        for teams in 2..=13 {
            for bays in 1..=teams / 2 + 2 {
                check(&berger(teams), bays);
            }
        }
        assert_eq!(check(&berger(8), 2).places[0].iter().flatten().map(|place| place.slot).max(), Some(2));
        assert_eq!(check(&berger(4), 9).bays_apart, 3, "four teams cannot do better than three apart");
    }

    #[test]
    fn nothing_to_spread_is_no_schedule() {
        assert_eq!(spread(&[], 3), Spread { places: vec![], bays_apart: 0, slots_apart: 0 });
    }

    #[test]
    fn many_teams_take_no_longer_than_the_search_may() {
        check(&twice(&circle(60)), 7);
    }
}
