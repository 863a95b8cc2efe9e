//! What a body must be: every fault named at once with its pointer and its limits (A1, S25), nothing half-written.

use crate::support::harness::{
    Api, Call, Cast, Night, Seen, card, course, event, id, merged, round, season, season_with, shared,
};
use serde_json::{Value, json};

/// A body with the route that takes it.
struct Body {
    name: &'static str,
    method: &'static str,
    path: String,
    good: Value,
}

fn bodies(night: &Night, round_id: &str) -> Vec<Body> {
    let body = |name, method, path: String, good| Body { name, method, path, good };
    let league = &night.league;
    let account = json!({
        "email": "reader@example.org", "password": crate::support::harness::PASSWORD, "display_name": "Rosa",
        "invitation": "abcdefghijklmnopqrstuvwxyz",
    });
    let member = json!({ "display_name": "Walter", "flight": "A", "starting_handicap": 12.5 });
    let setup = json!({
        "label": "Den", "sensor": "radar", "shared": true, "softening_radius_ft": 5.0, "notes": "by the window",
    });
    vec![
        body("account", "POST", "/accounts".into(), account),
        body("session", "POST", "/sessions".into(), json!({ "email": "reader@example.org", "password": "x" })),
        body("refresh", "POST", "/sessions/refresh".into(), json!({ "refresh_token": "efr_x" })),
        body("league", "POST", "/leagues".into(), json!({ "name": "Another", "time_zone": "Europe/Oslo" })),
        body(
            "invitation",
            "POST",
            format!("/leagues/{league}/invitations"),
            json!({ "role": "player", "expires_in_h": 24, "member_id": night.ann }),
        ),
        body("member", "POST", format!("/leagues/{league}/members"), member.clone()),
        body("member patch", "PATCH", format!("/members/{}", night.ann), merged(member, &json!({ "role": "player" }))),
        body("course", "POST", format!("/leagues/{league}/courses"), course()),
        body("course put", "PUT", format!("/courses/{}", night.course), course()),
        body("setup", "POST", format!("/leagues/{league}/setups"), setup.clone()),
        body("setup patch", "PATCH", format!("/setups/{}", night.setup), setup),
        body("season", "POST", format!("/leagues/{league}/seasons"), whole_season()),
        body("season patch", "PATCH", format!("/seasons/{}", night.season), patched_season()),
        body("competition", "POST", format!("/seasons/{}/competitions", night.season), whole_competition()),
        body("competition patch", "PATCH", format!("/competitions/{}", night.competition), whole_competition()),
        body("event", "POST", format!("/seasons/{}/events", night.season), whole_event(night)),
        body("event patch", "PATCH", format!("/events/{}", night.event), whole_event(night)),
        body("round", "POST", format!("/events/{}/rounds", night.event), whole_round(night)),
        body("round put", "PUT", format!("/rounds/{round_id}"), whole_round(night)),
    ]
}

fn whole_season() -> Value {
    merged(
        season(),
        &json!({
            "query_hours": 48, "flights": [{ "name": "A", "handicap_max": 9.9 }],
            "audit": { "false_alarm_pct": 5.0, "field_size": 200, "answer_days": 7, "softened_putts": "count" },
        }),
    )
}

/// A season's patch has no competitions: they are things of their own.
fn patched_season() -> Value {
    let mut season = whole_season();
    season.as_object_mut().expect("an object").remove("competitions");
    season
}

fn whole_competition() -> Value {
    json!({
        "name": "Table", "score": { "kind": "points", "table": { "-1": 3, "0": 2, "1": 1 } }, "basis": "net",
        "allowance_pct": 90, "side": { "kind": "player" }, "meeting": { "kind": "field" },
        "award": { "kind": "by_place", "table": [5, 3], "beyond": 1 }, "field": { "flights": [] },
        "counting": { "best": 5, "drop_worst": 1, "minimum": 1 }, "ties": ["countback", "firsts"], "position": 2,
    })
}

fn whole_event(night: &Night) -> Value {
    let tees = json!([{ "tee_id": night.tee, "member_id": night.ann }]);
    merged(event(&night.tee), &json!({ "tees": tees, "first_hole": 1, "playing_conditions": 0, "state": "open" }))
}

fn whole_round(night: &Night) -> Value {
    merged(round(&night.ann), &json!({ "outcome": "complete", "setup_id": night.setup }))
}

impl Body {
    fn send(&self, api: &Api, cast: &Cast, text: String) -> Call {
        let call = api.call(self.method, &self.path).by(&cast.olga).key(&id()).matching("*");
        call.raw("application/json", text)
    }

    async fn faults(&self, api: &Api, cast: &Cast, body: &Value) -> (Seen, Vec<(String, String)>) {
        let seen = self.send(api, cast, body.to_string()).send().await;
        assert_eq!(seen.status, 422, "{} with {body}: {seen}", self.name);
        let faults = seen.faults();
        (seen, faults)
    }
}

fn kinds_of_wrong(value: &Value) -> Vec<Value> {
    let all = [json!({}), json!([]), json!(7.25), json!("text"), json!(true)];
    let same = |other: &Value| std::mem::discriminant(value) == std::mem::discriminant(other);
    all.into_iter().filter(|other| !same(other)).collect()
}

/// Each field with each other type: named by its pointer.
#[tokio::test]
async fn a_field_of_another_type_is_named() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round_id = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    for body in bodies(&night, &round_id) {
        for (name, value) in body.good.as_object().expect("an object") {
            for wrong in kinds_of_wrong(value) {
                let (seen, faults) =
                    body.faults(&api, &cast, &merged(body.good.clone(), &json!({ name: wrong }))).await;
                assert!(faults.iter().any(|(pointer, _)| pointer.starts_with(&format!("/{name}"))), "{name}: {seen}");
            }
        }
    }
}

