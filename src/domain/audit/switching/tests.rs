use super::super::evidence::{Digest, State, Subject, nights_on};
use super::super::simulated::{Draw, on};
use super::super::{KINDS, kind};
use super::*;

fn day(n: i32) -> Date {
    on(n, vec![]).played_on
}

fn nights(of: &[(i32, f64)]) -> Nights {
    of.iter().map(|(n, nats)| (day(*n), vec![(nats / NIGHT_NATS).round() as i64])).collect()
}

const QUICK: Prior = Some((0.3, 0.3));

#[test]
fn a_chain_of_two_nights_is_the_one_worked_by_hand() {
    // half on; a factor of 4: 2.5 either way, then on at 0.8; a week later 0.5 + 0.3 · 0.4 = 0.62; a factor of 1/2: 0.69
    let two = of_cause(&nights(&[(0, 4f64.ln()), (7, 0.5f64.ln())]), 0);
    assert!((ln_ratio(&two, QUICK) - (2.5f64 * 0.69).ln()).abs() < 2e-3);
    // always on: 4 · 1/2
    assert!((ln_ratio(&two, None) - 2f64.ln()).abs() < 2e-3);
    // on at both 0.8 · 0.7 · 1/2, at the first alone 0.8 · 0.3, at the second alone 0.2 · 0.3 · 1/2, never 0.2 · 0.7
    let smooth = smoothed(&two, QUICK);
    let all = 0.8 * 0.7 * 0.5 + 0.8 * 0.3 + 0.2 * 0.3 * 0.5 + 0.2 * 0.7;
    assert!((later((0.3, 0.3), 1.0, 1.0) - 0.7).abs() < 1e-12);
    assert!((smooth[0] - (0.8 * 0.7 * 0.5 + 0.8 * 0.3) / all).abs() < 2e-3, "{smooth:?}");
    assert!((smooth[1] - (0.8 * 0.7 * 0.5 + 0.2 * 0.3 * 0.5) / all).abs() < 2e-3, "{smooth:?}");
}

#[test]
fn a_night_that_says_nothing_changes_nothing_wherever_it_lies() {
    let told = [(0, 2.0), (7, -1.0), (30, 3.0)];
    let plain = causes(&nights(&told), 1, 0.0)[0];
    for between in [1, 5, 12, 29, 60] {
        let more: Vec<_> = told.into_iter().chain([(between, 0.0)]).collect();
        assert!((causes(&nights(&more), 1, 0.0)[0] - plain).abs() < 1e-12, "{between}");
    }
}

#[test]
fn no_night_is_no_evidence_and_one_that_is_on_counts_half() {
    assert_eq!(causes(&Nights::new(), 2, -0.5), [-0.5, -0.5]);
    let one = of_cause(&nights(&[(0, 10.0)]), 0);
    assert!((ln_ratio(&one, QUICK) - 10.0 - 0.5f64.ln()).abs() < 1e-3);
}

/// Log-likelihoods of two habits, and of one cause that shifts both.
fn learnt(rounds: &[(i32, f64)]) -> State {
    let mut state = State::default();
    for (night, nats) in rounds {
        let off = [-1.0, -1.5 + 0.1 * nats];
        state.learn_switching(12, day(*night), [&[-1.0, -1.5 + 0.1 * nats, -0.9], &off, &off.map(|log| log + nats)]);
    }
    state
}

#[test]
fn two_rounds_on_a_date_are_one_night() {
    let state = learnt(&[(0, 1.0), (7, 2.0), (7, 2.0), (3, -1.0)]);
    let nats = |night| state.switching.nights[&day(night)][0] as f64 * NIGHT_NATS;
    assert_eq!(state.switching.nights.len(), 3);
    // Both habits gain alike, whatever their weights are.
    assert!((nats(0) - 1.0).abs() < 5e-3 && (nats(7) - 4.0).abs() < 5e-3 && (nats(3) + 1.0).abs() < 5e-3);
}

#[test]
fn what_is_kept_comes_back_and_other_bytes_do_not() {
    let state = learnt(&[(0, 1.0), (7, 2.0), (400, -3.0)]);
    let mut packer = Packer::default();
    state.switching.pack(&mut packer);
    let bytes = packer.finish();
    let mut reader = Unpacker::of(&bytes);
    assert_eq!(Switching::unpack(&mut reader), Some(state.switching));
    assert!(reader.is_at_end());
    for end in 0..bytes.len() {
        assert_eq!(Switching::unpack(&mut Unpacker::of(&bytes[..end])), None);
    }
}

#[test]
fn nights_beyond_the_most_speak_as_with_the_cause_off() {
    let many: Vec<_> = (0..MOST_NIGHTS as i32 + 20).map(|night| (night, 0.5)).collect();
    let state = learnt(&many);
    assert_eq!(state.switching.nights.len(), MOST_NIGHTS);
    assert_eq!(state.usable as usize, 12 * many.len());
    let again = learnt(&[&many[..], &[(5, 1.0)]].concat());
    assert!(again.switching.nights[&day(5)][0] > state.switching.nights[&day(5)][0], "a night that is in goes on");
}

/// The best honest explanation with at most one change, by trying all of them.
#[test]
fn one_change_from_any_explanation_to_any_other_is_allowed() {
    let mut draw = Draw::new(5);
    let rounds: Vec<[f64; 4]> = (0..9).map(|_| [(); 4].map(|()| (4.0 * draw.normal()).round())).collect();
    let mut state = State::default();
    for (night, honest) in rounds.iter().enumerate() {
        state.learn_switching(12, day(night as i32), [honest, &honest[..1], &honest[..1]]);
    }
    let sum = |rounds: &[[f64; 4]], cell: usize| rounds.iter().map(|round| round[cell] - best(round)).sum::<f64>();
    let paths = (0..=rounds.len()).flat_map(|change| {
        let (before, after) = rounds.split_at(change);
        (0..16).map(move |pair| sum(before, pair / 4) + sum(after, pair % 4))
    });
    let due = paths.fold(f64::NEG_INFINITY, f64::max);
    let found = state.cells.iter().copied().fold(i32::MIN, i32::max);
    assert!((f64::from(found) * CELL_NATS - due).abs() < 1e-9, "{found} and {due}");
    assert_eq!(state.cells.iter().take(4).copied().max().map(|best| f64::from(best) * CELL_NATS), {
        Some((0..4).map(|cell| sum(&rounds, cell)).fold(f64::NEG_INFINITY, f64::max))
    });
}

#[test]
fn a_set_up_is_the_product_of_its_rows_and_any_of_them_can_be_taken_out() {
    let line = kind("softened_line").unwrap();
    let rows = [learnt(&[(0, 1.0), (7, 2.0)]), learnt(&[(7, -2.0), (9, 1.0)])];
    let all = Digest::of_rows(line, &[&rows[0], &rows[1]]);
    assert_eq!(all, Digest::of_rows(line, &[&rows[1], &rows[0]]));
    assert_eq!(all.clone().minus(&Digest::of(line, &rows[1])), Digest::of(line, &rows[0]));
    let night = |of: &Nights, n| of.get(&day(n)).map_or(0, |factors| factors[0]);
    for n in [0, 7, 9] {
        let parts = rows.iter().map(|row| night(&row.switching.nights, n));
        assert_eq!(night(&all.nights, n), parts.sum::<i64>());
    }
}

#[test]
fn kinds_whose_causes_do_not_switch_name_no_night() {
    for kind in KINDS {
        assert_eq!(nights_on(kind, Subject::Player, &[&State::default()]), None);
    }
}
