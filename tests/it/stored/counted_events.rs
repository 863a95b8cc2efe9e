//! Competitions that count some events, with weights, or several cards as one result.

use crate::support::harness::{Api, Cast, Night, card, id, merged, own, par, shared, text};
use serde_json::{Value, json};

/// A card of par over 18 holes with so many strokes over it on the first hole.
fn over(member: &str, over: u8) -> Value {
    let mut strokes: Vec<u8> = (1..=18).map(par).collect();
    strokes[0] += over;
    card(member, &strokes)
}

async fn add(api: &Api, cast: &Cast, night: &Night, terms: Value) -> String {
    let path = format!("/seasons/{}/competitions", night.season);
    api.post(path, &terms).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// Names, positions and totals of a competition's table, in order.
async fn rows(api: &Api, cast: &Cast, path: &str) -> Vec<(String, Value, Value)> {
    let table = api.get(path).by(&cast.ben).expect(200).await.json();
    let row = |row: &Value| (text(row, "display_name"), row["position"].clone(), row["total"].clone());
    table["items"].as_array().expect("rows").iter().map(row).collect()
}

fn due<const N: usize>(rows: [(&str, Value, Value); N]) -> Vec<(String, Value, Value)> {
    rows.map(|(name, position, total)| (name.to_owned(), position, total)).to_vec()
}

async fn nights(api: &Api, cast: &Cast, night: &Night) -> [String; 4] {
    let mut events = vec![night.event.clone()];
    for hour in 1..4 {
        let opens_at = format!("2027-01-14T17:0{hour}:00Z");
        events
            .push(api.event(cast, night, json!({ "name": format!("Night {}", hour + 1), "opens_at": opens_at })).await);
    }
    events.try_into().expect("four nights")
}

/// Strokes over par of 72 on four nights; everybody off 0, and a stroke over on a hole of par costs a point of 36.
/// ```text
///            night 1  2  3  4
/// Ann              0  1  2  0
/// Ben              1  0  –  0
/// Sam              –  0  4  –
///
/// Points: night 1 twice, nights 2 and 3 added up
///   Ann 2 · 36 + 35 + 34 = 141   Ben 2 · 35 + 36 = 106   Sam 36 + 34 = 70 (a hole scores 0 at 2 over and more)
/// Cup: strokes of nights 2 and 3 added up, 5, 3 and 1 for places, times 1.5
///   Ann 73 + 74 = 147: 7.5   Sam 72 + 76 = 148: 4.5   Ben has no second card: 0
///   after night 2: Ben and Sam 72, (5 + 3) / 2 · 1.5 = 6; Ann 73, 1 · 1.5
/// Best: the better of nights 2 and 3, strokes
///   Ben 72   Sam 72   Ann 73
/// ```
#[tokio::test]
async fn a_competition_counts_the_events_that_it_names() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let events = nights(&api, &cast, &night).await;
    let [one, two, three, four] = &events;
    let points = json!({ "name": "Points", "position": 2, "score": { "kind": "points" }, "allowance_pct": 100,
        "events": [{ "event_ids": [one], "weight": 2 }, { "event_ids": [two, three] }] });
    let points = add(&api, &cast, &night, points).await;
    let cup = json!({ "name": "Cup", "position": 3, "award": { "kind": "by_place", "table": [5, 3, 1] },
        "events": [{ "event_ids": [two, three], "weight": 1.5, "take": "sum" }] });
    let cup = add(&api, &cast, &night, cup).await;
    let best = json!({ "name": "Best", "position": 4, "events": [{ "event_ids": [three, two], "take": "best" }] });
    let best = add(&api, &cast, &night, best).await;
    let mut first = String::new();
    let cards = [
        (one, 0, 0),
        (one, 1, 1),
        (two, 0, 1),
        (two, 1, 0),
        (two, 2, 0),
        (three, 0, 2),
        (three, 2, 4),
        (four, 0, 0),
        (four, 1, 0),
    ];
    for (event, who, strokes) in cards {
        let by = [&cast.ann, &cast.ben, &cast.sam][who];
        let member = [&night.ann, &night.ben, &night.sam][who];
        let handed = api.hand_in(event, by, &over(member, strokes)).await.id();
        first = if first.is_empty() { handed } else { first };
    }
    let [points_table, cup_table, best_table] =
        [&points, &cup, &best].map(|id| format!("/competitions/{id}/standings"));
    let place = |n: i32| json!(n);
    let due_points = due([("Ann", place(1), json!(141)), ("Ben", place(2), json!(106)), ("Sam", place(3), json!(70))]);
    assert_eq!(rows(&api, &cast, &points_table).await, due_points);
    let due_cup = due([("Ann", place(1), json!(7.5)), ("Sam", place(2), json!(4.5)), ("Ben", place(3), json!(0))]);
    assert_eq!(rows(&api, &cast, &cup_table).await, due_cup);
    let mut of_best = rows(&api, &cast, &best_table).await;
    of_best[..2].sort_by(|a, b| a.0.cmp(&b.0));
    let due_best = due([("Ben", place(1), json!(72)), ("Sam", place(1), json!(72)), ("Ann", place(3), json!(73))]);
    assert_eq!(of_best, due_best);
    let back = rows(&api, &cast, &format!("{cup_table}?after_event={two}")).await;
    assert_eq!(back[2], ("Ann".to_owned(), place(3), json!(1.5)));
    assert!(back[..2].iter().all(|row| (&row.1, &row.2) == (&place(1), &json!(6))), "{back:?}");

    // The cells: one for each result, at its latest event.
    let table = api.get(&points_table).by(&cast.ben).expect(200).await.json();
    assert_eq!(table["event_ids"], json!([one, two, three]));
    let cells = &table["items"][0]["results"];
    assert_eq!((&cells[0]["event_id"], &cells[0]["value"], cells[0].get("event_ids")), (&json!(one), &json!(72), None));
    assert_eq!((&cells[1]["event_id"], &cells[1]["value"]), (&json!(three), &json!(69)));
    assert_eq!(cells[1]["event_ids"], json!([two, three]));
    assert_eq!(table["items"][0]["events_played"], 2);

    // The card, its working and the boards.
    let shown = api.get(format!("/rounds/{first}")).by(&cast.ben).expect(200).await.json();
    let counts: Vec<&Value> =
        shown["competitions"].as_array().expect("competitions").iter().map(|own| &own["competition_id"]).collect();
    assert_eq!(counts, [&json!(night.competition), &json!(points)]);
    assert_eq!((&shown["competitions"][1]["place"], &shown["competitions"][1]["value"]), (&json!(1), &json!(72)));
    let working = format!("/rounds/{first}/working?competition={points}");
    let working = api.get(&working).by(&cast.ben).expect(200).await.json();
    let last = working["steps"].as_array().and_then(|steps| steps.last()).expect("a step");
    assert_eq!((&last["formula"], &last["result"]), (&json!("unweighted_value * weight"), &json!(72)));
    let board = |event: &str, by: &str| format!("/events/{event}/board?competition={by}");
    let seen = api.get(board(three, &points)).by(&cast.ben).expect(200).await.json();
    for row in seen["items"].as_array().expect("rows") {
        assert_eq!((&row["position"], &row["value"]), (&Value::Null, &Value::Null), "the table has the result");
    }
    for path in [board(four, &points), board(one, &cup)] {
        api.get(&path).by(&cast.ben).refused(422, "unknown-competition").await;
    }
    let terms = api.get(format!("/competitions/{points}/terms")).by(&cast.ben).expect(200).await.text();
    assert!(terms.contains("Second night, times 2; Night 2 and Night 3, added up as one result."), "{terms}");

    // An event that no competition counts: cards without places, the whole course handicap.
    let only = json!({ "events": [{ "event_ids": [one] }] });
    let main = format!("/competitions/{}", night.competition);
    api.patch(&main, &only).by(&cast.olga).matching("*").expect(200).await;
    let seen = api.get(format!("/events/{four}/board")).by(&cast.ben).expect(200).await.json();
    assert_eq!((&seen["competition_id"], &seen["cards_in"]), (&Value::Null, &json!(2)));
    assert_eq!((&seen["items"][0]["position"], &seen["items"][0]["gross"]), (&Value::Null, &json!(72)));
    let sheet = api.get(format!("/events/{four}/entry-sheet")).by(&cast.sam).expect(200).await.json();
    assert_eq!(sheet["strokes"], json!([]));
    // Night 2 goes by the first competition that counts it.
    let seen = api.get(format!("/events/{two}/board")).by(&cast.ben).expect(200).await.json();
    assert_eq!(seen["competition_id"], json!(points));
    crate::stored::journal_bundle::clean(&api).await;
    let bundle = crate::stored::journal_bundle::bundle(&api, &night.league, &cast.olga).await;
    let report = crate::stored::matches::report(&bundle, &night.season);
    for (id, path) in [(&points, &points_table), (&cup, &cup_table), (&best, &best_table)] {
        let reported =
            report["competitions"].as_array().expect("competitions").iter().find(|one| one["id"] == json!(id));
        let table = api.get(path).by(&cast.ben).expect(200).await.json();
        assert_eq!(reported.expect("it is reported")["standings"], table["items"]);
    }
    let other = own();
    let code = crate::stored::journal_bundle::import(&other.server.app.leagues, &bundle).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    let here = api.get(&cup_table).by(&cast.olga).expect(200).await.json();
    assert_eq!(other.get(&cup_table).by(&mover).expect(200).await.json(), here);

    // Once night 1 is final what is said of it stands; later events can still be named.
    api.settle(one, &cast.olga).await;
    let at = format!("/competitions/{points}");
    let heavier = json!({ "events": [{ "event_ids": [one], "weight": 3 }, { "event_ids": [two, three] }] });
    let refused = api.patch(&at, &heavier).by(&cast.olga).matching("*").refused(409, "terms-settled").await;
    assert!(text(&refused.json(), "detail").contains("events"), "{refused}");
    let more =
        json!({ "events": [{ "event_ids": [one], "weight": 2 }, { "event_ids": [two] }, { "event_ids": [four] }] });
    api.patch(&at, &more).by(&cast.olga).matching("*").expect(200).await;
    let due_more = due([("Ann", place(1), json!(143)), ("Ben", place(2), json!(142)), ("Sam", place(3), json!(36))]);
    assert_eq!(rows(&api, &cast, &points_table).await, due_more);
}