/// Unknown, missing and repeated fields, all three at once; and a body that is no object.
#[tokio::test]
async fn unknown_missing_and_repeated_fields_are_named_at_once() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round_id = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    for body in bodies(&night, &round_id) {
        let fields = body.good.as_object().expect("an object");
        let first = fields.keys().next().expect("a field").clone();
        let mut rest = fields.clone();
        rest.shift_remove(&first);
        let twice = rest.keys().next().unwrap_or(&first).clone();
        let mut members: Vec<String> = rest.iter().map(|(name, value)| format!("{name:?}:{value}")).collect();
        members.push(format!("\"colour\":\"green\",{twice:?}:{},{twice:?}:{}", fields[&twice], fields[&twice]));
        let text = format!("{{{}}}", members.join(","));
        let seen = body.send(&api, &cast, text).send().await;
        assert_eq!(seen.status, 422, "{}: {seen}", body.name);
        seen.clone().problem("validation");
        let faults = seen.faults();
        assert!(faults.contains(&("/colour".into(), "unknown-field".into())), "{}: {seen}", body.name);
        assert!(faults.contains(&(format!("/{twice}"), "repeated-field".into())), "{}: {seen}", body.name);
        if body.method != "PATCH" && first != twice {
            assert!(faults.contains(&(format!("/{first}"), "missing".into())), "{}: {seen}", body.name);
        }
        for odd in ["[]", "7", "null", "\"text\""] {
            let seen = body.send(&api, &cast, odd.into()).send().await;
            assert!(matches!(seen.status, 400 | 422), "{} as {odd}: {seen}", body.name);
        }
    }
}

/// Each limit: the last legal value passes, the first illegal one is named with the limit.
/// A body's field: its name and pointer, what is legal, what is not, the limits that are told.
type Limit<'a> = (&'a str, &'a str, Vec<Value>, Vec<Value>, Option<(f64, f64)>);

