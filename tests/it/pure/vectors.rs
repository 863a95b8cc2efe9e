//! External truth: published examples and worked lines, answered through the `calc` command's own entry.

use evenfield::cli::calc::answer_line;
use serde_json::{Value, json};

fn answer(line: &Value) -> Value {
    serde_json::from_str(answer_line(line.to_string().as_bytes()).json()).expect("an answer is JSON")
}

fn last(result: &Value, back: usize) -> &Value {
    let scores = result["scores"].as_array().expect("a history lists its scores");
    &scores[scores.len() - back]
}

/// Compares the keys of `expected` with those of `found`.
fn compare(expected: &Value, found: &Value, place: &str) {
    for (key, value) in expected.as_object().expect("an object of expected keys") {
        assert_eq!(found.get(key), Some(value), "{place}: {key}");
    }
}

#[test]
fn every_vector_gives_what_its_source_says() {
    let vectors: Vec<Value> = serde_json::from_str(include_str!("../../data/vectors.json")).unwrap();
    assert!(!vectors.is_empty());
    for vector in vectors {
        let place = format!("{} ({})", vector["id"], vector["source"]);
        let found = answer(&vector["inputs"]);
        assert_eq!(found["ok"], true, "{place}: {found}");
        let result = &found["result"];
        for (key, value) in vector["expected"].as_object().unwrap() {
            match key.as_str() {
                "last" => compare(value, last(result, 1), &place),
                "second_last" => compare(value, last(result, 2), &place),
                "adjusted" => assert_eq!(&result["adjusted_differentials"], value, "{place}: adjusted"),
                "property" => {
                    let count = result["rounds"].as_array().unwrap().len();
                    assert_eq!(value, &json!(format!("valid round robin with {count} rounds")), "{place}");
                    let teams = &vector["inputs"]["teams"];
                    let check = answer(&json!({"op": "check_round_robin", "rounds": result["rounds"], "teams": teams}));
                    assert_eq!(check["result"]["valid"], true, "{place}: {check}");
                }
                _ => compare(&json!({ key: value }), result, &place),
            }
        }
    }
}

#[test]
fn every_worked_line_gives_its_answer() {
    let lines = include_str!("../../data/calc_worked.jsonl").lines();
    let others = [
        include_str!("../../data/calc_worked_competitions.jsonl"),
        include_str!("../../data/competition_replays.jsonl"),
        include_str!("../../data/history_replays.jsonl"),
    ];
    for line in lines.chain(others.into_iter().flat_map(str::lines)) {
        let pair: Value = serde_json::from_str(line).unwrap();
        assert_eq!(answer(&pair["in"]), pair["out"], "{}", pair["in"]);
    }
}

/// Compares two values, numbers within `tolerance`; every key must be on both sides.
fn near(found: &Value, expected: &Value, tolerance: f64, place: &str) {
    match (found, expected) {
        (Value::Object(found), Value::Object(expected)) => {
            assert!(found.keys().eq(expected.keys()), "{place}: {:?}, expected {:?}", found.keys(), expected.keys());
            for (key, value) in expected {
                near(&found[key], value, tolerance, &format!("{place}: {key}"));
            }
        }
        (Value::Array(found), Value::Array(expected)) => {
            assert_eq!(found.len(), expected.len(), "{place}");
            for (found, expected) in found.iter().zip(expected) {
                near(found, expected, tolerance, place);
            }
        }
        (Value::Number(x), Value::Number(y)) => {
            let gap = x.as_f64().zip(y.as_f64()).map(|(x, y)| (x - y).abs());
            assert!(gap.is_some_and(|gap| gap <= tolerance), "{place}: {x}, expected {y} within {tolerance}");
        }
        _ => assert_eq!(found, expected, "{place}"),
    }
}

#[test]
fn every_worked_putting_line_gives_its_answer() {
    for line in include_str!("../../data/calc_worked_putting.jsonl").lines() {
        let pair: Value = serde_json::from_str(line).unwrap();
        // what the reference promises: 1e-6, and 1e-3 where a curve or a path is fitted or searched
        let tolerance = match pair["in"]["op"].as_str() {
            Some("read" | "expected_putts" | "gained") => 1e-3,
            _ => 1e-6,
        };
        near(&answer(&pair["in"]), &pair["out"], tolerance, &pair["in"].to_string());
    }
}

#[test]
fn every_operation_has_a_worked_line() {
    let worked = concat!(
        include_str!("../../data/calc_worked.jsonl"),
        include_str!("../../data/calc_worked_competitions.jsonl"),
        include_str!("../../data/calc_worked_putting.jsonl")
    );
    for operation in evenfield::cli::calc::operations() {
        assert!(
            worked.contains(&format!(r#""op": "{}""#, operation.name)),
            "{}: add a worked line to one of tests/data/calc_worked*.jsonl",
            operation.name
        );
    }
}

#[test]
fn the_calculator_s_page_has_every_operation_and_answers_as_it_says() {
    let page = include_str!("../../../docs/calculator.md");
    for operation in evenfield::cli::calc::operations() {
        let name = format!("`{}`", operation.name);
        assert!(page.contains(&name), "docs/calculator.md lacks {name}");
    }
    let lines: Vec<Value> =
        page.lines().filter(|line| line.starts_with(r#"{"id""#)).map(|line| line.parse().unwrap()).collect();
    assert!(lines.len() > 20, "docs/calculator.md has examples");
    for pair in lines.chunks(2) {
        assert_eq!(answer(&pair[0]), pair[1], "docs/calculator.md: {}", pair[0]);
    }
}
