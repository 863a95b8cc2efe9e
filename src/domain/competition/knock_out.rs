//! The draw of a knock-out: who meets whom in the first round, by seed.

use super::round_robin::BYE;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draw {
    /// Sides and byes together: a power of two.
    pub size: usize,
    /// Rounds until one side is left.
    pub rounds: u32,
    /// The first round, the better seed first; winners of neighbouring pairs meet next.
    pub first_round: Vec<(usize, usize)>,
}

/// Draws the first round: the best seed meets the lowest, so that good seeds meet as late as they can; the best have byes.
///
/// # Formula
/// ```text
/// size: the least power of two that takes all
/// the draw of one side is [1]; in the draw of n sides each seed s becomes the pair s, 2n + 1 − s of that of 2n
/// a number beyond the sides is a bye
/// ```
///
/// # Source
/// Common practice, no source.
///
/// # Examples
/// ```
/// use evenfield_domain::competition::knock_out::draw;
/// assert_eq!(draw(8).first_round, [(1, 8), (4, 5), (2, 7), (3, 6)]);
/// ```
pub fn draw(sides: usize) -> Draw {
    let size = sides.next_power_of_two();
    let mut seeds = vec![1];
    let mut first_round = Vec::new();
    while seeds.len() < size {
        let doubled = 2 * seeds.len();
        first_round = seeds.iter().map(|&seed| (seed, doubled + 1 - seed)).collect();
        seeds = first_round.iter().flat_map(|&(better, other)| [better, other]).collect();
    }
    for (_, other) in &mut first_round {
        if *other > sides {
            *other = BYE;
        }
    }
    Draw { size, rounds: size.ilog2(), first_round }
}

/// Who stands on a side of a match of a bracket; matches by their place in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slot {
    /// By the number of the seed, from 1.
    Seed(usize),
    WinnerOf(usize),
    LoserOf(usize),
}

/// Which part of a bracket a match belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    Main,
    ThirdPlace,
    /// Among those who lost their first match in the first round.
    Consolation,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BracketMatch {
    pub part: Part,
    /// The round, from 0.
    pub round: u32,
    /// Which of the matches of its part in this round it is, from 1.
    pub number: usize,
    /// How many these are.
    pub of: usize,
    pub a: Slot,
    pub b: Slot,
}

/// What is played beside the main draw.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Beside {
    pub third_place: bool,
    pub consolation: bool,
}

/// Makes all matches of a knock-out, each after those that it waits for. A side with a bye goes straight into the next round.
///
/// The match for third place is played in the round of the final, between those who lost the two matches before it: with
/// fewer than four sides there is none. The consolation is a knock-out of those who lost in the first round, in the order of
/// the draw, from the second round on.
///
/// # Source
/// Common practice, no source.
pub fn bracket(sides: usize, beside: Beside) -> Vec<BracketMatch> {
    let seed = |n: usize| (n != BYE).then_some(Slot::Seed(n));
    let draw = draw(sides);
    let mut matches: Vec<BracketMatch> = Vec::new();
    let mut main: Vec<[Option<Slot>; 2]> = draw.first_round.iter().map(|(a, b)| [seed(*a), seed(*b)]).collect();
    let (mut consolation, mut lost) = (Vec::new(), Vec::new());
    for round in 0..draw.rounds {
        let is_last = round + 1 == draw.rounds;
        let go_on = play(&mut matches, Part::Main, round, &main);
        if let ([Some(a), Some(b)], true, true) = (&lost[..], is_last, beside.third_place) {
            matches.push(BracketMatch { part: Part::ThirdPlace, round, of: 1, number: 1, a: *a, b: *b });
        }
        let still_in = play(&mut matches, Part::Consolation, round, &consolation);
        lost = go_on.iter().map(|slot| slot.and_then(Slot::other)).collect();
        consolation = in_pairs(if beside.consolation && round == 0 { &lost } else { &still_in });
        main = in_pairs(&go_on);
    }
    matches
}

impl Slot {
    /// Returns who lost what this side won.
    fn other(self) -> Option<Self> {
        if let Self::WinnerOf(n) = self { Some(Self::LoserOf(n)) } else { None }
    }
}

/// Adds the matches of a round, and returns who goes on from each pair.
fn play(matches: &mut Vec<BracketMatch>, part: Part, round: u32, pairs: &[[Option<Slot>; 2]]) -> Vec<Option<Slot>> {
    let of = pairs.iter().filter(|pair| pair.iter().all(Option::is_some)).count();
    let mut number = 0;
    let mut go_on = Vec::with_capacity(pairs.len());
    for pair in pairs {
        go_on.push(match *pair {
            [Some(a), Some(b)] => {
                number += 1;
                matches.push(BracketMatch { part, round, of, number, a, b });
                Some(Slot::WinnerOf(matches.len() - 1))
            }
            [one, other] => one.or(other),
        });
    }
    go_on
}