#[tokio::test]
async fn every_limit_holds_to_the_last_value() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round_id = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let all = bodies(&night, &round_id);
    let find = |name: &str| all.iter().find(|body| body.name == name).expect("a body");
    let long = |n: usize| json!("x".repeat(n));
    let one_hole = |n: i64| json!({ "number": n, "par": 4, "stroke_index": 1 });
    let limits: Vec<Limit<'_>> = vec![
        ("account", "/display_name", vec![long(1), long(80)], vec![long(0), long(81), json!("  ")], Some((1.0, 80.0))),
        ("account", "/email", vec![], vec![long(2), long(255)], Some((3.0, 254.0))),
        ("league", "/name", vec![long(1), long(80)], vec![long(0), long(81)], Some((1.0, 80.0))),
        ("league", "/name", vec![], vec![json!("a\u{7}b"), json!("a\tb")], None),
        ("league", "/time_zone", vec![json!("UTC")], vec![json!("Europe/Nowhere"), json!("")], None),
        ("invitation", "/role", vec![], vec![json!("owner")], None),
        ("invitation", "/expires_in_h", vec![], vec![json!(0), json!(2161), json!(1.5)], Some((1.0, 2160.0))),
        (
            "member",
            "/starting_handicap",
            vec![json!(54), json!(-10), json!(12.3), Value::Null],
            vec![json!(54.1), json!(-10.1), json!(12.34)],
            Some((-10.0, 54.0)),
        ),
        ("member", "/flight", vec![long(40), Value::Null], vec![long(41), long(0)], Some((1.0, 40.0))),
        (
            "course",
            "/tees/0/slope_rating",
            vec![json!(55), json!(155)],
            vec![json!(54), json!(156)],
            Some((55.0, 155.0)),
        ),
        (
            "course",
            "/tees/0/course_rating",
            vec![json!(20), json!(90), json!(71.3)],
            vec![json!(19.9), json!(90.1), json!(71.25)],
            Some((20.0, 90.0)),
        ),
        (
            "course",
            "/tees/0/holes/0/par",
            vec![json!(3), json!(6)],
            vec![json!(2), json!(7), json!(4.5)],
            Some((3.0, 6.0)),
        ),
        ("course", "/tees/0/holes/0/stroke_index", vec![], vec![json!(0), json!(19)], Some((1.0, 18.0))),
        ("course", "/tees/0/holes/0/number", vec![], vec![json!(0), json!(19)], Some((1.0, 18.0))),
        ("course", "/tees/0/nines/0/first_hole", vec![], vec![json!(2), json!(9)], Some((1.0, 10.0))),
        ("course", "/tees", vec![], vec![json!([])], Some((1.0, 20.0))),
        (
            "course",
            "/tees/0/holes",
            vec![],
            vec![json!([]), json!((1..20).map(one_hole).collect::<Vec<_>>())],
            Some((1.0, 18.0)),
        ),
        ("setup", "/sensor", vec![json!("infrared"), json!("other")], vec![json!("sonar")], None),
        (
            "setup",
            "/softening_radius_ft",
            vec![json!(0.01), json!(200), Value::Null],
            vec![json!(0), json!(200.01), json!(-1)],
            Some((0.0, 200.0)),
        ),
        ("setup", "/notes", vec![long(0), long(2000)], vec![long(2001)], Some((0.0, 2000.0))),
        (
            "competition",
            "/allowance_pct",
            vec![json!(0), json!(200), Value::Null],
            vec![json!(-1), json!(201), json!(95.5)],
            Some((0.0, 200.0)),
        ),
        (
            "competition",
            "/counting/best",
            vec![json!(1), json!(1000), Value::Null],
            vec![json!(0), json!(1001)],
            Some((1.0, 1000.0)),
        ),
        ("competition", "/counting/minimum", vec![json!(0)], vec![json!(-1), json!(1001)], Some((0.0, 1000.0))),
        ("season", "/concession_ft", vec![json!(0), json!(30)], vec![json!(-0.1), json!(30.1)], Some((0.0, 30.0))),
        (
            "season",
            "/starts_on",
            vec![json!("1900-01-01")],
            vec![json!("1899-12-31"), json!("2027-02-29"), json!("27-01-01")],
            None,
        ),
        ("competition", "/counting/drop_worst", vec![json!(0)], vec![json!(-1), json!(1001)], Some((0.0, 1000.0))),
        ("competition", "/position", vec![json!(1), json!(1000)], vec![json!(0), json!(1001)], Some((1.0, 1000.0))),
        ("competition", "/basis", vec![json!("gross"), json!("net")], vec![json!("both")], None),
        ("competition", "/score/kind", vec![], vec![json!("stableford")], None),
        ("competition", "/award/kind", vec![], vec![json!("by_luck")], None),
        ("competition", "/award/table", vec![], vec![json!([])], Some((1.0, 1000.0))),
        ("competition", "/award/beyond", vec![json!(0), json!(0.5)], vec![json!(-1), json!(2e6)], Some((0.0, 1e6))),
        ("season", "/audit/answer_days", vec![json!(1), json!(90)], vec![json!(0), json!(91)], Some((1.0, 90.0))),
        (
            "season",
            "/audit/false_alarm_pct",
            vec![json!(0.1), json!(50)],
            vec![json!(0), json!(50.1)],
            Some((0.0, 50.0)),
        ),
        ("event", "/stimp_ft", vec![json!(4), json!(16)], vec![json!(3.9), json!(16.1)], Some((4.0, 16.0))),
        ("event", "/playing_conditions", vec![json!(-1), json!(3)], vec![json!(-2), json!(4)], Some((-1.0, 3.0))),
        ("event", "/holes", vec![], vec![json!(0), json!(10), json!(27)], Some((9.0, 18.0))),
        ("event", "/first_hole", vec![], vec![json!(2)], Some((1.0, 10.0))),
        (
            "event",
            "/opens_at",
            vec![json!("2027-01-14T18:00:00+01:00")],
            vec![json!("2027-01-14"), json!("2027-01-14 18:00")],
            None,
        ),
        ("event", "/state", vec![json!("closed"), Value::Null], vec![json!("over")], None),
        ("event", "/tee_id", vec![], vec![json!("white"), json!("0198c2a42f7e7d6b9a1c000000000001")], None),
        ("round", "/client_round_id", vec![], vec![json!("one"), json!("")], None),
        ("round", "/outcome", vec![json!("no_return"), json!("disqualified")], vec![json!("lost")], None),
        (
            "round",
            "/holes/1/strokes",
            vec![json!(30), json!(2)],
            vec![json!(0), json!(31), json!(4.5)],
            Some((1.0, 30.0)),
        ),
        ("round", "/holes/1/putt_count", vec![json!(0), json!(3)], vec![json!(-1), json!(11)], Some((0.0, 10.0))),
        ("round", "/holes/1/number", vec![], vec![json!(0), json!(19)], Some((1.0, 18.0))),
        (
            "round",
            "/holes/0/putts/0/distance_ft",
            vec![json!(0.01), json!(200)],
            vec![json!(0), json!(-3), json!(200.01)],
            Some((0.0, 200.0)),
        ),
        (
            "round",
            "/holes/0/putts/0/elevation_in",
            vec![json!(240), json!(-240), Value::Null],
            vec![json!(240.1), json!(-240.1)],
            Some((-240.0, 240.0)),
        ),
        (
            "round",
            "/holes/0/putts/0/ball_speed_mph",
            vec![json!(0.01), json!(40), Value::Null],
            vec![json!(0), json!(40.1)],
            Some((0.0, 40.0)),
        ),
        (
            "round",
            "/holes/0/putts/0/start_line_deg",
            vec![json!(45), json!(-45)],
            vec![json!(45.1), json!(-45.1)],
            Some((-45.0, 45.0)),
        ),
        (
            "round",
            "/holes/0/putts/0/played_line_deg",
            vec![json!(45), json!(-45)],
            vec![json!(45.1), json!(-45.1)],
            Some((-45.0, 45.0)),
        ),
        ("round", "/holes/0/putts/0/result", vec![], vec![json!("lipped out")], None),
        (
            "round",
            "/holes/0/putts",
            vec![json!([]), Value::Null],
            vec![json!(vec![json!({ "distance_ft": 1, "result": "missed" }); 11])],
            Some((0.0, 10.0)),
        ),
    ];
    for (name, pointer, legal, illegal, told) in limits {
        let body = find(name);
        let with = |value: &Value| {
            let mut changed = body.good.clone();
            *changed.pointer_mut(pointer).unwrap_or_else(|| panic!("{name} has no {pointer}")) = value.clone();
            changed
        };
        for value in &legal {
            let seen = body.send(&api, &cast, with(value).to_string()).send().await;
            let faults = seen.faults();
            let named = faults.iter().any(|(at, code)| at == pointer && (told.is_none() || code == "out-of-range"));
            assert!(!named, "{name}{pointer} = {value} is legal: {seen}");
            assert!(seen.status < 500 && seen.status != 400, "{seen}");
        }
        for value in &illegal {
            let (seen, faults) = body.faults(&api, &cast, &with(value)).await;
            assert_eq!(faults.len(), 1, "one fault: {seen}");
            assert_eq!(faults[0].0, pointer, "{value}: {seen}");
            let error = &seen.json()["errors"][0];
            if let Some((min, max)) = told {
                assert_eq!((&error["min"], &error["max"]), (&json!(min), &json!(max)), "{name}{pointer} = {value}");
            }
        }
    }
}

