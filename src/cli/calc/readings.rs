//! What the operations of competitions answer and refuse, beyond their worked lines. All of it is a test.

use super::answer_line;
use serde_json::{Value, json};

fn answer(op: &str, arguments: &str) -> Value {
    let line = format!(r#"{{"op": "{op}", {arguments}}}"#);
    serde_json::from_str(answer_line(line.as_bytes()).json()).unwrap()
}

fn gives(op: &str, arguments: &str, expect: Value) {
    let answer = answer(op, arguments);
    assert_eq!(answer["result"], expect, "{op} {arguments}: {answer}");
}

fn refuses(op: &str, arguments: &str, pointer: &str, detail: &str) {
    let answer = answer(op, arguments);
    assert_eq!(answer["error"], json!({"pointer": pointer, "detail": detail}), "{op} {arguments}: {answer}");
}

/// A list of `length` times the same element.
fn times(element: &str, length: usize) -> String {
    format!("[{}]", vec![element; length].join(","))
}

#[test]
fn null_for_what_may_be_left_out_is_left_out() {
    let card = r#""scores": [5], "pars": [4]"#;
    let nulls = r#""stroke_indexes": null, "playing_handicap": null, "basis": null, "score": null, "table": null"#;
    gives("score_holes", &format!("{card}, {nulls}, \"maxima\": null"), json!({"holes": [5], "total": 5}));
    let result = json!({"total": "3", "counted": 1});
    gives("season_total", r#""values": [{"value": 3, "weight": null}], "best": null, "adjustments": null"#, result);
}

#[test]
fn empty_lists_are_refused_where_there_must_be_something() {
    fn check(op: &str, arguments: &str, pointer: &str, most: usize) {
        refuses(op, arguments, pointer, &format!("must be an array with a number of elements from 1 to {most}"));
    }
    check("score_holes", r#""scores": [], "pars": []"#, "/scores", 36);
    check("side_holes", r#""balls": [], "count": 1"#, "/balls", 100);
    check("side_holes", r#""balls": [[]], "count": 1"#, "/balls/0", 36);
    check("eclectic", r#""rounds": []"#, "/rounds", 200);
    check("eclectic", r#""rounds": [[]]"#, "/rounds/0", 36);
    check("skins", r#""cards": {"A": []}"#, "/cards/A", 36);
    check("promotion", r#""flights": [], "count": 1"#, "/flights", 100);
    let stakes = r#""holes": 1, "per_hole": 1, "per_match": 1, "per_total": 1"#;
    check("fixture_points", &format!(r#""matches": [], {stakes}"#), "/matches", 100);
    refuses("skins", r#""cards": {}"#, "/cards", "must be an object with a number of names from 1 to 100");
}

#[test]
fn empty_lists_are_taken_where_nothing_has_happened_yet() {
    gives("season_total", r#""values": [], "adjustments": []"#, json!({"total": "0", "counted": 0}));
    gives("promotion", r#""flights": [["a"], [], ["b"]], "count": 1"#, json!({"flights": [["a"], [], ["b"]]}));
    let nothing = json!({"winner": null, "result": "in progress", "holes_played": 0, "lead": 0, "holes": []});
    gives("match", r#""a": [], "b": [], "conceded": []"#, nothing);
    let par = json!({"holes": ["4"], "total": "4"});
    gives("absent", r#""kind": "own_average", "pars": [4], "strokes": [0], "recent": []"#, par);
}

#[test]
fn lists_by_hole_have_one_length() {
    let one = "must have one entry for each of the 1 holes";
    let two = "must have one entry for each of the 2 holes";
    refuses("score_holes", r#""scores": [4, 4], "pars": [4]"#, "/pars", two);
    let gross = r#""scores": [4], "pars": [4], "basis": "gross", "stroke_indexes": [1, 2]"#;
    refuses("score_holes", gross, "/stroke_indexes", one);
    let maxima = r#""scores": [4], "pars": [4], "score": "maximum_score", "maxima": [8, 8]"#;
    refuses("score_holes", maxima, "/maxima", one);
    refuses("side_holes", r#""balls": [[4], [4, 4]], "count": 1"#, "/balls/1", one);
    refuses("side_holes", r#""balls": [[4]], "count": 1, "pars": [4, 4]"#, "/pars", one);
    refuses("match", r#""a": [4], "b": [4, 4]"#, "/b", one);
    refuses("skins", r#""cards": {"A": [4], "B": [4, 4]}"#, "/cards/B", one);
    refuses("eclectic", r#""rounds": [[4, 4], [4]]"#, "/rounds/1", two);
    refuses("absent", r#""kind": "forfeit", "pars": [4, 4], "strokes": [0]"#, "/strokes", two);
}

#[test]
fn net_scores_may_be_decimals_and_are_compared_exactly() {
    gives("side_holes", r#""balls": [["4.5"], [4.25], [6]], "count": 2"#, json!({"holes": ["8.75"], "total": "8.75"}));
    let third = r#""a": ["4.333333333333"], "b": ["4.333333333334"], "holes": 1"#;
    let won = json!({"winner": "A", "result": "1 up", "holes_played": 1, "lead": 1, "holes": ["won"]});
    gives("match", third, won);
    gives("eclectic", r#""rounds": [["4.5", 5], [5, "4.5"]]"#, json!({"holes": ["4.5", "4.5"], "total": 9}));
    refuses("score_holes", r#""scores": [4.5], "pars": [4]"#, "/scores/0", "must be a whole number from 1 to 99");
    refuses("match", r#""a": [1001], "b": [4]"#, "/a/0", "must be a decimal number from -1000 to 1000");
}

#[test]
fn only_strokes_leave_a_hole_without_a_value() {
    let card = r#""scores": [null, 4], "pars": [4, 4]"#;
    gives("score_holes", card, json!({"holes": [null, 4], "total": null}));
    gives("score_holes", &format!(r#"{card}, "score": "points""#), json!({"holes": [0, 2], "total": 2}));
    gives("score_holes", &format!(r#"{card}, "score": "par_bogey""#), json!({"holes": [-1, 0], "total": -1}));
    let table = r#""score": "points", "table": {"0": -1, "1": -4, "2": -2}"#;
    gives("score_holes", &format!("{card}, {table}"), json!({"holes": [-4, -1], "total": -5}));
}

#[test]
fn a_table_is_looked_up_with_what_competes() {
    let card = r#""scores": [5], "pars": [4], "stroke_indexes": [1], "playing_handicap": 1, "score": "points""#;
    let table = r#""table": {"-1": 5, "0": 3, "1": 1}"#;
    gives("score_holes", &format!("{card}, {table}"), json!({"holes": [3], "total": 3}));
    gives("score_holes", &format!(r#"{card}, {table}, "basis": "gross""#), json!({"holes": [1], "total": 1}));
    gives("score_holes", &format!("{card}, {}", r#""table": {"3": 7}"#), json!({"holes": [7], "total": 7}));
}

#[test]
fn a_table_has_whole_results_without_a_gap_and_whole_points() {
    fn check(table: &str, pointer: &str, detail: &str) {
        let card = r#""scores": [5], "pars": [4], "score": "points""#;
        refuses("score_holes", &format!(r#"{card}, "table": {table}"#), pointer, detail);
        let card = format!(r#""scores": {0}, "pars": {0}, "playing_handicap": 0, "holes": 9"#, times("4", 9));
        refuses("quota", &format!(r#"{card}, "table": {table}"#), pointer, detail);
    }
    let name = "the name must be a whole number from -99 to 99";
    check(r#"{"-2": 5, "0": 2}"#, "/table", "must have an entry for -1");
    check(r#"{"+1": 1}"#, "/table/+1", name);
    check(r#"{"-0": 1}"#, "/table/-0", name);
    check(r#"{"100": 1}"#, "/table/100", name);
    check(r#"{"0": 1.5}"#, "/table/0", "must be a whole number from -1000 to 1000");
    check("{}", "/table", "must be an object with a number of names from 1 to 199");
}

#[test]
fn arguments_that_do_not_go_with_the_score_are_refused() {
    fn check(arguments: &str, pointer: &str, detail: &str) {
        refuses("score_holes", &format!(r#""scores": [5], "pars": [4], {arguments}"#), pointer, detail);
    }
    check(r#""table": {"0": 1}"#, "/table", "must be left out where score is not points");
    check(r#""maxima": [8]"#, "/maxima", "must be left out where score is not maximum_score");
    check(r#""score": "maximum_score""#, "/maxima", "is required where score is maximum_score");
    check(r#""playing_handicap": -1"#, "/stroke_indexes", "is required where there are handicap strokes");
    check(r#""score": "quota""#, "/score", "must be one of strokes, points, par_bogey, maximum_score");
    let gross = r#""scores": [5], "pars": [4], "playing_handicap": 9, "basis": "gross""#;
    gives("score_holes", gross, json!({"holes": [5], "total": 5}));
}

#[test]
fn a_maximum_caps_the_gross_score_and_strokes_come_off_afterwards() {
    let card = r#""scores": [null, 9], "pars": [4, 4], "stroke_indexes": [1, 2], "score": "maximum_score""#;
    let of = |more: &str| format!(r#"{card}, "maxima": [8, 8], "playing_handicap": {more}"#);
    gives("score_holes", &of("3"), json!({"holes": [6, 7], "total": 13}));
    gives("score_holes", &of("-1"), json!({"holes": [8, 9], "total": 17}));
    gives("score_holes", &of(r#"3, "basis": "gross""#), json!({"holes": [8, 8], "total": 16}));
}

#[test]
fn a_side_needs_enough_strokes_but_takes_the_points_that_there_are() {
    gives("side_holes", r#""balls": [[4, 4], [5, null]], "count": 2"#, json!({"holes": [9, null], "total": null}));
    gives("side_holes", r#""balls": [[4]], "count": 100"#, json!({"holes": [null], "total": null}));
    let points = r#""balls": [[-1, null], [-3, null]], "higher_is_better": true, "count""#;
    gives("side_holes", &format!("{points}: 2"), json!({"holes": [-4, 0], "total": -4}));
    gives("side_holes", &format!("{points}: 9"), json!({"holes": [-4, 0], "total": -4}));
    gives("side_holes", &format!("{points}: 1"), json!({"holes": [-1, 0], "total": -1}));
}

#[test]
fn a_count_by_par_names_every_par_of_the_card() {
    let balls = r#""balls": [[3, 4], [4, 5]]"#;
    let idle = format!(r#"{balls}, "pars": [3, 4], "count": {{"3": 1, "4": 2, "7": 1}}"#);
    gives("side_holes", &idle, json!({"holes": [3, 9], "total": 12}));
    let lacks = format!(r#"{balls}, "pars": [3, 4], "count": {{"3": 1}}"#);
    refuses("side_holes", &lacks, "/count", "must have a number for par 4");
    let without = format!(r#"{balls}, "count": {{"3": 1}}"#);
    refuses("side_holes", &without, "/pars", "is required where count goes by par");
    let range = "must be a whole number from 1 to 100";
    refuses("side_holes", &format!(r#"{balls}, "count": 0"#), "/count", range);
    refuses("side_holes", &format!(r#"{balls}, "count": 101"#), "/count", range);
    refuses("side_holes", &format!(r#"{balls}, "pars": [3, 4], "count": {{"3": 0}}"#), "/count/3", range);
    let name = "the name must be a whole number from 1 to 10";
    refuses("side_holes", &format!(r#"{balls}, "pars": [3, 4], "count": {{"04": 1}}"#), "/count/04", name);
}

#[test]
fn a_concession_names_a_hole_of_the_lists_once() {
    fn check(conceded: &str, pointer: &str, detail: &str) {
        refuses("match", &format!(r#""a": [4, 4], "b": [4, 4], "conceded": {conceded}"#), pointer, detail);
    }
    check(r#"[{"hole": 3, "by": "a"}]"#, "/conceded/0/hole", "must be one of the 2 holes given");
    check(r#"[{"hole": 0, "by": "a"}]"#, "/conceded/0/hole", "must be a whole number from 1 to 72");
    check(r#"[{"hole": 1, "by": "c"}]"#, "/conceded/0/by", "must be one of a, b");
    let twice = r#"[{"hole": 2, "by": "a"}, {"hole": 2, "by": "b"}]"#;
    check(twice, "/conceded/1/hole", "must not be conceded twice");
    refuses(
        "match",
        r#""a": [], "b": [], "conceded": [{"hole": 1, "by": "a"}]"#,
        "/conceded/0/hole",
        "must be one of the 0 holes given",
    );
}

#[test]
fn a_concession_decides_its_hole_and_after_the_decision_nothing() {
    let extra = r#""a": [4, null], "b": [4, null], "holes": 1, "conceded": [{"hole": 2, "by": "a"}]"#;
    let lost = json!({"winner": "B", "result": "2nd hole", "holes_played": 2, "lead": -1, "holes": ["tied", "lost"]});
    gives("match", extra, lost);
    let late = r#""a": [3, 3, 9], "b": [4, 4, 4], "holes": 3, "conceded": [{"hole": 3, "by": "b"}]"#;
    let won = json!({"winner": "A", "result": "2&1", "holes_played": 2, "lead": 2, "holes": ["won", "won", null]});
    gives("match", late, won);
}

#[test]
fn a_match_says_how_it_stands() {
    fn check(a: &str, b: &str, holes: usize, result: &str) {
        let answer = answer("match", &format!(r#""a": {a}, "b": {b}, "holes": {holes}"#));
        assert_eq!(answer["result"]["result"], result, "{answer}");
    }
    check(&times("4", 9), &times("4", 9), 9, "tied");
    check(&times("4", 10), &times("4", 10), 9, "tied");
    check(&times("4", 8), &times("4", 8), 9, "in progress");
    check(&times("null", 9), &times("null", 9), 9, "tied");
    check("[3]", "[4]", 1, "1 up");
    check("[4, 3]", "[4, 4]", 1, "2nd hole");
}

const STAKES: &str = r#""per_hole": 1, "per_match": 2, "per_total": 3"#;

#[test]
fn a_fixture_needs_an_entry_for_each_hole_and_extra_ones_earn_no_points_for_holes() {
    let short = format!(r#""matches": [{{"a": [4], "b": [4]}}], "holes": 2, {STAKES}"#);
    let detail = "must have an entry for each of the 2 holes, null where there is no score";
    refuses("fixture_points", &short, "/matches/0/a", detail);
    let walk_over = format!(r#""matches": [{{"a": null, "b": [4]}}], "holes": 2, {STAKES}"#);
    refuses("fixture_points", &walk_over, "/matches/0/b", detail);
    let uneven = format!(r#""matches": [{{"a": [4, 4], "b": [4, 4, 4]}}], "holes": 2, {STAKES}"#);
    refuses("fixture_points", &uneven, "/matches/0/b", "must have one entry for each of the 2 holes");
    let extra = format!(r#""matches": [{{"a": [4, 4], "b": [4, 3]}}], "holes": 1, {STAKES}"#);
    let points = json!({
        "a": "2", "b": "4",
        "matches": [{"a": "0.5", "b": "2.5", "result": "2nd hole"}],
        "total": {"a": "1.5", "b": "1.5"},
    });
    gives("fixture_points", &extra, points);
}

#[test]
fn points_for_holes_go_on_after_the_decision() {
    let conceded = r#""conceded": [{"hole": 3, "by": "a"}]"#;
    let line = format!(r#""matches": [{{"a": [3, 3, 3], "b": [4, 4, 4], {conceded}}}], "holes": 3, {STAKES}"#);
    let points = json!({
        "a": "7", "b": "1",
        "matches": [{"a": "4", "b": "1", "result": "2&1"}],
        "total": {"a": "3", "b": "0"},
    });
    gives("fixture_points", &line, points);
    let unplayed = format!(r#""matches": [{{"a": [3, null], "b": [4, null]}}], "holes": 2, {STAKES}"#);
    let points = json!({
        "a": "5", "b": "2",
        "matches": [{"a": "3.5", "b": "0.5", "result": "1 up"}],
        "total": {"a": "1.5", "b": "1.5"},
    });
    gives("fixture_points", &unplayed, points);
}

#[test]
fn a_side_that_is_absent_leaves_all_but_half_of_the_total_to_the_other() {
    let line = format!(r#""matches": [{{"a": null, "b": [4, null], "conceded": null}}], "holes": 2, {STAKES}"#);
    let points = json!({
        "a": "1.5", "b": "5.5",
        "matches": [{"a": "0", "b": "4", "result": "walk-over"}],
        "total": {"a": "1.5", "b": "1.5"},
    });
    gives("fixture_points", &line, points);
    let neither = format!(r#""matches": [{{"a": null, "b": null}}], "holes": 1, {STAKES}"#);
    refuses("fixture_points", &neither, "/matches/0/b", "must not be absent where a is absent, too");
    let conceded = r#""conceded": [{"hole": 1, "by": "b"}]"#;
    let conceded = format!(r#""matches": [{{"a": [4], "b": null, {conceded}}}], "holes": 1, {STAKES}"#);
    refuses("fixture_points", &conceded, "/matches/0/conceded", "must be empty where a side is absent");
    let missing = format!(r#""matches": [{{"a": [4]}}], "holes": 1, {STAKES}"#);
    refuses("fixture_points", &missing, "/matches/0/b", "is required");
}

#[test]
fn points_at_stake_may_be_fractions_and_are_never_negative() {
    let fixture = r#""matches": [{"a": [4], "b": [4]}], "holes": 1, "per_match": 0, "per_total": 0"#;
    let answer = answer("fixture_points", &format!(r#"{fixture}, "per_hole": "0.25""#));
    assert_eq!(answer["result"]["a"], "0.125");
    let range = "must be a decimal number from 0 to 1000000";
    refuses("fixture_points", &format!(r#"{fixture}, "per_hole": "-0.5""#), "/per_hole", range);
}

#[test]
fn skins_that_nobody_won_are_left_or_split() {
    let cards = r#""cards": {"A": [4, 4], "B": [4, 4], "C": [5, 5]}"#;
    let answer_of = |more: &str| answer("skins", &format!("{cards}{more}"))["result"].clone();
    let split = answer_of("");
    assert_eq!((&split["skins"], &split["left"]), (&json!({"A": "1", "B": "1", "C": "0"}), &json!(0)));
    let void = answer_of(r#", "last": "void""#);
    assert_eq!((&void["skins"], &void["left"]), (&json!({"A": "0", "B": "0", "C": "0"}), &json!(2)));
    // Without carrying nothing hangs on the last hole, so `last` says nothing.
    for last in ["split", "void"] {
        let none = answer_of(&format!(r#", "carry": false, "last": "{last}""#));
        assert_eq!((&none["holes"][1]["worth"], &none["left"]), (&json!(1), &json!(2)));
    }
    let best = answer_of(r#", "higher_is_better": true"#);
    assert_eq!(best["skins"], json!({"A": "0", "B": "0", "C": "2"}));
}

#[test]
fn a_hole_without_scores_is_tied_and_a_sole_score_wins() {
    let result = json!({
        "holes": [{"winner": "B", "worth": 1}, {"winner": null, "worth": 1}],
        "skins": {"A": "0", "B": "1"},
        "left": 1,
    });
    gives("skins", r#""cards": {"A": [null, null], "B": [9, null]}"#, result);
}

#[test]
fn a_quota_over_nine_holes_is_half_the_base() {
    let nine = times("4", 9);
    let card = format!(r#""scores": {nine}, "pars": {nine}, "holes": 9, "base": 35, "playing_handicap""#);
    gives("quota", &format!("{card}: 0"), json!({"points": 18, "quota": "17.5", "result": "0.5"}));
    gives("quota", &format!("{card}: 18"), json!({"points": 18, "quota": "-0.5", "result": "18.5"}));
    let entries = "must have one entry for each of the 18 holes";
    refuses("quota", &format!(r#""scores": {nine}, "pars": {nine}, "playing_handicap": 0"#), "/scores", entries);
    refuses(
        "quota",
        &format!(r#""scores": {nine}, "pars": [4], "playing_handicap": 0, "holes": 9"#),
        "/pars",
        "must have one entry for each of the 9 holes",
    );
    refuses(
        "quota",
        &format!(r#""scores": {nine}, "pars": {nine}, "playing_handicap": 0, "holes": 12"#),
        "/holes",
        "must be 9 or 18",
    );
    refuses("quota", &format!(r#""scores": {nine}, "pars": {nine}"#), "/playing_handicap", "is required");
    let table = format!(r#""scores": {}, "pars": {nine}, "holes": 9, "playing_handicap": 18"#, times("null", 9));
    gives(
        "quota",
        &format!(r#"{table}, "table": {{"0": 1, "1": -1}}"#),
        json!({"points": -9, "quota": 0, "result": -9}),
    );
}

#[test]
fn a_draw_has_at_least_one_side() {
    gives("knock_out", r#""sides": 1"#, json!({"size": 1, "rounds": 0, "first_round": []}));
    let range = "must be a whole number from 1 to 1024";
    refuses("knock_out", r#""sides": 0"#, "/sides", range);
    refuses("knock_out", r#""sides": 1025"#, "/sides", range);
}

#[test]
fn a_round_robin_may_be_played_twice_and_spread_over_bays() {
    gives("circle", r#""teams": 2, "times": 2"#, json!({"rounds": [[[1, 2]], [[2, 1]]]}));
    let placed = json!({
        "rounds": [[[1, 0], [2, 3]], [[0, 3], [1, 2]], [[2, 0], [3, 1]]],
        "places": [
            [null, {"bay": 1, "slot": 1}],
            [null, {"bay": 1, "slot": 1}],
            [null, {"bay": 1, "slot": 1}],
        ],
        "spread": {"bays": 0, "slots": 0},
    });
    gives("berger", r#""teams": 3, "bays": 4"#, placed);
    refuses("berger", r#""teams": 3, "times": 3"#, "/times", "must be a whole number from 1 to 2");
    refuses("circle", r#""teams": 3, "bays": 101"#, "/bays", "must be a whole number from 1 to 100");
    refuses("circle", r#""teams": 3, "bays": 0"#, "/bays", "must be a whole number from 1 to 100");
}

#[test]
fn a_stand_in_is_net_whatever_the_strokes() {
    let with = |more: &str| format!(r#""pars": [4, 3], "strokes": [2, 1], {more}"#);
    let par = json!({"holes": ["4", "3"], "total": "7"});
    gives("absent", &with(r#""kind": "opponent_to_par""#), par.clone());
    gives("absent", &with(r#""kind": "net_par_plus""#), par);
    let half = json!({"holes": ["4.5", "3.5"], "total": "8"});
    gives("absent", &with(r#""kind": "net_par_plus", "plus": "0.5""#), half.clone());
    gives("absent", &with(r#""kind": "own_average", "plus": "0.5""#), half);
    let average = json!({"holes": ["4.166667", "3.166667"], "total": "7.333333"});
    gives("absent", &with(r#""kind": "own_average", "plus": 9, "recent": [1, 0, 0]"#), average);
}

#[test]
fn nobody_is_in_a_flight_twice() {
    let twice = "must not be in a flight twice";
    refuses("promotion", r#""flights": [["a", "b"], ["b"]], "count": 0"#, "/flights/1/0", twice);
    refuses("promotion", r#""flights": [["a", "a"]], "count": 0"#, "/flights/0/1", twice);
    gives("promotion", r#""flights": [["a", "b"]], "count": 1"#, json!({"flights": [["a", "b"]]}));
    gives("promotion", r#""flights": [["a"], ["b"], ["c"]], "count": 1"#, json!({"flights": [["a"], ["b"], ["c"]]}));
}

#[test]
fn a_season_counts_what_there_is() {
    fn check(arguments: &str, total: &str, counted: usize) {
        gives("season_total", arguments, json!({"total": total, "counted": counted}));
    }
    let three = r#""values": [{"value": 10}, {"value": 7}, {"value": 12}]"#;
    check(&format!(r#"{three}, "best": 6, "drop_worst": 1"#), "22", 2);
    check(&format!(r#"{three}, "drop_worst": 4, "adjustments": ["1.5", -2]"#), "-0.5", 0);
    check(&format!(r#"{three}, "best": 1, "adjustments": [-20, 30], "adjust": "before""#), "30", 1);
    check(&format!(r#"{three}, "best": 2, "adjustments": [3], "higher_is_better": false"#), "20", 2);
    // The weighted value competes: 7 × 2 beats 12.
    check(r#""values": [{"value": 7, "weight": 2}, {"value": 12}], "best": 1"#, "14", 1);
    check(r#""values": [{"value": 7, "weight": 0}, {"value": null, "weight": 3}]"#, "0", 1);
    // Rounded once: a third of 1 three times is 1.
    check(r#""values": [{"value": "0.333333333333", "weight": 3}], "adjustments": ["0.000000000001"]"#, "1", 1);
}

#[test]
fn a_season_has_limits() {
    let value = |value: &str| format!(r#""values": [{{"value": {value}}}]"#);
    refuses("season_total", r#""values": [{}]"#, "/values/0/value", "is required");
    let negative = r#""values": [{"value": 1, "weight": -1}]"#;
    refuses("season_total", negative, "/values/0/weight", "must be a decimal number from 0 to 1000");
    let best = format!(r#"{}, "best": 0"#, value("1"));
    refuses("season_total", &best, "/best", "must be a whole number from 1 to 1000");
    let number = "must be a decimal number from -1000000 to 1000000";
    refuses("season_total", &value("1000001"), "/values/0/value", number);
    let many = format!(r#""values": {}"#, times(r#"{"value": 1}"#, 1001));
    refuses("season_total", &many, "/values", "must be an array with a number of elements from 0 to 1000");
    // The greatest of everything is still exact.
    let most = times(r#"{"value": "999999.999999999999", "weight": "999.999999999999"}"#, 1000);
    let adjustments = times(r#""-999999.999999999999""#, 1000);
    let answer = answer("season_total", &format!(r#""values": {most}, "adjustments": {adjustments}"#));
    assert_eq!(answer["result"], json!({"total": "998999999999.998999", "counted": 1000}));
}

#[test]
fn an_allowance_is_published_or_a_hundred() {
    fn check(score: &str, side: &str, meeting: &str, percentages: &[u8], source: &str) {
        let line = format!(r#""score": "{score}", "side": {{{side}}}, "meeting": "{meeting}""#);
        gives("allowance", &line, json!({"percentages": percentages, "source": source}));
    }
    let (published, custom) = ("RoH Appendix C", "custom");
    check("maximum_score", r#""kind": "player""#, "field", &[95], published);
    check("points", r#""kind": "best", "count": 1, "of": 1"#, "field", &[95], published);
    check("points", r#""kind": "sum", "of": 1"#, "field", &[95], published);
    check("strokes", r#""kind": "best", "count": 2, "of": 2"#, "match", &[100], published);
    check("strokes", r#""kind": "sum", "of": 4"#, "field", &[100], published);
    check("par_bogey", r#""kind": "best", "count": 2, "of": 4"#, "field", &[80], published);
    check("points", r#""kind": "best", "count": 2, "of": 4"#, "field", &[100], custom);
    check("strokes", r#""kind": "best", "count": 1, "of": 2"#, "season", &[100], custom);
    check("points", r#""kind": "player""#, "match", &[100], custom);
    check("par_bogey", r#""kind": "shared", "ball": "greensomes""#, "match", &[60, 40], published);
    check("quota", r#""kind": "shared", "ball": "foursomes", "of": 2"#, "hole", &[50, 50], published);
}

#[test]
fn an_allowance_needs_to_know_how_many_play() {
    fn check(side: &str, pointer: &str, detail: &str) {
        refuses(
            "allowance",
            &format!(r#""score": "strokes", "side": {{{side}}}, "meeting": "field""#),
            pointer,
            detail,
        );
    }
    check(r#""kind": "best", "count": 1"#, "/side/of", "is required");
    check(r#""kind": "best", "of": 2"#, "/side/count", "is required");
    check(r#""kind": "best", "count": 3, "of": 2"#, "/side/count", "must be a whole number from 1 to 2");
    check(r#""kind": "sum""#, "/side/of", "is required");
    check(r#""kind": "sum", "of": 101"#, "/side/of", "must be a whole number from 1 to 100");
    check(r#""kind": "player", "of": 1"#, "/side/of", "unknown argument: of");
    let numbers = "must be one of 2, 3, 4: the players who share this ball";
    check(r#""kind": "shared", "ball": "scramble""#, "/side/of", numbers);
    check(r#""kind": "shared", "ball": "scramble", "of": 5"#, "/side/of", numbers);
    let two = "must be one of 2: the players who share this ball";
    check(r#""kind": "shared", "ball": "chapman", "of": 3"#, "/side/of", two);
    let balls = "must be one of foursomes, greensomes, chapman, scramble";
    check(r#""kind": "shared", "ball": "own""#, "/side/ball", balls);
}

#[test]
fn every_list_has_a_limit() {
    fn check(op: &str, arguments: &str, pointer: &str, kind: &str, least: usize, most: usize) {
        refuses(op, arguments, pointer, &format!("must be {kind} from {least} to {most}"));
    }
    let list = "an array with a number of elements";
    let (hole, holes) = ("4", times("4", 37));
    check("score_holes", &format!(r#""scores": {holes}, "pars": [4]"#), "/scores", list, 1, 36);
    check("score_holes", &format!(r#""scores": [4], "pars": [4], "maxima": {holes}"#), "/maxima", list, 1, 36);
    check("side_holes", &format!(r#""balls": [{holes}], "count": 1"#), "/balls/0", list, 1, 36);
    check("side_holes", &format!(r#""balls": {}, "count": 1"#, times("[4]", 101)), "/balls", list, 1, 100);
    check("match", &format!(r#""a": {}, "b": []"#, times(hole, 73)), "/a", list, 0, 72);
    check("match", r#""a": [], "b": [], "holes": 37"#, "/holes", "a whole number", 1, 36);
    let conceded = times(r#"{"hole": 1, "by": "a"}"#, 73);
    check("match", &format!(r#""a": [4], "b": [4], "conceded": {conceded}"#), "/conceded", list, 0, 72);
    let fixture = |matches: &str, holes: usize| format!(r#""matches": {matches}, "holes": {holes}, {STAKES}"#);
    let many = times(r#"{"a": [4], "b": [4]}"#, 101);
    check("fixture_points", &fixture(&many, 1), "/matches", list, 1, 100);
    check("fixture_points", &fixture("[]", 37), "/holes", "a whole number", 1, 36);
    let long = format!(r#"[{{"a": {}, "b": [4]}}]"#, times(hole, 73));
    check("fixture_points", &fixture(&long, 1), "/matches/0/a", list, 1, 72);
    let cards: Vec<String> = (0..101).map(|n| format!(r#""{n}": [4]"#)).collect();
    let names = "an object with a number of names";
    check("skins", &format!(r#""cards": {{{}}}"#, cards.join(",")), "/cards", names, 1, 100);
    check("skins", &format!(r#""cards": {{"A": {holes}}}"#), "/cards/A", list, 1, 36);
    check("eclectic", &format!(r#""rounds": {}"#, times("[4]", 201)), "/rounds", list, 1, 200);
    let absent = |more: &str| format!(r#""kind": "forfeit", "pars": [4], {more}"#);
    check("absent", &absent(&format!(r#""strokes": {holes}"#)), "/strokes", list, 1, 36);
    let recent = format!(r#""strokes": [0], "recent": {}"#, times("1", 1001));
    check("absent", &absent(&recent), "/recent", list, 0, 1000);
    check("promotion", &format!(r#""flights": {}, "count": 1"#, times("[]", 101)), "/flights", list, 1, 100);
    let crowd = times(r#""a""#, 1001);
    check("promotion", &format!(r#""flights": [{crowd}], "count": 1"#), "/flights/0", list, 0, 1000);
    check("promotion", r#""flights": [[]], "count": 1001"#, "/count", "a whole number", 0, 1000);
    let adjustments = format!(r#""values": [], "adjustments": {}"#, times("1", 1001));
    check("season_total", &adjustments, "/adjustments", list, 0, 1000);
    let id = format!(r#""flights": [["{}"]], "count": 1"#, "x".repeat(101));
    refuses("promotion", &id, "/flights/0/0", "must have at most 100 characters");
}