#[tokio::test]
async fn events_that_mean_nothing_together_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let other = api.night(&cast).await;
    let events = nights(&api, &cast, &night).await;
    let [one, two, ..] = &events;
    let nine = json!({ "tee_id": night.nine_tee, "holes": 9, "name": "Nine" });
    let path = format!("/competitions/{}", night.competition);
    api.patch(&path, &json!({ "events": [{ "event_ids": [one] }] })).by(&cast.olga).matching("*").expect(200).await;
    let nine = api.event(&cast, &night, nine).await;
    let path = format!("/seasons/{}/competitions", night.season);
    let places = json!({ "kind": "by_place", "table": [3, 2] });
    let named = |results: Value| json!({ "events": results, "award": places });
    let ids = |n: usize| (0..n).map(|_| id()).collect::<Vec<String>>();
    let cases = [
        (named(json!([{ "event_ids": [other.event] }])), "unknown-event", "/events/0/event_ids/0"),
        (named(json!([{ "event_ids": [one, one] }])), "repeated-id", "/events/0/event_ids/1"),
        (named(json!([{ "event_ids": [one], "weight": 0 }])), "validation", "/events/0/weight"),
        (named(json!([{ "event_ids": [one], "weight": 100.5 }])), "validation", "/events/0/weight"),
        (named(json!([{ "event_ids": [one], "take": "worst" }])), "validation", "/events/0/take"),
        (named(json!([{ "event_ids": [] }])), "validation", "/events/0/event_ids"),
        (named(json!([{ "event_ids": ids(21) }])), "validation", "/events/0/event_ids"),
        (named(json!([])), "validation", "/events"),
        (
            named(json!(ids(201).into_iter().map(|id| json!({ "event_ids": [id] })).collect::<Vec<_>>())),
            "validation",
            "/events",
        ),
        (json!({ "events": [{ "event_ids": [one], "weight": 2 }] }), "competition-misfit", "/events/0/weight"),
        (json!({ "events": [{ "event_ids": [one] }, { "event_ids": [nine] }] }), "unequal-holes", "/events"),
        (json!({ "events": [{ "event_ids": [one, two] }, { "event_ids": [nine] }] }), "unequal-holes", "/events"),
        (named(json!([{ "event_ids": [one, nine], "take": "best" }])), "unequal-holes", "/events"),
    ];
    for (terms, kind, pointer) in cases {
        let body = merged(json!({ "name": "X" }), &terms);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        let pointers: Vec<String> = seen.faults().into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, [pointer], "{terms}");
    }
    // Places are of events of any length, and 18 holes and nine twice are as many.
    add(&api, &cast, &night, merged(json!({ "name": "P" }), &named(json!([{ "event_ids": [one, nine] }])))).await;
    let both = json!([{ "event_ids": [one, two], "take": "best" }]);
    let both = add(&api, &cast, &night, merged(json!({ "name": "B" }), &named(both))).await;
    let sum = json!({ "name": "S", "meeting": { "kind": "sum", "of": [both] } });
    let seen = api.post(&path, &sum).by(&cast.olga).key(&id()).refused(422, "competition-misfit").await;
    assert_eq!(seen.faults()[0].0, "/meeting/of/0");
    let at = format!("/events/{nine}");
    api.delete(&at).by(&cast.olga).matching("*").refused(409, "competition-in-use").await;

    // Fixtures are of events that count.
    let single =
        json!({ "name": "Ladder", "meeting": { "kind": "match" }, "events": [{ "event_ids": [one], "weight": 2 }] });
    let single = add(&api, &cast, &night, single).await;
    let fixtures = format!("/competitions/{single}/fixtures");
    let of =
        |event: &str| json!([{ "event_id": event, "a": { "member_id": night.ann }, "b": { "member_id": night.ben } }]);
    let seen = api.post(&fixtures, &of(two)).by(&cast.olga).key(&id()).refused(422, "fixture").await;
    assert_eq!(seen.faults()[0].0, "/0/event_id");
    api.post(&fixtures, &of(one)).by(&cast.olga).key(&id()).expect(201).await;
    let moved = json!({ "events": [{ "event_ids": [two] }] });
    let at = format!("/competitions/{single}");
    api.patch(&at, &moved).by(&cast.olga).matching("*").refused(409, "has-fixtures").await;
    // The night is worth twice the point of the match: Ann wins by a stroke.
    api.hand_in(one, &cast.ann, &over(&night.ann, 0)).await;
    api.hand_in(one, &cast.ben, &over(&night.ben, 1)).await;
    let seen = rows(&api, &cast, &format!("/competitions/{single}/standings")).await;
    assert_eq!(seen, due([("Ann", json!(1), json!(2)), ("Ben", json!(2), json!(0))]));
}