fn in_pairs(slots: &[Option<Slot>]) -> Vec<[Option<Slot>; 2]> {
    if slots.len() < 2 {
        return Vec::new();
    }
    slots.chunks(2).map(|pair| [pair[0], pair.get(1).copied().flatten()]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_side_has_nobody_to_meet() {
        assert_eq!(draw(1), Draw { size: 1, rounds: 0, first_round: vec![] });
        assert_eq!(draw(2), Draw { size: 2, rounds: 1, first_round: vec![(1, 2)] });
    }

    #[test]
    fn the_best_seeds_have_the_byes_and_everybody_is_drawn_once() {
        for sides in 2..=130 {
            let draw = draw(sides);
            let mut drawn: Vec<usize> = draw.first_round.iter().flat_map(|&(a, b)| [a, b]).collect();
            drawn.sort_unstable();
            let byes = draw.size - sides;
            assert_eq!(drawn, [vec![BYE; byes], (1..=sides).collect()].concat(), "{sides} sides");
            let resting: Vec<usize> = (1..=byes).collect();
            let mut found: Vec<usize> =
                draw.first_round.iter().filter(|(_, other)| *other == BYE).map(|(seed, _)| *seed).collect();
            found.sort_unstable();
            assert_eq!(found, resting, "{sides} sides");
        }
    }

    #[test]
    fn where_the_better_seed_always_wins_the_best_of_each_round_are_its_seeds() {
        for sides in 2..=130 {
            let mut standing: Vec<usize> = draw(sides).first_round.iter().map(|&(better, _)| better).collect();
            while standing.len() > 1 {
                let mut seeds = standing.clone();
                seeds.sort_unstable();
                assert_eq!(seeds, (1..=standing.len()).collect::<Vec<_>>(), "{sides} sides");
                standing = standing.chunks(2).map(|pair| pair[0].min(pair[1])).collect();
            }
            assert_eq!(standing, [1]);
        }
    }

    /// Plays a bracket in which the better seed always wins; returns winner and loser of each match.
    fn played(matches: &[BracketMatch]) -> Vec<(usize, usize)> {
        let mut ended: Vec<(usize, usize)> = Vec::new();
        for one in matches {
            let [a, b] = [one.a, one.b].map(|slot| match slot {
                Slot::Seed(n) => n,
                Slot::WinnerOf(n) => ended[n].0,
                Slot::LoserOf(n) => ended[n].1,
            });
            ended.push((a.min(b), a.max(b)));
        }
        ended
    }

    #[test]
    fn all_but_one_lose_once_in_the_main_draw_and_good_seeds_play_for_the_places() {
        for sides in 2..=130 {
            let matches = bracket(sides, Beside { third_place: true, consolation: false });
            let ended = played(&matches);
            let main: Vec<usize> = (0..matches.len()).filter(|n| matches[*n].part == Part::Main).collect();
            let mut lost: Vec<usize> = main.iter().map(|n| ended[*n].1).collect();
            lost.sort_unstable();
            assert_eq!(lost, (2..=sides).collect::<Vec<_>>(), "{sides} sides");
            let last = draw(sides).rounds - 1;
            let finals: Vec<_> = (0..matches.len()).filter(|n| matches[*n].round == last).map(|n| ended[n]).collect();
            assert_eq!(finals, if sides < 4 { vec![(1, 2)] } else { vec![(1, 2), (3, 4)] }, "{sides} sides");
        }
    }

    #[test]
    fn whoever_lost_in_the_first_round_plays_on_until_one_is_left() {
        for sides in 4..=130 {
            let matches = bracket(sides, Beside { third_place: false, consolation: true });
            let ended = played(&matches);
            let lost = |part, first: bool| {
                let found =
                    matches.iter().zip(&ended).filter(|(one, _)| one.part == part && (!first || one.round == 0));
                let mut lost: Vec<usize> = found.map(|(_, (_, lost))| *lost).collect();
                lost.sort_unstable();
                lost
            };
            let (out, again) = (lost(Part::Main, true), lost(Part::Consolation, false));
            assert_eq!(again, out[1..], "{sides} sides");
            let rounds = draw(sides).rounds;
            assert!(matches.iter().all(|one| one.round < rounds));
            assert!(matches.iter().filter(|one| one.part == Part::Consolation).all(|one| one.round > 0));
        }
    }

    #[test]
    fn a_match_stands_after_those_that_it_waits_for() {
        let matches = bracket(6, Beside { third_place: true, consolation: true });
        let line = |one: &BracketMatch| {
            format!("{:?} {} {}/{} {:?} {:?}", one.part, one.round, one.number, one.of, one.a, one.b)
        };
        let expect = [
            "Main 0 1/2 Seed(4) Seed(5)",
            "Main 0 2/2 Seed(3) Seed(6)",
            "Main 1 1/2 Seed(1) WinnerOf(0)",
            "Main 1 2/2 Seed(2) WinnerOf(1)",
            "Main 2 1/1 WinnerOf(2) WinnerOf(3)",
            "ThirdPlace 2 1/1 LoserOf(2) LoserOf(3)",
            "Consolation 2 1/1 LoserOf(0) LoserOf(1)",
        ];
        assert_eq!(matches.iter().map(line).collect::<Vec<_>>(), expect);
    }
}