/// A1: of a card with faults of shape everywhere, each is named, up to a hundred.
#[tokio::test]
async fn all_faults_are_named_at_once_up_to_a_hundred() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let mut body = round(&night.ann);
    body["played_on"] = json!("yesterday");
    body["holes"][0]["putts"][0]["distance_ft"] = json!(900);
    body["holes"][3]["strokes"] = json!("five");
    body["holes"][17] = json!({ "strokes": 4, "a/b~c": 1 });
    let seen = api.post(&path, &body).by(&cast.ann).key(&id()).refused(422, "validation").await;
    let due = [
        ("/played_on", "not-a-date"),
        ("/holes/0/putts/0/distance_ft", "out-of-range"),
        ("/holes/3/strokes", "wrong-type"),
        ("/holes/17/a~1b~0c", "unknown-field"),
        ("/holes/17/number", "missing"),
    ];
    let due: Vec<(String, String)> = due.iter().map(|(at, code)| ((*at).into(), (*code).into())).collect();
    assert_eq!(seen.faults(), due);
    let putts: Vec<Value> = (0..10).map(|_| json!({ "distance_ft": -1, "result": "?" })).collect();
    for hole in body["holes"].as_array_mut().expect("holes") {
        hole["putts"] = json!(putts);
    }
    let seen = api.post(&path, &body).by(&cast.ann).key(&id()).refused(422, "validation").await;
    assert_eq!(seen.faults().len(), 100, "at most 100 (A1)");
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 0);
}

/// Every rule of a card has a problem type of its own.
#[tokio::test]
async fn every_rule_of_a_card_has_its_own_problem() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let putt = |feet: f64, result: &str| json!({ "distance_ft": feet, "result": result });
    // Hole (by its place on the card), what stands there, the rule, where the fault is.
    let rules = [
        (4, json!({ "number": 4, "strokes": 4 }), "hole-repeated", "/holes/4/number"),
        (4, json!({ "number": 5, "not_played": true, "strokes": 4 }), "hole-not-played", "/holes/4/not_played"),
        (4, json!({ "number": 5 }), "strokes-missing", "/holes/4/strokes"),
        (
            4,
            json!({ "number": 5, "strokes": 4, "putts": [putt(3.0, "holed")], "putt_count": 1 }),
            "putt-count",
            "/holes/4/putt_count",
        ),
        (4, json!({ "number": 5, "strokes": 2, "putt_count": 3 }), "putts-exceed-strokes", "/holes/4/putt_count"),
        (
            4,
            json!({ "number": 5, "strokes": 1, "putts": [putt(9.0, "missed"), putt(1.0, "holed")] }),
            "putts-exceed-strokes",
            "/holes/4/putts",
        ),
        (
            4,
            json!({ "number": 5, "strokes": 2, "picked_up": true, "putt_count": 2 }),
            "putts-exceed-strokes",
            "/holes/4/strokes",
        ),
        (
            4,
            json!({ "number": 5, "strokes": 2, "picked_up": true,
                "putts": [putt(9.0, "missed"), putt(6.0, "missed"), putt(4.0, "conceded")] }),
            "putts-exceed-strokes",
            "/holes/4/strokes",
        ),
        (
            4,
            json!({ "number": 5, "strokes": 4, "putts": [putt(3.0, "missed")] }),
            "last-putt-unholed",
            "/holes/4/putts/0/result",
        ),
        (
            4,
            json!({ "number": 5, "strokes": 4, "putts": [putt(3.0, "holed"), putt(3.0, "holed")] }),
            "putt-after-holing",
            "/holes/4/putts/0/result",
        ),
        (
            4,
            json!({ "number": 5, "strokes": 4, "putts": [putt(3.1, "conceded")] }),
            "concession-too-long",
            "/holes/4/putts/0/distance_ft",
        ),
    ];
    for (place, hole, rule, pointer) in rules {
        let mut body = round(&night.ann);
        body["holes"][place] = hole.clone();
        if rule == "hole-repeated" {
            // The hole that is missing instead is a fault of its own: leave the card incomplete.
            body["outcome"] = json!("no_return");
        }
        let path = format!("/events/{}/rounds", night.event);
        let seen = api.post(&path, &body).by(&cast.ann).key(&id()).refused(422, rule).await;
        assert_eq!(seen.faults(), [(pointer.into(), rule.into())], "{hole}");
        assert_eq!(seen.json()["errors"][0]["type"], format!("/problems/{rule}"));
    }
    let mut missing = round(&night.ann);
    missing["holes"].as_array_mut().expect("holes").remove(6);
    let path = format!("/events/{}/rounds", night.event);
    let seen = api.post(&path, &missing).by(&cast.ann).key(&id()).refused(422, "hole-missing").await;
    assert_eq!(seen.faults(), [("/holes".into(), "hole-missing".into())]);
    // The limits of these rules: a concession of 3 ft, as many putts as strokes, a chip-in.
    let mut fine = round(&night.ann);
    fine["holes"][4] = json!({ "number": 5, "strokes": 4, "putts": [putt(3.0, "conceded")] });
    fine["holes"][5] = json!({ "number": 6, "strokes": 2, "putt_count": 2 });
    fine["holes"][6] = json!({ "number": 7, "strokes": 2, "putts": [] });
    fine["holes"][7] = json!({ "number": 8, "strokes": 3, "picked_up": true, "putt_count": 2 });
    fine["holes"][8] = json!({ "number": 9, "picked_up": true, "putts": [putt(9.0, "missed")] });
    // A concession settles nothing on a hole that was picked up: it may be as long as it likes and is no putt struck.
    let given = [putt(9.0, "missed"), putt(6.0, "missed"), putt(3.1, "conceded")];
    fine["holes"][9] = json!({ "number": 10, "strokes": 3, "picked_up": true, "putts": given });
    api.hand_in(&night.event, &cast.ann, &fine).await;
}