/// Ann, Ben and Sam play two nights for points, then a final over 18 holes of par 72.
/// ```text
/// points     Ann 36 + 35 = 71 first, Ben 36 + 34 = 70 second, Sam 35 third; Olga has none
/// starts     −3, −1.5 and 0; whoever is beyond the table 0
/// final      Ann 75 (+3): 0   Ben 73 (+1): −0.5   Sam 72: 0   Olga 71 (−1): −1; level, the better score is Sam’s
/// ```
#[tokio::test]
async fn a_final_starts_by_another_table() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let [one, two, last, _] = nights(&api, &cast, &night).await;
    let start = json!({ "competition_id": night.competition, "table": [-3, -1.5, 0] });
    let only = json!([{ "event_ids": [last] }]);
    let path = format!("/seasons/{}/competitions", night.season);
    let finale = json!({ "name": "Final", "position": 2, "events": only, "start": start });
    let start_by = |id: Value, table: Value| json!({ "start": { "competition_id": id, "table": table } });
    let cases = [
        (json!({ "score": { "kind": "points" } }), "competition-misfit", "/start"),
        (json!({ "meeting": { "kind": "season" } }), "competition-misfit", "/start"),
        (start_by(json!(id()), json!([0])), "unknown-competition", "/start/competition_id"),
        (start_by(json!(night.competition), json!([])), "validation", "/start/table"),
        (start_by(json!(night.competition), json!([1000.5])), "validation", "/start/table/0"),
    ];
    for (terms, kind, pointer) in cases {
        let body = merged(finale.clone(), &terms);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{terms}");
    }
    let made = add(&api, &cast, &night, finale).await;
    // The other table cannot rest on this one, nor go.
    let sum = json!({ "name": "S", "meeting": { "kind": "sum", "of": [made] }, "position": 3 });
    let sum = add(&api, &cast, &night, sum).await;
    let circle = json!({ "start": { "competition_id": sum, "table": [0] } });
    let at = format!("/competitions/{made}");
    let seen = api.patch(&at, &circle).by(&cast.olga).matching("*").refused(422, "competition-misfit").await;
    assert_eq!(seen.faults()[0].0, "/start/competition_id");
    let cards = [(&one, 0, 0), (&one, 1, 0), (&one, 2, 1), (&two, 0, 1), (&two, 1, 2)];
    let finals = [(&last, 0, 3), (&last, 1, 1), (&last, 2, 0)];
    for (event, who, strokes) in cards.into_iter().chain(finals) {
        let by = [&cast.ann, &cast.ben, &cast.sam][who];
        let member = [&night.ann, &night.ben, &night.sam][who];
        api.hand_in(event, by, &over(member, strokes)).await;
    }
    let mut under: Vec<u8> = (1..=18).map(par).collect();
    under[3] -= 1;
    api.hand_in(&last, &cast.olga, &card(&night.olga, &under)).await;
    let table = format!("{at}/standings");
    let seen = rows(&api, &cast, &table).await;
    assert_eq!(seen[0], ("Olga".into(), json!(1), json!(-1)));
    assert_eq!(seen[1], ("Ben".into(), json!(2), json!(-0.5)));
    assert_eq!(seen[2..], due([("Sam", json!(3), json!(0)), ("Ann", json!(4), json!(0))]));
    let whole = api.get(&table).by(&cast.ben).expect(200).await.json();
    assert_eq!((&whole["items"][1]["start"], &whole["items"][1]["results"][0]["value"]), (&json!(-1.5), &json!(1)));
    let csv = api.get(&table).by(&cast.ben).with("accept", "text/csv").expect(200).await.text();
    assert!(
        csv.starts_with("position,tied,member_id,display_name,flight,events_played,events_counted,total,"),
        "{csv}"
    );
    assert!(csv.lines().next().is_some_and(|head| head.contains(",start,")), "{csv}");
    let terms = api.get(format!("{at}/terms")).by(&cast.ann).expect(200).await.text();
    assert!(terms.contains("by their place in Winter 2027 before the first event: -3, -1.5, 0;"), "{terms}");
    api.delete(&at).by(&cast.olga).matching("*").refused(409, "competition-in-use").await;
    crate::stored::journal_bundle::clean(&api).await;
}
