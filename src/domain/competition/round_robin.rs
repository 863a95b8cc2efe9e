//! Round robins: fixtures in which every team meets every other once.

use std::collections::BTreeMap;
use std::fmt;

/// The number that stands for the bye: teams are numbered from 1.
pub const BYE: usize = 0;

/// The matches of one round, the home side first.
pub type Round = Vec<(usize, usize)>;

/// Returns the Berger table; in an odd field whoever meets [`BYE`] rests.
///
/// # Formula
/// ```text
/// N: teams, made even. Round 1: 1–N, 2–(N−1), …
/// each round everybody but N moves on by N/2 (mod N−1); N changes sides
/// ```
///
/// # Source
/// FIDE Handbook C.05, annex 1.
pub fn berger(teams: usize) -> Vec<Round> {
    let even = teams + teams % 2;
    if teams < 2 {
        return Vec::new();
    }
    let moving = even - 1;
    (0..moving)
        .map(|round| {
            let moved = |team: usize| (team - 1 + round * even / 2) % moving + 1;
            let last = if even == teams { even } else { BYE };
            let first = if round % 2 == 0 { (moved(1), last) } else { (last, moved(1)) };
            std::iter::once(first).chain((2..=even / 2).map(|n| (moved(n), moved(even + 1 - n)))).collect()
        })
        .collect()
}

/// Returns a round robin by the circle method: team 1 stays, the rest turn clockwise one place a round.
///
/// # Formula
/// ```text
/// two rows, 1 2 3 … over N … : the columns are the matches
/// ```
///
/// # Source
/// The circle method; common practice.
pub fn circle(teams: usize) -> Vec<Round> {
    let even = teams + teams % 2;
    if teams < 2 {
        return Vec::new();
    }
    let mut seats: Vec<usize> = (1..=even).map(|team| if team > teams { BYE } else { team }).collect();
    (1..even)
        .map(|_| {
            let round = (0..even / 2).map(|seat| (seats[seat], seats[even - 1 - seat])).collect();
            seats[1..].rotate_right(1);
            round
        })
        .collect()
}

/// Returns a round robin played twice: the second time with sides reversed.
///
/// The last two rounds of the first half change places, so that by the Berger table nobody has three in a row on one side.
///
/// # Source
/// FIDE Handbook C.05, annex 1.
pub fn twice(once: &[Round]) -> Vec<Round> {
    let mut first = once.to_vec();
    if let [.., last_but_one, last] = first.as_mut_slice() {
        std::mem::swap(last_but_one, last);
    }
    let reversed = |round: &Round| round.iter().map(|&(home, away)| (away, home)).collect();
    first.into_iter().chain(once.iter().map(reversed)).collect()
}

/// What keeps fixtures from being a single round robin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// A match names a team that doesn't exist.
    UnknownTeam {
        /// The round, from 1.
        round: usize,
        /// The team.
        team: usize,
    },
    /// A team meets itself, or the bye meets itself.
    AgainstItself {
        /// The round, from 1.
        round: usize,
        /// The team.
        team: usize,
    },
    /// A team has no match, or several, in a round.
    Appearances {
        /// The round, from 1.
        round: usize,
        /// The team.
        team: usize,
        /// Its matches in that round.
        times: usize,
    },
    /// Two teams don't meet exactly once.
    Meetings {
        /// The lower team.
        a: usize,
        /// The higher team.
        b: usize,
        /// How often they meet.
        times: usize,
    },
    /// A team hasn't as many byes as it should: one in an odd field, none in an even one.
    Byes {
        /// The team.
        team: usize,
        /// Its byes.
        times: usize,
    },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownTeam { round, team } => write!(f, "round {round}: there is no team {team}"),
            Self::AgainstItself { round, team: BYE } => write!(f, "round {round}: a bye meets a bye"),
            Self::AgainstItself { round, team } => write!(f, "round {round}: team {team} meets itself"),
            Self::Appearances { round, team, times } => {
                write!(f, "round {round}: team {team} appears {times} times instead of once")
            }
            Self::Meetings { a, b, times } => write!(f, "teams {a} and {b} meet {times} times instead of once"),
            Self::Byes { team, times } => write!(f, "team {team} has {times} byes"),
        }
    }
}

