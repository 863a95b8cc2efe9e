//! Whole reports against a second implementation: invented leagues with every rule in them, the answers worked out by a
//! program in another language that was written from the rules and not from this code (see `data/README.md`).

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::cli::report::{Against, Format, ReportArgs, run};
use serde_json::Value;
use std::fs;

/// Compares what the second implementation answers; this one may say more. Reals agree to a millionth.
fn compare(found: &Value, due: &Value, at: &str) {
    match (found, due) {
        (Value::Object(found), Value::Object(due)) => {
            for (key, due) in due {
                compare(found.get(key).unwrap_or_else(|| panic!("{at}/{key} is missing")), due, &format!("{at}/{key}"));
            }
        }
        (Value::Array(found), Value::Array(due)) => {
            assert_eq!(found.len(), due.len(), "{at}: another number of items");
            for (n, (found, due)) in found.iter().zip(due).enumerate() {
                compare(found, due, &format!("{at}/{n}"));
            }
        }
        (Value::Number(found), Value::Number(due)) if found.is_f64() || due.is_f64() => {
            let (found, due) = (found.as_f64().unwrap(), due.as_f64().unwrap());
            assert!((found - due).abs() < 1.000_000_1e-6, "{at}: {found} is not {due}");
        }
        _ => assert_eq!(found, due, "{at}"),
    }
}

#[test]
fn reports_are_those_of_a_second_implementation() {
    let mut reports = 0;
    for n in 1..=8 {
        let bundle = format!("tests/data/reports/{n:02}.ndjson");
        let due: Value = serde_json::from_str(&fs::read_to_string(bundle.replace("ndjson", "json")).unwrap()).unwrap();
        for case in due.as_array().unwrap() {
            let id = |name: &str| case["ask"][name].as_str().map(|id| id.parse().unwrap());
            let args = ReportArgs {
                bundle: bundle.clone(),
                format: Format::Json,
                season: id("season"),
                as_of: id("as_of"),
                baseline: Against::Tour,
            };
            let mut out = Vec::new();
            run(&args, &mut out).unwrap();
            let found: Value = serde_json::from_slice(&out).unwrap();
            compare(&found, &case["report"], &format!("{bundle} {}", case["ask"]));
            reports += 1;
        }
    }
    assert_eq!(reports, 24);
}

#[test]
fn a_bad_line_stops_a_report_with_its_number_and_field() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bad.ndjson");
    let good = fs::read_to_string("tests/data/reports/01.ndjson").unwrap();
    for (find, instead, due) in [
        ("\"time_zone\":", "\"zone\":", "line 1: /zone: there is no field zone here; /time_zone: time_zone is needed"),
        ("\"slope_rating\":1", "\"slope_rating\":901", "/tees/0/slope_rating"),
        ("\"kind\":\"round\"", "\"kind\":\"card\"", "/kind: one of league, member"),
    ] {
        fs::write(&path, good.replacen(find, instead, 1)).unwrap();
        let args = ReportArgs {
            bundle: path.to_str().unwrap().to_owned(),
            format: Format::Json,
            season: None,
            as_of: None,
            baseline: Against::Tour,
        };
        let error = run(&args, Vec::new()).unwrap_err().to_string();
        assert!(error.starts_with("line ") && error.contains(due), "{error}");
    }
}
