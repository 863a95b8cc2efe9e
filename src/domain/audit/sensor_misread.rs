//! Readings that cannot be: speeds that don't fit where the ball stopped, lines that are absurd or missing near the hole.
//!
//! Honest: at most 5 % of readings are off, at any distance, and lines are missing as often near as far; lines of exactly 0
//! are not far more frequent near the hole than far from it. Unfair is the
//! wrong word: more of them are off inside 10 ft. A notice to the owner, never a charge.

use super::evidence::{State, Subject, best, ln_mean, ln_sum};
use super::readings::{LineField, NEAR_FT, PuttReading, RoundReadings, Zeros};
use super::{Kind, Sizing};

pub(super) static KIND: Kind = Kind {
    name: "sensor_misread",
    title: "sensor misreads",
    subjects: &[Subject::Setup],
    is_notice: true,
    needs: "struck putts with a speed or a line",
    unfair: "the sensor misreads near the hole",
    than: "than under the best honest explanation that we know",
    tell: |seen, _| seen.misreads(),
    reads_cards: false,
    add,
    player: |_| 0.0,
    digest: |row| (0..CELLS).map(|n| row.cells.get(n).copied().map_or(0.0, f64::from)).collect(),
    setup: |counts, _| weigh(counts),
    strongest: |_| None,
    nearest: |_| "a sensor that now and then catches the putter or a shadow".to_owned(),
    settles: "ten putts from 5 ft while somebody watches what the sensor shows",
    size: Sizing::Untold("a notice is about readings, and what the balls did stands on the card"),
    prepare: || {},
};

/// Shorter putts lie outside what the roll is calibrated on.
const LEAST_FT: f64 = 2.0;
/// No stroke starts a putt this far off line (evenfield estimate: six spreads of a poor beginner at 10 ft are 15°).
const ABSURD_LINE_DEG: f64 = 15.0;
/// A roll is wrong by more than a factor of two, or half a foot, whichever is the more (evenfield estimate: three
/// times what the worst calibration does).
const WRONG_ROLL: f64 = 2.0;
const WRONG_ROLL_FT: f64 = 0.5;
/// Shares of wrong readings: what any sensor may have, and what one that misreads near the hole has there.
const HONEST_SHARES: [f64; 5] = [0.002, 0.01, 0.02, 0.035, 0.05];
const MISREADING_SHARES: [f64; 4] = [0.1, 0.2, 0.4, 0.7];
/// Shares of missing lines: alike near and far, or larger near.
const MISSING_SHARES: [f64; 9] = [0.002, 0.02, 0.06, 0.15, 0.3, 0.5, 0.7, 0.85, 0.97];

/// Shares of lines of exactly 0: what a coarse sensor shows of a straight player, or what one that saw nothing writes.
const ZERO_SHARES: [f64; 11] = [0.002, 0.02, 0.06, 0.15, 0.25, 0.35, 0.45, 0.55, 0.7, 0.85, 0.97];

/// The cells are counts: of near and far putts with a reading and those wrong, of all and those without a line; then of
/// lines near and far, and those of exactly 0.
const CELLS: usize = 12;
const ZEROS: usize = 8;

fn add(state: &mut State, round: &RoundReadings) {
    state.cells.resize(CELLS, 0);
    for putt in round.putts.iter().filter(|putt| putt.distance_ft >= LEAST_FT && !putt.is_declared) {
        let at = if putt.distance_ft <= NEAR_FT { 0 } else { 4 };
        if let Some(is_wrong) = is_wrong(putt) {
            state.usable += 1;
            state.cells[at] += 1;
            state.cells[at + 1] += i32::from(is_wrong);
        }
        state.cells[at + 2] += 1;
        state.cells[at + 3] += i32::from(putt.start_line_deg.is_none());
    }
    let Zeros { near, far } = zeros(round);
    for (cell, count) in state.cells[ZEROS..].iter_mut().zip([near[1], near[0], far[1], far[0]]) {
        *cell += count as i32;
    }
}

/// Counts the zeros of a round: of its measured lines, or of its played ones where it has no other.
pub(super) fn zeros(round: &RoundReadings) -> Zeros {
    let is_measured = round.putts.iter().any(|putt| putt.start_line_deg.is_some());
    round.zeros(if is_measured { LineField::Measured } else { LineField::Played })
}

/// Returns whether a reading cannot be; `None` where there is none to judge.
pub(super) fn is_wrong(putt: &PuttReading) -> Option<bool> {
    let line = putt.start_line_deg.map(|line| line.abs() > ABSURD_LINE_DEG);
    let speed = putt.level_roll_ft.zip(stops_ft(putt)).map(|(roll, (least, most))| {
        let too_much = roll > (WRONG_ROLL * most).max(most + WRONG_ROLL_FT);
        let too_little = roll < (least / WRONG_ROLL).min(least - WRONG_ROLL_FT);
        too_much || too_little
    });
    match (line, speed) {
        (None, None) => None,
        (line, speed) => Some(line.unwrap_or(false) || speed.unwrap_or(false)),
    }
}

/// Returns the least and the most that the ball can have rolled, on the level, given what became of it.
fn stops_ft(putt: &PuttReading) -> Option<(f64, f64)> {
    // a ball that falls arrives, and on the quickest green at less than 13 ft of roll to spare
    const MOST_SPARE_FT: f64 = 13.0;
    match (putt.is_holed, putt.leave_ft) {
        (true, _) => Some((putt.plays_like_ft, putt.plays_like_ft + MOST_SPARE_FT)),
        (false, Some(leave)) => Some(((putt.plays_like_ft - leave).max(0.0), putt.plays_like_ft + leave)),
        (false, None) => None,
    }
}