/// Checks that fixtures are a single round robin: every pair once, every team once a round, one bye each in an odd field.
///
/// Published tables have failed this, so any table is worth checking.
pub fn check_round_robin(rounds: &[Round], teams: usize) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut meetings: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (round, matches) in (1..).zip(rounds) {
        let mut appearances = vec![0; teams + 1];
        for &(home, away) in matches {
            let unknown = [home, away].into_iter().find(|&team| team > teams);
            if let Some(team) = unknown {
                faults.push(Fault::UnknownTeam { round, team });
                continue;
            }
            if home == away {
                faults.push(Fault::AgainstItself { round, team: home });
                continue;
            }
            appearances[home] += 1;
            appearances[away] += 1;
            *meetings.entry((home.min(away), home.max(away))).or_default() += 1;
        }
        let astray = appearances.iter().enumerate().skip(1).filter(|(_, times)| **times != 1);
        faults.extend(astray.map(|(team, &times)| Fault::Appearances { round, team, times }));
    }
    let times = |a, b| meetings.get(&(a, b)).copied().unwrap_or(0);
    for team in 1..=teams {
        if times(BYE, team) != teams % 2 {
            faults.push(Fault::Byes { team, times: times(BYE, team) });
        }
        let met = (team + 1..=teams).map(|other| Fault::Meetings { a: team, b: other, times: times(team, other) });
        faults.extend(met.filter(|fault| !matches!(fault, Fault::Meetings { times: 1, .. })));
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_berger_table_of_four_is_the_published_one() {
        assert_eq!(berger(4), [[(1, 4), (2, 3)], [(4, 3), (1, 2)], [(2, 4), (3, 1)]]);
        assert_eq!(berger(3), [[(1, 0), (2, 3)], [(0, 3), (1, 2)], [(2, 0), (3, 1)]]);
    }

    #[test]
    fn the_circle_turns_clockwise_round_team_one() {
        assert_eq!(circle(4), [[(1, 4), (2, 3)], [(1, 3), (4, 2)], [(1, 2), (3, 4)]]);
    }

    #[test]
    fn one_team_has_nobody_to_meet() {
        assert!(berger(1).is_empty() && berger(0).is_empty() && circle(1).is_empty() && circle(0).is_empty());
    }

    #[test]
    fn twice_round_everybody_meets_once_on_either_side_and_never_has_three_in_a_row_on_one() {
        for teams in 2..=40 {
            let rounds = twice(&berger(teams));
            let (first, second) = rounds.split_at(rounds.len() / 2);
            assert_eq!(check_round_robin(first, teams), []);
            assert_eq!(check_round_robin(second, teams), []);
            let mut pairs: Vec<_> = rounds.iter().flatten().collect();
            pairs.sort_unstable();
            pairs.dedup();
            assert_eq!(pairs.len(), rounds.iter().map(Vec::len).sum::<usize>(), "a pair on the same sides twice");
            for team in 1..=teams {
                let home = |round: &Round| round.iter().any(|&(home, _)| home == team);
                let sides: Vec<bool> = rounds.iter().map(home).collect();
                // A bye is no side, so only a field without one keeps this.
                let in_a_row = sides.windows(3).any(|three| three[0] == three[1] && three[1] == three[2]);
                assert!(teams % 2 == 1 || teams == 2 || !in_a_row, "team {team} of {teams}: {sides:?}");
            }
        }
    }

    #[test]
    fn every_fault_is_named() {
        fn check(rounds: &[Round], teams: usize, expect: &[&str]) {
            let found: Vec<_> = check_round_robin(rounds, teams).iter().map(Fault::to_string).collect();
            assert_eq!(found, expect);
        }
        check(&[vec![(1, 2)]], 2, &[]);
        check(&[vec![(2, 1)], vec![(1, 2)]], 2, &["teams 1 and 2 meet 2 times instead of once"]);
        check(
            &[vec![(1, 1), (0, 0), (3, 2)]],
            2,
            &[
                "round 1: team 1 meets itself",
                "round 1: a bye meets a bye",
                "round 1: there is no team 3",
                "round 1: team 1 appears 0 times instead of once",
                "round 1: team 2 appears 0 times instead of once",
                "teams 1 and 2 meet 0 times instead of once",
            ],
        );
        check(
            &[vec![(1, 2)], vec![(0, 2)]],
            2,
            &["round 2: team 1 appears 0 times instead of once", "team 2 has 1 byes"],
        );
    }
}
