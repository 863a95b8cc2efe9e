//! Whole reports against a second implementation: invented leagues with every rule in them, the answers worked out by a
//! program in another language that was written from the rules and not from this code (see `data/README.md`).

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::cli::report::{Against, Format, ReportArgs, run};
use evenfield::domain::competition::ball::shown;
use evenfield::domain::competition::ranking::places;
use evenfield::domain::facts::Scoring;
use evenfield::domain::season::record::member_record;
use evenfield::domain::season::working::{Given, working};
use evenfield::domain::season::{Entry, Figures};
use evenfield::wire::bundle::assemble::Assembler;
use evenfield::wire::bundle::line::Line;
use serde_json::Value;
use std::collections::HashMap;
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
                event: None,
                from: None,
                to: None,
                setup: None,
                baseline: Against::Tour,
                without_findings: false,
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

/// Every result of these leagues adds up again from its working alone, caps and exceptional scores among the steps.
#[test]
fn every_working_adds_up() {
    let mut seen: HashMap<&str, usize> = HashMap::new();
    for n in 1..=8 {
        let mut league = Assembler::default();
        for line in fs::read_to_string(format!("tests/data/reports/{n:02}.ndjson")).unwrap().lines() {
            league.add(Line::read(line.as_bytes()).unwrap()).unwrap();
        }
        let records =
            league.book.members.keys().map(|member| member_record(&league.book, *member, &league.entries, None));
        let figures: Vec<Figures> = records.flat_map(|record| record.figures).collect();
        for entry in &league.entries {
            let of_event = |figures: &&Figures| figures.event == entry.event;
            let field: Vec<Figures> = figures.iter().filter(of_event).cloned().collect();
            let own: Vec<Entry> = league.entries.iter().filter(|other| other.member == entry.member).cloned().collect();
            let night = &league.book.nights[&entry.event];
            let main = league.book.main_of(night.season).unwrap();
            let working = working(&league.book, &own, &field, entry.id, Some(main)).unwrap();
            let results = crate::support::arithmetic::add_up(&working);
            let Some(round) = field.iter().find(|figures| figures.round == entry.id) else {
                assert!(results.is_empty() && !working.notes.is_empty());
                continue;
            };
            let terms = league.book.terms(night, main).unwrap();
            let shown = shown(&league.book, night, terms, round).unwrap();
            let points = shown.points.filter(|_| matches!(terms.score, Scoring::Points { .. }));
            for (name, due) in [
                ("course_handicap", Some(round.course_handicap)),
                ("playing_handicap", Some(shown.playing_handicap)),
                ("gross", round.gross),
                ("net", shown.net),
                ("points", points),
                ("adjusted_gross", round.adjusted_gross),
            ] {
                let found = results.get(name).cloned().unwrap_or(Given::Nothing);
                assert_eq!(found, due.into(), "{name} of {}", entry.id);
            }
            let placed = places(&league.book, night, main, &field);
            let score = placed.iter().find(|placed| placed.figures.round == entry.id).and_then(|placed| placed.score());
            assert_eq!(results.get("score").cloned().unwrap_or(Given::Nothing), score.into(), "score of {}", entry.id);
            let capped = working.steps.iter().filter(|step| step.formula.contains("low_index"));
            *seen.entry("capped").or_default() += capped.count();
            let lowered = results.get("reduction").is_some_and(|reduction| *reduction != 0.into());
            *seen.entry("lowered").or_default() += usize::from(lowered);
            for step in &working.steps {
                *seen.entry(step.name).or_default() += 1;
            }
        }
    }
    let least = [("capped", 1), ("lowered", 1), ("half_index", 50), ("average", 25), ("place", 100), ("points", 50)];
    for (name, times) in least {
        assert!(seen.get(name).is_some_and(|met| *met >= times), "{name} is hardly met: {seen:?}");
    }
}

#[test]
fn a_bad_line_stops_a_report_with_its_number_and_field() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bad.ndjson");
    let good = fs::read_to_string("tests/data/reports/01.ndjson").unwrap();
    for (find, instead, due) in [
        ("\"time_zone\":", "\"zone\":", "line 1: /zone: is not a field here; /time_zone: is missing"),
        ("\"slope_rating\":1", "\"slope_rating\":901", "/tees/0/slope_rating"),
        (good.as_str(), "Hello\n", "this is not an evenfield bundle (line 1 is not a JSON object)"),
        ("\"kind\":\"round\"", "\"kind\":\"card\"", "/kind: must be one of league, member"),
    ] {
        fs::write(&path, good.replacen(find, instead, 1)).unwrap();
        let args = ReportArgs {
            bundle: path.to_str().unwrap().to_owned(),
            format: Format::Json,
            season: None,
            as_of: None,
            event: None,
            from: None,
            to: None,
            setup: None,
            baseline: Against::Tour,
            without_findings: false,
        };
        let error = run(&args, &mut Vec::new()).unwrap_err().to_string();
        assert!(error.contains("line ") && error.contains(due), "{error}");
    }
}
