//! What holds for any input: order, sums, bounds, and an answer to every line.

use evenfield::cli::calc::{answer_line, operations};
use evenfield::domain::competition::places::{rank_by, share_points};
use evenfield::domain::competition::round_robin::{berger, check_round_robin, circle};
use evenfield::domain::exact::{Exact, parse, round_tenth, to_text, whole};
use evenfield::domain::handicap::caps::{Rounding, capped};
use evenfield::domain::handicap::differential::differential;
use evenfield::domain::handicap::record::{ExceptionalTest, Options, Record, Score};
use evenfield::domain::scoring::countback::{Card, Countback, Method, usual_segments};
use evenfield::domain::scoring::hole_limit::adjusted_strokes;
use evenfield::domain::scoring::strokes_received::strokes_received;
use evenfield::domain::units::HoleCount;
use evenfield::domain::units::{PlayingConditions, SlopeRating, Tenths};
use jiff::civil::{Date, date};
use proptest::collection::vec;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::cmp::Ordering;

fn tenths(tenths: i32) -> Exact {
    Tenths(tenths).into()
}

fn indexes(holes: usize) -> impl Strategy<Value = Vec<u8>> {
    Just((1..).take(holes).collect::<Vec<u8>>()).prop_shuffle()
}

/// Scores as days from 1 January 2027 and tenths, in order of date.
fn history(length: usize) -> impl Strategy<Value = Vec<(i64, i32)>> {
    vec((0..1200_i64, -100..700_i32), 0..length).prop_map(|mut scores| {
        scores.sort_by_key(|(day, _)| *day);
        scores
    })
}

fn day(n: i64) -> Date {
    date(2027, 1, 1).saturating_add(jiff::SignedDuration::from_hours(24 * n))
}

fn score(on: i64, differential: i32) -> Score {
    Score { date: day(on), differential: tenths(differential), test: ExceptionalTest::AgainstRecord }
}

