//! Which holes of a card have putts, against the hole's score: were the records chosen?
//!
//! Honest: every choice of as many holes is alike, so the chance is exact and has no unknown. Unfair: the better the
//! hole, the likelier its putts are recorded.

use super::evidence::{State, Subject, ln_sum, no_digest, no_setup};
use super::readings::{HoleReading, RoundReadings};
use super::{Kind, Sizing};

pub(super) static KIND: Kind = Kind {
    name: "chosen_records",
    title: "putts recorded selectively",
    subjects: &[Subject::Player],
    is_notice: false,
    needs: "cards on which some holes have putts and some have none",
    unfair: "the better holes are recorded",
    than: "than if holes are recorded without looking at the score",
    tell: |seen, _| seen.cards(),
    reads_cards: true,
    add,
    player: weigh,
    digest: no_digest,
    setup: no_setup,
    strongest: |_| None,
    nearest: |_| "a player who records holes without looking at the score".to_owned(),
    settles: "the putts of every hole recorded from now on, or what the sensor kept of the missing holes",
    size: Sizing::Untold(
        "the putts that nobody recorded are not known. Scores, handicaps and standings do not rest on them; strokes gained do, and do not speak for this player",
    ),
    prepare: || {},
};

/// What choosers look at: how likely each way of choosing is, and ln of the odds that a hole is recorded by its score, from
/// birdie or better over par, bogey and double bogey to worse. People choose by the words of a card, and plainly: most
/// by par or better, bogey and worse; some leave out the worst alone, or whatever is over par, or keep birdies, and some
/// mind every stroke (evenfield's own choice, tried on choosers of nine kinds).
const CAUSES: [(f64, [f64; SCORES]); 6] = [
    (0.70, [0.0, 0.0, -1.7, -3.0, -3.0]),
    (0.10, [0.0, 0.0, -0.2, -2.8, -2.8]),
    (0.05, [0.0, 0.0, -2.0, -2.0, -2.0]),
    (0.03, [0.0, -1.2, -1.2, -1.2, -1.2]),
    (0.06, [0.0, 0.0, -0.8, -1.6, -1.6]),
    (0.06, [0.7, 0.0, -0.7, -1.4, -2.1]),
];
const SCORES: usize = 5;

/// Adds a card's evidence: for each way of choosing, ln of the choice's chance over the honest one.
///
/// # Formula
/// ```text
/// exp(Σ o) / e_m(exp(o)) · C(n, m)
/// o: ln of a hole's odds   Σ: over the m recorded of n holes   e_m: elementary symmetric polynomial
/// ```
fn add(state: &mut State, round: &RoundReadings) {
    let (all, recorded) = (round.holes.len(), round.holes.iter().filter(|hole| hole.is_recorded).count());
    if recorded == 0 || recorded == all {
        return;
    }
    let alike = symmetric(&vec![1.0; all], recorded).ln();
    // the honest explanation is a cell too: ratios are taken against it
    let mut logs = vec![0.0];
    for (_, odds) in CAUSES {
        let of = |hole: &HoleReading| odds[(hole.to_par.clamp(-1, 3) + 1) as usize];
        let weights: Vec<f64> = round.holes.iter().map(|hole| of(hole).exp()).collect();
        let chosen: f64 = round.holes.iter().filter(|hole| hole.is_recorded).map(of).sum();
        logs.push(chosen - symmetric(&weights, recorded).ln() + alike);
    }
    state.learn(all as u32, &logs);
}

/// Returns the sum over all choices of `count` of the numbers of their product.
fn symmetric(numbers: &[f64], count: usize) -> f64 {
    let mut sums = vec![0.0; count + 1];
    sums[0] = 1.0;
    for number in numbers {
        for size in (1..=count).rev() {
            sums[size] += number * sums[size - 1];
        }
    }
    sums[count]
}

/// One player: the rows of all set-ups are one choice.
fn weigh(rows: &[&State]) -> f64 {
    let mut ratios = [0.0; CAUSES.len()];
    for row in rows {
        let logs = row.logs(1 + CAUSES.len());
        for (ratio, log) in ratios.iter_mut().zip(&logs[1..]) {
            *ratio += log - logs[0];
        }
    }
    ln_sum(ratios.iter().zip(CAUSES).map(|(ratio, (prior, _))| ratio + prior.ln()))
}

#[cfg(test)]
mod tests {
    use super::super::evidence::evidence;
    use super::*;

    fn card(holes: &[(i32, bool)]) -> RoundReadings {
        RoundReadings {
            holes: holes
                .iter()
                .map(|(to_par, is_recorded)| HoleReading { to_par: *to_par, is_recorded: *is_recorded })
                .collect(),
            ..super::super::simulated::round(vec![])
        }
    }

    fn after(cards: &[RoundReadings]) -> f64 {
        let mut state = State::default();
        for card in cards {
            state.add(&KIND, card);
        }
        evidence(&KIND, Subject::Player, &[&state]).log10
    }

    #[test]
    fn the_sum_over_choices_is_the_one_worked_by_hand() {
        // 2·3 + 2·5 + 3·5
        assert_eq!(symmetric(&[2.0, 3.0, 5.0], 2), 31.0);
        assert_eq!(symmetric(&[1.0; 18], 9), 48_620.0);
    }

    #[test]
    fn a_par_recorded_and_a_bogey_left_out_is_a_little_evidence() {
        // two such holes a card, nine cards alike: E of a card = 2 / (1 + exp(-o)), o being what a bogey loses on a par
        let cards: Vec<_> = (0..9).map(|_| card(&[(0, true), (1, false)])).collect();
        let of = |o: f64| (2.0 / (1.0 + (-o).exp())).powi(9);
        let expect = 0.7 * of(1.7) + 0.1 * of(0.2) + 0.05 * of(2.0) + 0.03 + 0.06 * of(0.8) + 0.06 * of(0.7);
        assert!((after(&cards) - expect.log10()).abs() < 5e-3);
        assert!(expect.log10() > 1.0);
    }

    #[test]
    fn every_plain_way_of_choosing_is_found() {
        // six birdies, six pars, three bogeys, three worse: recorded without the last so many
        let scores = [-1, -1, -1, -1, -1, -1, 0, 0, 0, 0, 0, 0, 1, 1, 1, 2, 3, 4];
        for left_out in [3, 6, 12] {
            let holes: Vec<_> = scores.iter().enumerate().map(|(n, x)| (*x, n + left_out < 18)).collect();
            let found = after(&vec![card(&holes); 8]);
            assert!(found > 4.64, "{left_out} left out: {found}");
        }
    }

    #[test]
    fn cards_with_all_or_no_putts_say_nothing() {
        let all: Vec<_> = (0..30).map(|_| card(&[(0, true); 18])).collect();
        let none: Vec<_> = (0..30).map(|_| card(&[(2, false); 18])).collect();
        assert_eq!((after(&all), after(&none)), (0.0, 0.0));
    }

    #[test]
    fn the_mean_of_the_evidence_over_all_honest_choices_is_1() {
        let scores = [-1, 0, 0, 1, 1, 2, 2, 0, 1, 3];
        let (mut sum, mut count) = (0.0, 0.0);
        for choice in 0u32..1 << 10 {
            if choice.count_ones() == 4 {
                let holes: Vec<_> = scores.iter().enumerate().map(|(n, x)| (*x, choice >> n & 1 == 1)).collect();
                sum += 10f64.powf(after(&[card(&holes)]));
                count += 1.0;
            }
        }
        // 2e-3: a cell's unit is 2e-3 nats
        assert!((sum / count - 1.0).abs() < 2e-3, "{}", sum / count);
    }
}
