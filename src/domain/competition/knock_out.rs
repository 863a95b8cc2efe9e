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
/// use evenfield::domain::competition::knock_out::draw;
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
}