/// Weighs the counts of all rows together.
fn weigh(counts: &[f64]) -> f64 {
    let [near, wrong_near, far, wrong_far] = [counts[0], counts[1], counts[4], counts[5]];
    let log = |share: f64, all: f64, off: f64| off * share.ln() + (all - off) * (1.0 - share).ln();
    let logs =
        |shares: &[f64], all: f64, off: f64| -> Vec<f64> { shares.iter().map(|share| log(*share, all, off)).collect() };
    let far_logs = logs(&HONEST_SHARES, far, wrong_far);
    let wrong = ln_mean(&logs(&MISREADING_SHARES, near, wrong_near)) + ln_mean(&far_logs)
        - best(&logs(&HONEST_SHARES, near, wrong_near))
        - best(&far_logs);
    let (near, far) = (logs(&MISSING_SHARES, counts[2], counts[3]), logs(&MISSING_SHARES, counts[6], counts[7]));
    let alike: Vec<f64> = near.iter().zip(&far).map(|(near, far)| near + far).collect();
    let pairs: Vec<f64> =
        far.iter().enumerate().flat_map(|(n, far)| near[n + 1..].iter().map(move |near| near + far)).collect();
    let missing = ln_mean(&pairs) - best(&alike);
    let (near, far) = (
        logs(&ZERO_SHARES, counts[ZEROS], counts[ZEROS + 1]),
        logs(&ZERO_SHARES, counts[ZEROS + 2], counts[ZEROS + 3]),
    );
    let (mut honest, mut unseen) = (Vec::new(), Vec::new());
    for (near, near_share) in near.iter().zip(ZERO_SHARES) {
        for (far, far_share) in far.iter().zip(ZERO_SHARES) {
            let pairs = if Zeros::are_too_many(near_share, far_share) { &mut unseen } else { &mut honest };
            pairs.push(near + far);
        }
    }
    let zeros = ln_mean(&unseen) - best(&honest);
    ln_sum([wrong, missing, zeros].into_iter()) - 3f64.ln()
}

#[cfg(test)]
mod tests {
    use super::super::evidence::evidence;
    use super::super::simulated;
    use super::*;

    fn putt(distance_ft: f64, roll_ft: f64, line: Option<f64>, leave_ft: Option<f64>) -> PuttReading {
        PuttReading {
            level_roll_ft: Some(roll_ft),
            ball_speed_mph: Some(4.0),
            start_line_deg: line,
            is_holed: leave_ft.is_none(),
            leave_ft,
            ..simulated::putt(distance_ft)
        }
    }

    #[test]
    fn a_reading_is_wrong_where_no_stroke_gives_it() {
        let check = |putt, expect| assert_eq!(is_wrong(&putt), Some(expect), "{putt:?}");
        check(putt(8.0, 9.0, Some(0.4), None), false);
        check(putt(8.0, 3.0, Some(0.4), None), true);
        check(putt(8.0, 9.0, Some(16.0), None), true);
        check(putt(8.0, 9.0, Some(1.0), Some(1.0)), false);
        check(putt(8.0, 20.0, Some(1.0), Some(1.0)), true);
        check(putt(8.0, 3.0, Some(1.0), Some(1.0)), true);
        check(putt(8.0, 3.0, Some(1.0), Some(5.0)), false);
        assert_eq!(is_wrong(&PuttReading { level_roll_ft: None, ..putt(8.0, 1.0, None, None) }), None);
    }

    fn log10(putts: Vec<PuttReading>) -> f64 {
        let mut state = State::default();
        state.add(&KIND, &simulated::round(putts));
        evidence(&KIND, Subject::Setup, &[&state]).log10
    }

    #[test]
    fn misreads_near_the_hole_show_and_misreads_everywhere_do_not() {
        let off = |n: usize, every: usize| if n.is_multiple_of(every) { Some(30.0) } else { Some(0.5) };
        let near = |every| (0..100).map(move |n| putt(6.0, 7.0, off(n, every), None));
        let far = |every| (0..100).map(move |n| putt(20.0, 21.0, off(n, every), None));
        assert!(log10(near(5).chain(far(1000)).collect()) > 4.0);
        assert!(log10(near(50).chain(far(50)).collect()) < 1.0);
    }

    #[test]
    fn lines_missing_near_the_hole_show_and_lines_that_were_never_recorded_do_not() {
        let near = |line| (0..60).map(move |_| putt(6.0, 7.0, line, None));
        let far = |line| (0..60).map(move |_| putt(20.0, 21.0, line, None));
        assert!(log10(near(None).chain(far(Some(0.3))).collect()) > 4.0);
        assert!(log10(near(None).chain(far(None)).collect()) < 1.0);
    }

    #[test]
    fn lines_of_0_near_the_hole_show_and_those_of_a_straight_player_do_not() {
        let putts = |distance: f64, zeros: usize| {
            (0..200).map(move |n| putt(distance, distance + 1.0, Some(if n % 10 < zeros { 0.0 } else { 1.0 }), None))
        };
        assert!(log10(putts(6.0, 6).chain(putts(25.0, 1)).collect()) > 4.0);
        // whole degrees of a line that spreads by half a degree
        assert!(log10(putts(6.0, 7).chain(putts(25.0, 6)).collect()) < 1.0);
    }
}