proptest! {
    #[test]
    fn decimals_survive_writing_and_reading(millionths in -1_000_000_000_000_i64..=1_000_000_000_000) {
        let exact = Exact::new(millionths.into(), 1_000_000);
        prop_assert_eq!(parse(&to_text(exact)), Ok(exact));
    }

    #[test]
    fn a_differential_equals_the_whole_number_formula(
        gross in 0..=300_i64, rating in 0..=2000_i64, slope in 55..=155_i64, pcc in -1..=3_i64,
    ) {
        let exact = differential(
            whole(gross), tenths(rating as i32), SlopeRating::new(slope).unwrap(),
            PlayingConditions::new(pcc).unwrap(), HoleCount::Eighteen,
        );
        let in_tenths = (2 * 113 * (10 * gross - rating - 10 * pcc) + slope).div_euclid(2 * slope);
        prop_assert_eq!(i64::from(round_tenth(exact).0), in_tenths);
    }

    #[test]
    fn strokes_received_sum_to_the_handicap_and_differ_by_at_most_one(
        handicap in -200..=200_i32, indexes in (1..=36_usize).prop_flat_map(indexes),
    ) {
        let received = strokes_received(handicap, &indexes);
        prop_assert_eq!(received.iter().sum::<i32>(), handicap);
        let (least, most) = (received.iter().min().unwrap(), received.iter().max().unwrap());
        prop_assert!(most - least <= 1);
    }

    #[test]
    fn an_adjusted_score_is_never_above_the_gross_one(
        strokes in 1..=99_u8, par in 3..=6_u8, received in -4..=8_i32, established: bool,
    ) {
        prop_assert!(adjusted_strokes(Some(strokes), par, received, established) <= i32::from(strokes));
    }

    #[test]
    fn caps_never_lift_and_never_leave_more_than_five_above_the_low_index(
        average in -100..=900_i32, low in -100..=540_i32, first: bool,
    ) {
        let rounding = if first { Rounding::BeforeCap } else { Rounding::AfterCap };
        let (value, _) = capped(tenths(average), tenths(low), rounding);
        prop_assert!(value <= tenths(average));
        prop_assert!(value <= tenths(low) + whole(5));
    }

    #[test]
    fn no_index_is_above_54_and_caps_hold_in_a_replay(scores in history(60)) {
        let mut record = Record::new(Options::default());
        for (on, differential) in scores {
            let step = record.add(score(on, differential));
            prop_assert!(step.index <= Some(Tenths::MAX_INDEX));
            if let (Some(low), Some(index)) = (step.low_used, step.index) {
                prop_assert!(index.0 <= low.0 + 50);
            }
            prop_assert!(step.low_after <= step.index || step.index.is_none());
        }
        let (adjusted, counting) = (record.adjusted(), record.counting());
        let first = adjusted.len().saturating_sub(20);
        let worst = counting.iter().map(|&n| adjusted[n]).max();
        let left_out = (first..adjusted.len()).filter(|n| !counting.contains(n)).map(|n| adjusted[n]).min();
        prop_assert!(worst.is_none() || left_out.is_none() || worst <= left_out);
    }

    #[test]
    fn the_order_of_one_days_scores_leaves_the_index_in_effect_alone(
        scores in history(40), today in vec(-100..700_i32, 1..4),
    ) {
        let on = scores.last().map_or(0, |(on, _)| on + 1);
        let mut record = Record::new(Options::default());
        for (on, differential) in scores {
            record.add(score(on, differential));
        }
        let before = record.index();
        let replay = |order: &mut dyn Iterator<Item = &i32>| {
            let mut record = record.clone();
            let in_effect: Vec<_> = order.map(|&differential| record.add(score(on, differential)).index_in_effect).collect();
            (in_effect, record.index_before(day(on)))
        };
        let forwards = replay(&mut today.iter());
        prop_assert_eq!(&forwards, &replay(&mut today.iter().rev()));
        prop_assert_eq!(forwards, (std::vec![before; today.len()], before));
    }

    #[test]
    fn shared_points_add_up_to_the_places_occupied(
        table in vec(0..1000_i32, 0..12), results in vec(60..70_i32, 1..12),
    ) {
        let table: Vec<_> = table.into_iter().map(whole).collect();
        let places: Vec<_> = rank_by(&results, Ord::cmp).iter().map(|placed| placed.place).collect();
        let shared: Exact = share_points(&table, &places).iter().sum();
        prop_assert_eq!(shared, table.iter().take(results.len()).sum::<Exact>());
    }

    #[test]
    fn countback_is_a_total_preorder(
        cards in vec((vec(2..8_u8, 9), -5..40_i32), 3), method in 0..5_usize, hole_by_hole: bool,
        stroke_indexes in indexes(9),
    ) {
        let method = [
            Method::Gross, Method::NetFraction { rounded: false }, Method::NetFraction { rounded: true },
            Method::NetAllocated, Method::Points,
        ][method];
        let rule = Countback { method, segments: usual_segments(9), hole_by_hole };
        let keys: Vec<_> = cards.iter().map(|(strokes, handicap)| {
            let strokes: Vec<_> = strokes.iter().copied().map(Some).collect();
            rule.key(&Card { strokes: &strokes, pars: &[4; 9], stroke_indexes: &stroke_indexes, handicap: *handicap }).unwrap()
        }).collect();
        let compare = |a: usize, b: usize| rule.compare(&keys[a], &keys[b]);
        for a in 0..3 {
            prop_assert_eq!(compare(a, a), Ordering::Equal);
            for b in 0..3 {
                prop_assert_eq!(compare(a, b), compare(b, a).reverse());
                for c in 0..3 {
                    if compare(a, b).is_le() && compare(b, c).is_le() {
                        prop_assert!(compare(a, c).is_le());
                    }
                }
            }
        }
    }
}

#[test]
fn berger_and_circle_are_round_robins_for_every_field() {
    for teams in 2..=40 {
        for (name, rounds) in [("berger", berger(teams)), ("circle", circle(teams))] {
            assert_eq!(check_round_robin(&rounds, teams), [], "{name} of {teams}");
            assert_eq!(rounds.len(), teams - 1 + teams % 2, "{name} of {teams}");
        }
    }
}

