//! What is advised to players whose weakness is known: the true one or nothing, and as surely as it is said.

use crate::support::simulated::Random;
use crate::support::simulated::advised::{self, NIGHTS, contradiction, kept, nights, seven};
use evenfield::domain::putting::advice::Certainty;

const SEEDS: u64 = 20;

#[test]
fn the_true_weakness_is_named_and_no_other() {
    for (name, player, weak) in seven() {
        let told = advised::told(&player, weak, SEEDS).unwrap();
        println!("{name}: {told:?}");
        match weak {
            Some(_) => assert!(told.right >= 14 && told.another <= 1, "{name}: {told:?}"),
            None => assert!(told.unsure >= 18, "{name}: {told:?}"),
        }
    }
}

/// Over so few players a share is uncertain by a few points: `benches/advice.rs` tells more closely.
#[test]
fn what_is_likely_or_clear_is_right_as_often_as_it_says() {
    let kept = kept(400, 9).unwrap();
    println!("{kept:?}");
    let [_, hint, likely, clear] = [0, 1, 2, 3].map(|word| f64::from(kept.right[word]) / f64::from(kept.said[word]));
    assert!(kept.said[2] >= 10 && kept.said[3] >= 40, "{kept:?}");
    assert!(hint > 0.5 && likely > 0.7 && clear > 0.93, "{kept:?}");
}

#[test]
fn advice_never_contradicts_the_chart_beside_it() {
    let mut told = 0;
    for (name, player, _) in seven() {
        for seed in 100..110 {
            let report = advised::report(&nights(&player, 1 + seed as usize % NIGHTS, &mut Random(seed)).unwrap());
            told += u32::from(report.advice.focus.is_some());
            assert_eq!(contradiction(&report), None, "{name}, seed {seed}");
        }
    }
    assert!(told > 10, "{told} told");
}

#[test]
fn more_putts_than_the_first_night_settle_a_weakness() {
    let (_, player, weak) = seven()[0];
    let putted = |count| advised::report(&nights(&player, count, &mut Random(3)).unwrap()).advice;
    let (first, all) = (putted(1), putted(NIGHTS));
    assert!(first.needs_putts.unwrap() > 0 && first.certainty < Certainty::Clear, "{first:?}");
    assert!(all.certainty >= Certainty::Likely && all.needs_putts < first.needs_putts, "{first:?} {all:?}");
    assert!(weak.unwrap().is_named(&all));
}

/// Without lines and speeds nothing tells line, pace and read apart.
#[test]
fn nothing_is_said_where_nothing_was_measured() {
    let (_, player, _) = seven()[3];
    let mut rounds = nights(&player, NIGHTS, &mut Random(1)).unwrap();
    for putt in rounds.iter_mut().flat_map(|round| &mut round.by_hole).flatten() {
        (putt.ball_speed_mph, putt.start_line_deg, putt.played_line_deg) = (None, None, None);
    }
    let advice = advised::report(&rounds).advice;
    assert_eq!((advice.focus, advice.certainty), (None, Certainty::Early));
    assert!(advice.needs_putts.unwrap() > 0);
    assert_eq!(advised::report(&[]).advice, advice);
}