/// A1: what is wrong with single fields is told together with the rules that the other fields break, where these do not
/// hang on a field that is wrong.
#[tokio::test]
async fn rules_between_fields_are_told_together_with_wrong_fields() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let told = |seen: crate::support::harness::Seen| {
        let mut faults = seen.faults();
        faults.sort();
        faults
    };
    let due = |faults: &[(&str, &str)]| -> Vec<(String, String)> {
        faults.iter().map(|(pointer, code)| ((*pointer).into(), (*code).into())).collect()
    };
    // A course: a stroke index twice, beside a par and a stroke index out of range.
    let mut body = course();
    body["tees"][0]["holes"][0]["par"] = json!(9);
    body["tees"][0]["holes"][1]["stroke_index"] = json!(19);
    body["tees"][0]["holes"][5]["stroke_index"] = body["tees"][0]["holes"][4]["stroke_index"].clone();
    let path = format!("/leagues/{}/courses", night.league);
    let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, "validation").await;
    let wrong = [
        ("/tees/0/holes/0/par", "out-of-range"),
        ("/tees/0/holes/1/stroke_index", "out-of-range"),
        ("/tees/0/holes/5/stroke_index", "stroke-index-repeated"),
    ];
    assert_eq!(told(seen), due(&wrong));
    // A season with a competition: dates and places, beside an allowance; not dates of which one is wrong.
    let terms = json!({ "allowance_pct": 1000, "award": { "kind": "by_place", "table": [5, 6] } });
    let path = format!("/leagues/{}/seasons", night.league);
    let body = merged(season_with(&terms), &json!({ "ends_on": "2026-12-31" }));
    let of_terms =
        [("/competitions/0/allowance_pct", "out-of-range"), ("/competitions/0/award/table/1", "award-order")];
    let wrong = [of_terms[0], of_terms[1], ("/ends_on", "date-order")];
    let made = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, "validation").await;
    assert_eq!(told(made), due(&wrong));
    let body = merged(body, &json!({ "starts_on": "soon" }));
    let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, "validation").await;
    assert_eq!(told(seen), due(&[of_terms[0], of_terms[1], ("/starts_on", "not-a-date")]));
    // A competition as a patch, and a season.
    let at = format!("/competitions/{}", night.competition);
    let patched = api.patch(&at, &terms).by(&cast.olga).matching("*").refused(422, "validation").await;
    assert_eq!(told(patched), due(&[("/allowance_pct", "out-of-range"), ("/award/table/1", "award-order")]));
    let changes = json!({ "query_hours": -1, "ends_on": "2026-12-31" });
    let at = format!("/seasons/{}", night.season);
    let patched = api.patch(&at, &changes).by(&cast.olga).matching("*").refused(422, "validation").await;
    assert_eq!(told(patched), due(&[("/ends_on", "date-order"), ("/query_hours", "out-of-range")]));
    // An event.
    let changes = json!({ "stimp_ft": 99, "closes_at": "2027-01-14T16:00:00Z" });
    let path = format!("/seasons/{}/events", night.season);
    let body = merged(event(&night.tee), &changes);
    let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, "validation").await;
    assert_eq!(told(seen), due(&[("/closes_at", "time-order"), ("/stimp_ft", "out-of-range")]));
    // A card, handed in and corrected: strokes missing and too many putts, beside a distance.
    let mut body = round(&night.ann);
    body["holes"][0]["putts"][0]["distance_ft"] = json!(300);
    body["holes"][2] = json!({ "number": 3 });
    body["holes"][7] = json!({ "number": 8, "strokes": 1, "putt_count": 4 });
    let wrong = [
        ("/holes/0/putts/0/distance_ft", "out-of-range"),
        ("/holes/2/strokes", "strokes-missing"),
        ("/holes/7/putt_count", "putts-exceed-strokes"),
    ];
    let path = format!("/events/{}/rounds", night.event);
    let seen = api.post(&path, &body).by(&cast.ann).key(&id()).refused(422, "validation").await;
    assert_eq!(told(seen), due(&wrong));
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id());
    let seen = api.put(&at, &body).by(&cast.ann).matching("*").refused(422, "validation").await;
    assert_eq!(told(seen), due(&wrong));
}

/// A1: several kinds at once are one `validation` problem, each entry with its own type; nothing is half-written.
#[tokio::test]
async fn several_kinds_of_faults_are_one_problem() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let mut body = card(&night.ann, &[4; 18]);
    body["holes"][2] = json!({ "number": 3 });
    body["holes"][4] = json!({ "number": 5, "strokes": 4, "putts": [{ "distance_ft": 3.0, "result": "missed" }] });
    body["holes"][7] = json!({ "number": 8, "strokes": 1, "putt_count": 4 });
    let path = format!("/events/{}/rounds", night.event);
    let seen = api.post(&path, &body).by(&cast.ann).key(&id()).refused(422, "validation").await;
    let types: Vec<Value> =
        seen.json()["errors"].as_array().expect("errors").iter().map(|e| e["type"].clone()).collect();
    assert_eq!(types, ["/problems/strokes-missing", "/problems/last-putt-unholed", "/problems/putts-exceed-strokes"]);
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 0, "nothing is half-written");
    let board = api.get(format!("/events/{}/board", night.event)).by(&cast.ann).expect(200).await.json();
    assert_eq!(board["items"], json!([]));
}

#[tokio::test]
async fn a_course_fits_itself() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/courses", night.league);
    let changed = |pointer: &str, value: Value| {
        let mut body = course();
        *body.pointer_mut(pointer).expect("a place") = value;
        body
    };
    let mut ten = course();
    ten["tees"][1]["holes"] = json!(course()["tees"][0]["holes"].as_array().expect("holes")[..10]);
    let cases = [
        (ten, "hole-count", "/tees/1/holes"),
        (changed("/tees/0/holes/17/number", json!(1)), "hole-repeated", "/tees/0/holes/17/number"),
        (changed("/tees/1/holes/8/number", json!(18)), "hole-count", "/tees/1/holes/8/number"),
        (changed("/tees/0/holes/17/stroke_index", json!(1)), "stroke-index-repeated", "/tees/0/holes/17/stroke_index"),
        (changed("/tees/0/nines/1/first_hole", json!(1)), "nine-repeated", "/tees/0/nines/1/first_hole"),
    ];
    for (body, kind, pointer) in cases {
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults(), [(pointer.into(), kind.into())]);
    }
    let mut same_tee = course();
    same_tee["tees"][0]["id"] = json!(night.tee);
    api.post(&path, &same_tee).by(&cast.olga).key(&id()).refused(422, "tee-repeated").await;
}