/// Arguments that some operation knows, so that odd values reach past the first check.
const NAMES: &[&str] = &[
    "ags",
    "course_rating",
    "slope",
    "pcc",
    "holes",
    "points",
    "par",
    "course_handicap",
    "nine_differential",
    "other",
    "value",
    "differentials",
    "low_index",
    "round_before_cap",
    "average",
    "differential",
    "index",
    "scores",
    "low_window_days",
    "first_capped_score",
    "exceptional_basis",
    "allowance",
    "format",
    "course_handicaps",
    "playing_handicaps",
    "handicap",
    "stroke_indexes",
    "pars",
    "established",
    "maxima",
    "a",
    "b",
    "players",
    "method",
    "segments",
    "hole_by_hole",
    "table",
    "results",
    "values",
    "count",
    "minimum",
    "teams",
    "rounds",
    "playing_handicap",
    "basis",
    "score",
    "balls",
    "conceded",
    "hole",
    "by",
    "matches",
    "per_hole",
    "per_match",
    "per_total",
    "cards",
    "carry",
    "last",
    "base",
    "sides",
    "side",
    "kind",
    "meeting",
    "ball",
    "of",
    "strokes",
    "plus",
    "recent",
    "flights",
    "weight",
    "best",
    "drop_worst",
    "adjustments",
    "adjust",
    "-1",
    "0",
    "3",
];

fn odd_value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(json!(null)),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        (-20..200_i64).prop_map(Value::from),
        (1..12_i64).prop_map(Value::from),
        "[-+0-9.eE]{0,40}".prop_map(Value::from),
        ".{0,8}".prop_map(Value::from),
        Just(json!("999999.999999999999")),
        Just(json!(1e300)),
        Just(json!("-1e6")),
        Just(json!("2027-01-31")),
    ];
    leaf.prop_recursive(3, 24, 6, |inner| {
        prop_oneof![
            vec(inner.clone(), 0..6).prop_map(Value::from),
            vec((key(), inner), 0..6).prop_map(|fields| Value::Object(fields.into_iter().collect())),
        ]
    })
}

fn key() -> impl Strategy<Value = String> {
    prop_oneof![4 => proptest::sample::select(NAMES).prop_map(String::from), 1 => ".{0,6}"]
}

fn is_answer(line: &str) -> Result<(), TestCaseError> {
    let answer = answer_line(line.as_bytes());
    let json: Value = serde_json::from_str(answer.json()).map_err(|error| TestCaseError::fail(error.to_string()))?;
    prop_assert_eq!(json["ok"].as_bool(), Some(answer.is_ok()));
    prop_assert_eq!(json.get("error").is_none(), answer.is_ok());
    prop_assert!(!answer.json().contains('\n'));
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn every_line_gets_an_answer(
        op in proptest::sample::select(operations().map(|operation| operation.name).collect::<Vec<_>>()),
        fields in vec((key(), odd_value()), 0..8),
    ) {
        let mut line = json!({"id": 1, "op": op});
        for (name, value) in fields {
            line[name] = value;
        }
        is_answer(&line.to_string())?;
    }

    /// Starts from a line that is right and spoils up to three arguments.
    #[test]
    fn every_spoilt_line_gets_an_answer(
        line in proptest::sample::select(
            concat!(
                include_str!("../../data/calc_worked.jsonl"),
                include_str!("../../data/calc_worked_competitions.jsonl"),
                include_str!("../../data/calc_worked_putting.jsonl"),
            ).lines().collect::<Vec<_>>()
        ),
        spoilt in vec((any::<proptest::sample::Index>(), odd_value()), 0..3),
    ) {
        let pair: Value = serde_json::from_str(line).unwrap();
        let mut line = pair["in"].clone();
        for (which, value) in spoilt {
            let names: Vec<String> = line.as_object().unwrap().keys().cloned().collect();
            line[which.get(&names)] = value;
        }
        is_answer(&line.to_string())?;
    }

    #[test]
    fn any_bytes_get_an_answer(bytes in vec(any::<u8>(), 0..200)) {
        is_answer(&String::from_utf8_lossy(&bytes))?;
        answer_line(&bytes);
    }
}