/// 400 for what is no JSON, 415 with Accept for another media type.
#[tokio::test]
async fn what_is_no_json_is_refused_before_it_is_read() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round_id = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    for body in bodies(&night, &round_id) {
        for text in ["", "{", "{\"name\": NaN}", "{\"name\": Infinity}", "{} {}", "{'name': 1}", "\u{feff}{", "nul"] {
            body.send(&api, &cast, text.into()).refused(400, "malformed").await;
        }
        let deep = format!("{}{}", "[".repeat(33), "]".repeat(33));
        body.send(&api, &cast, format!("{{\"name\": {deep}}}")).refused(400, "malformed").await;
        for kind in ["text/plain", "application/x-www-form-urlencoded", "application/jsonp", "multipart/form-data"] {
            let call = api.call(body.method, &body.path).by(&cast.olga).key(&id()).matching("*");
            let seen = call.raw(kind, body.good.to_string()).refused(415, "unsupported-media-type").await;
            assert_eq!(seen.header("accept"), "application/json", "{}", body.name);
        }
    }
    // A merge patch has a media type of its own, and JSON may say its charset.
    let at = format!("/members/{}", night.ann);
    for kind in ["application/merge-patch+json", "application/json; charset=utf-8", "APPLICATION/JSON"] {
        let call = api.call("PATCH", &at).by(&cast.olga).matching("*");
        call.raw(kind, json!({ "flight": "A" }).to_string()).expect(200).await;
    }
}

/// Bits of a deflate stream, lowest first.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    used: u32,
}

impl Bits {
    fn push(&mut self, bits: u32, count: u32) {
        for n in 0..count {
            if self.used.is_multiple_of(8) {
                self.bytes.push(0);
            }
            let last = self.bytes.len() - 1;
            self.bytes[last] |= (((bits >> n) & 1) as u8) << (self.used % 8);
            self.used += 1;
        }
    }

    /// A Huffman code: its highest bit first.
    fn code(&mut self, bits: u32, count: u32) {
        self.push(bits.reverse_bits() >> (32 - count), count);
    }
}

/// Blanks beyond count, packed by gzip (RFC 1951 and 1952, fixed codes): one blank, then copies of 258 of them.
fn bomb(megabytes: usize) -> Vec<u8> {
    let mut bits = Bits::default();
    bits.push(0b1, 1);
    bits.push(0b01, 2);
    bits.code(0x30 + u32::from(b' '), 8);
    for _ in 0..megabytes * 1_000_000 / 258 {
        bits.code(0b1100_0101, 8);
        bits.code(0, 5);
    }
    bits.code(0, 7);
    let mut file = vec![0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255];
    file.extend(bits.bytes);
    // The checksum and the size, which nobody who stops in time gets to.
    file.extend([0; 8]);
    file
}

/// S25: 64 KiB, counted after unpacking.
#[tokio::test]
async fn a_body_has_at_most_64_kib() {
    let (api, cast) = shared().await;
    let padded = |total: usize| {
        let text = json!({ "name": "Padded", "time_zone": "UTC" }).to_string();
        format!("{text}{}", " ".repeat(total - text.len()))
    };
    let send = |text: Vec<u8>| api.call("POST", "/leagues").by(&cast.ann).key(&id()).raw("application/json", text);
    send(padded(65_536).into_bytes()).expect(201).await;
    send(padded(65_537).into_bytes()).refused(413, "payload-too-large").await;
    send(padded(1_000_000).into_bytes()).refused(413, "payload-too-large").await;
    let packed = bomb(40);
    assert!(packed.len() < 300_000);
    send(packed).with("content-encoding", "gzip").refused(413, "payload-too-large").await;
    send(b"no gzip at all".to_vec()).with("content-encoding", "gzip").refused(400, "malformed").await;
}

/// A body is packed by gzip, once, or not at all.
#[tokio::test]
async fn other_encodings_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let routes = [
        ("/leagues".to_owned(), "application/json"),
        (format!("/leagues/{}/rosters", night.league), "text/csv"),
        (format!("/seasons/{}/round-batches", night.season), "application/x-ndjson"),
    ];
    for (path, kind) in routes {
        for encoding in ["deflate", "br", "zstd", "gzip, gzip", "identity, gzip", "x"] {
            let call = api.call("POST", &path).by(&cast.olga).key(&id()).raw(kind, "{}");
            let seen = call.with("content-encoding", encoding).refused(415, "unsupported-media-type").await;
            assert_eq!(seen.header("accept-encoding"), "gzip", "{path} {encoding}");
        }
    }
}

/// Names are compared with each other, so their number is limited before that.
#[tokio::test]
async fn an_object_and_a_form_have_only_so_many_fields() {
    let (api, cast) = shared().await;
    let with = |fields: usize| {
        let fields: Vec<String> = (0..fields).map(|n| format!("\"f{n}\":1")).collect();
        api.call("POST", "/leagues")
            .by(&cast.ann)
            .key(&id())
            .raw("application/json", format!("{{{}}}", fields.join(",")))
    };
    with(200).refused(422, "validation").await;
    with(201).refused(400, "malformed").await;
    let form = |fields: usize| {
        let fields = vec!["email=nobody@example.org"; fields].join("&");
        let call = api.outside("POST", "/sign-in").raw("application/x-www-form-urlencoded", fields);
        call.with("sec-fetch-site", "same-origin")
    };
    assert_ne!(form(1_000).send().await.status, 400);
    assert_eq!(form(1_001).send().await.status, 400);
}

/// S25: numbers beyond all range are out of range; −0.0 is 0.
#[tokio::test]
async fn odd_numbers_are_refused_or_made_plain() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let with = |distance: &str, strokes: &str| {
        let mut body = round(&night.ann);
        body["holes"][0]["putts"][0]["distance_ft"] = json!("DISTANCE");
        body["holes"][1]["strokes"] = json!("STROKES");
        let text = body.to_string().replace("\"DISTANCE\"", distance).replace("\"STROKES\"", strokes);
        api.call("POST", &path).by(&cast.ann).key(&id()).raw("application/json", text)
    };
    for number in ["1e400", "-1e400", "9223372036854775808", "18446744073709551616", "1e19"] {
        let seen = with(number, "5").refused(422, "validation").await;
        assert_eq!(seen.faults(), [("/holes/0/putts/0/distance_ft".into(), "out-of-range".into())], "{number}");
        let seen = with("31", number).refused(422, "validation").await;
        assert_eq!(seen.faults(), [("/holes/1/strokes".into(), "out-of-range".into())], "{number}");
    }
    for number in ["NaN", "Infinity", "-NaN", "0x1f", "1.", ".5", "+5", "05"] {
        with(number, "5").refused(400, "malformed").await;
    }
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 0);
    // Whole numbers may be written otherwise, and minus zero is zero.
    let mut body = round(&night.ann);
    body["holes"][0]["putts"][0]["elevation_in"] = json!(-0.0);
    body["holes"][0]["putts"][0]["start_line_deg"] = json!(-0.0);
    body["holes"][1]["strokes"] = json!("STROKES");
    let text = body.to_string().replace("\"STROKES\"", "5.0");
    let call = api.call("POST", &path).by(&cast.ann).key(&id()).raw("application/json", text);
    let stored = call.expect(201).await;
    let putt = &stored.json()["holes"][0]["putts"][0];
    for name in ["elevation_in", "start_line_deg"] {
        assert_eq!(putt[name].to_string(), "0.0", "{name}: −0.0 becomes 0 (S25)");
    }
    let again = api.get(format!("/rounds/{}", stored.id())).by(&cast.ann).expect(200).await;
    // Places are told where one round is asked for.
    let (mut again, mut stored) = (again.json(), stored.json());
    for answer in [&mut again, &mut stored] {
        answer.as_object_mut().expect("a round").remove("competitions");
    }
    assert_eq!(again, stored);
    let season = merged(season(), &json!({ "concession_ft": -0.0 }));
    let path = format!("/leagues/{}/seasons", night.league);
    let season = api.post(path, &season).by(&cast.olga).key(&id()).expect(201).await;
    assert_eq!(season.json()["concession_ft"].to_string(), "0.0", "−0.0 becomes 0 (S25)");
}

/// Parameters that a route does not have are refused, and so are repeated ones.
#[tokio::test]
async fn unknown_parameters_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let league = &night.league;
    let cases = [
        ("/me?fields=all".to_owned(), "fields"),
        (format!("/leagues/{league}/members?limt=5"), "limt"),
        (format!("/leagues/{league}/members?limit=5&limit=6"), "limit"),
        (format!("/seasons/{}/standings?Flight=A", night.season), "Flight"),
        ("/pace?stimp_ft=10&access_token=x".to_owned(), "access_token"),
        ("/me?=nameless".to_owned(), ""),
        (format!("/me?{}=1", "n".repeat(101)), &"n".repeat(100)),
        ("/me?line%0abreak=1".to_owned(), "linebreak"),
    ];
    for (path, parameter) in cases {
        let seen = api.get(&path).by(&cast.ann).refused(400, "unknown-parameter").await;
        assert_eq!(seen.json()["parameter"], parameter, "{path}");
    }
}

/// A2: pages of 1 to 200, cursors that nobody can make up.
#[tokio::test]
async fn pages_have_limits_and_cursors_are_sealed() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/members", night.league);
    for limit in ["0", "201", "-1", "1.5", "all", "", "99999999999999999999"] {
        let seen = api.get(format!("{path}?limit={limit}")).by(&cast.ann).refused(422, "validation").await;
        assert_eq!(seen.json()["parameter"], "limit");
    }
    for limit in [1, 200] {
        api.get(format!("{path}?limit={limit}")).by(&cast.ann).expect(200).await;
    }
    // Four members, page by page: each once, in order, the last page without a link.
    let whole = api.get(&path).by(&cast.ann).expect(200).await.json()["items"].clone();
    let (mut walked, mut next, mut pages) = (Vec::new(), format!("/api/v1{path}?limit=3"), 0);
    let cursor = loop {
        let page = api.outside("GET", &next).by(&cast.ann).expect(200).await;
        pages += 1;
        walked.extend(page.json()["items"].as_array().expect("items").clone());
        let Some(cursor) = page.json()["next"].as_str().map(str::to_owned) else {
            assert_eq!(page.header("link"), "");
            break next.split_once("after=").expect("a second page").1.to_owned();
        };
        let link = page.header("link").to_owned();
        next = link.strip_prefix('<').and_then(|link| link.split_once('>')).expect("a link (RFC 8288)").0.to_owned();
        assert_eq!(link, format!("<{next}>; rel=\"next\""));
        assert!(next.ends_with(&format!("after={cursor}")));
    };
    assert_eq!((json!(walked), pages), (whole, 2));
    let flipped = cursor.char_indices().map(|(n, c)| if n == 20 { if c == 'A' { 'B' } else { 'A' } } else { c });
    let tampered =
        [flipped.collect::<String>(), cursor[1..].to_owned(), format!("{cursor}A"), "x".into(), "%ff".into(), id()];
    for bad in &tampered {
        api.get(format!("{path}?after={bad}")).by(&cast.ann).refused(400, "bad-cursor").await;
    }
    // One of another collection is none of this one.
    let courses = format!("/leagues/{}/courses?after={cursor}", night.league);
    api.get(courses).by(&cast.ann).refused(400, "bad-cursor").await;
    // A limit in the middle of a walk may change.
    api.get(format!("{path}?after={cursor}&limit=1")).by(&cast.ann).expect(200).await;
}

/// The pace table's parameters.
#[tokio::test]
async fn the_pace_table_has_its_limits() {
    let (api, _) = shared().await;
    let table = api.get("/pace?stimp_ft=10&from_ft=5&to_ft=20&step_ft=5").expect(200).await.json();
    let rows = table["items"].as_array().expect("rows");
    let distances: Vec<f64> = rows.iter().filter_map(|row| row["distance_ft"].as_f64()).collect();
    assert_eq!(distances, [5.0, 10.0, 15.0, 20.0]);
    let speeds: Vec<f64> = rows.iter().filter_map(|row| row["ball_speed_mph"].as_f64()).collect();
    assert!(speeds.windows(2).all(|pair| pair[0] < pair[1]), "a longer putt needs more speed: {speeds:?}");
    assert_eq!(
        api.get("/pace?stimp_ft=10&from_ft=1&to_ft=200&step_ft=0.2").expect(200).await.json()["items"]
            .as_array()
            .map(Vec::len),
        Some(996)
    );
    for bad in [
        "",
        "stimp_ft=3.9",
        "stimp_ft=16.1",
        "stimp_ft=NaN",
        "stimp_ft=1e400",
        "stimp_ft=10&from_ft=0",
        "stimp_ft=10&to_ft=201",
        "stimp_ft=10&step_ft=0",
        "stimp_ft=10&step_ft=-1",
        "stimp_ft=10&from_ft=9&to_ft=8",
        "stimp_ft=10&from_ft=1&to_ft=200&step_ft=0.1",
    ] {
        let seen = api.get(format!("/pace?{bad}")).refused(400, "malformed").await;
        assert!(seen.json()["parameter"].is_string(), "{bad}: {seen}");
    }
}

/// What stands in a name that is not one: nobody sees it, or it turns what stands after it.
const UNSEEN: [&str; 5] = ["A\u{202e}nn", "A\u{200b}nn", "Ann\n", "A\u{0}nn", "\u{feff}Ann"];

/// S24: wherever a name or a label is taken, characters that nobody sees are refused, and the field is named.
#[tokio::test]
async fn names_hold_no_character_that_nobody_sees() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round_id = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let mut bodies = bodies(&night, &round_id);
    let more = |name, path: String, good| Body { name, method: "POST", path, good };
    let carried = json!({ "member_id": night.ann, "label": "Autumn", "value": 3.0, "source": "the old table" });
    bodies.push(more("carried", format!("/seasons/{}/carried-results", night.season), carried));
    let entry = json!({ "member_id": night.ben, "slot": "19:00", "bay": "2" });
    bodies.push(more("entry", format!("/events/{}/entries", night.event), entry));
    let places = [
        ("account", "/display_name"),
        ("league", "/name"),
        ("member", "/display_name"),
        ("member", "/flight"),
        ("member patch", "/display_name"),
        ("course", "/name"),
        ("course", "/tees/1/name"),
        ("course put", "/tees/0/name"),
        ("setup", "/label"),
        ("setup patch", "/label"),
        ("season", "/name"),
        ("season", "/flights/0/name"),
        ("season patch", "/flights/0/name"),
        ("event", "/name"),
        ("event", "/tees/0/flight"),
        ("event patch", "/name"),
        ("carried", "/label"),
        ("entry", "/slot"),
        ("entry", "/bay"),
    ];
    for (name, pointer) in places {
        let body = bodies.iter().find(|body| body.name == name).expect("a body");
        for unseen in UNSEEN {
            let mut sent = body.good.clone();
            if pointer == "/tees/0/flight" {
                sent["tees"][0] = json!({ "tee_id": night.tee, "flight": unseen });
            }
            *sent.pointer_mut(pointer).expect("a field") = json!(unseen);
            let (seen, faults) = body.faults(&api, &cast, &sent).await;
            assert_eq!(faults, [(pointer.to_owned(), "invisible-character".to_owned())], "{name}: {seen}");
        }
        // What some scripts and emoji are spelt with is a name.
        let schema = evenfield::wire::body::account::registration();
        let spelt = json!({ "email": "a@b", "password": "x", "display_name": "علی\u{200c}رضا ⛳\u{fe0f}" }).to_string();
        let node = evenfield::wire::json::Node::parse(spelt.as_bytes()).expect("JSON");
        assert!(schema.check(&node).is_empty());
    }
    // A roster in CSV, and forms of pages.
    let path = format!("/leagues/{}/rosters", night.league);
    let roster =
        api.call("POST", &path).raw("text/csv", "display_name\nWilma\nA\u{202e}nn\n").by(&cast.olga).key(&id());
    assert_eq!(roster.expect(422).await.faults(), [("/3/display_name".to_owned(), "invisible-character".to_owned())]);
    let email = format!("{}@example.org", id());
    let fields =
        [("email", email.as_str()), ("password", crate::support::harness::PASSWORD), ("display_name", "A\u{202e}nn")];
    let form = crate::support::browsing::form(&api, "/register", &fields).with("sec-fetch-site", "same-origin");
    assert!(form.expect(422).await.text().contains("must be one line of visible characters, without U+202E"));
    let cookie = crate::support::browsing::signed_in(&api, &cast.olga.email).await;
    let fields = [("name", "A\u{202e}nn"), ("time_zone", "Europe/Oslo")];
    let seen = crate::support::browsing::send(&api, "/leagues/new", &cookie, &fields).expect(422).await;
    assert!(seen.text().contains("without U+202E"), "{seen}");
}
