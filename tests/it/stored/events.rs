//! Events: states by clock and by hand, final, the board and its stream.

use crate::support::harness::{
    Api, Cast, Night, card, course, event, id, merged, own, par, round, season_with, shared,
};
use serde_json::{Value, json};

#[tokio::test]
async fn an_event_opens_and_closes_by_its_times() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    // From an hour ahead to two hours ahead.
    let times = json!({ "opens_at": "2027-01-14T20:00:00Z", "closes_at": "2027-01-14T20:05:00+00:00" });
    let at = format!("/events/{}", api.event(&cast, &night, times).await);
    let mut ann = cast.ann.clone();
    for (pass, state) in [(0, "scheduled"), (3599, "scheduled"), (1, "open"), (299, "open"), (1, "closed")] {
        api.server.pass(pass);
        if pass > 600 {
            ann = api.sign_in(&ann.email).await;
        }
        let seen = api.get(&at).by(&ann).expect(200).await.json();
        assert_eq!((&seen["state"], &seen["state_by_hand"]), (&json!(state), &json!(false)));
        let code = if state == "scheduled" { 409 } else { 422 };
        // A card without holes: refused for the event's state, or for itself; after closing a card may be late.
        let empty = merged(round(&night.ann), &json!({ "holes": [] }));
        api.post(format!("{at}/rounds"), &empty).by(&ann).key(&id()).expect(code).await;
    }
}

#[tokio::test]
async fn a_state_set_by_hand_holds_until_it_is_taken_back() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    for state in ["scheduled", "closed", "open"] {
        let seen = api.patch(&at, &json!({ "state": state })).by(&cast.olga).matching("*").expect(200).await.json();
        assert_eq!((&seen["state"], &seen["state_by_hand"]), (&json!(state), &json!(true)));
    }
    // Another change leaves it.
    let seen = api.patch(&at, &json!({ "name": "Moved" })).by(&cast.olga).matching("*").expect(200).await;
    assert_eq!(seen.json()["state_by_hand"], true);
    let back = api.patch(&at, &json!({ "state": null })).by(&cast.olga).matching(&seen.etag()).expect(200).await.json();
    assert_eq!((&back["state"], &back["state_by_hand"]), (&json!("open"), &json!(false)));
    let listed = api.get(format!("/seasons/{}/events", night.season)).by(&cast.ann).expect(200).await.json();
    assert_eq!(listed["items"], json!([back]));
}

/// 8: final is irrevocable.
#[tokio::test]
async fn final_is_irrevocable() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.settle(&night.event, &cast.olga).await;
    for change in [json!({ "state": null }), json!({ "state": "open" }), json!({ "name": "Moved" })] {
        api.patch(&at, &change).by(&cast.olga).matching("*").refused(409, "event-final").await;
    }
    let born_final = merged(event(&night.tee), &json!({ "state": "final" }));
    let path = format!("/seasons/{}/events", night.season);
    api.post(path, &born_final).by(&cast.olga).key(&id()).refused(422, "event-final").await;
}

/// 8: what a final event stored stands, whatever is edited; an event that is not final follows.
#[tokio::test]
async fn a_final_event_keeps_its_results_when_its_terms_are_edited() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let ann = format!("/members/{}", night.ann);
    api.patch(&ann, &json!({ "starting_handicap": 9.5 })).by(&cast.olga).matching("*").expect(200).await;
    let open = api.event(&cast, &night, json!({ "name": "Still open" })).await;
    let mut rounds = Vec::new();
    for event in [&night.event, &open] {
        rounds.push(format!("/rounds/{}", api.hand_in(event, &cast.ann, &round(&night.ann)).await.id()));
    }
    let at = format!("/events/{}", night.event);
    api.settle(&night.event, &cast.olga).await;
    let before = api.get(&rounds[0]).by(&cast.ann).expect(200).await.json();
    let board = api.get(format!("{at}/board")).by(&cast.ann).expect(200).await.json()["items"].clone();
    // 36 + 9 strokes received.
    assert_eq!(before["points"], 45);

    let mut harder = course();
    harder["tees"][0]["id"] = json!(night.tee);
    harder["tees"][1]["id"] = json!(night.nine_tee);
    harder["tees"][0]["course_rating"] = json!(70.0);
    harder["tees"][0]["holes"][0]["par"] = json!(5);
    api.put(format!("/courses/{}", night.course), &harder).by(&cast.olga).matching("*").expect(200).await;
    let season = format!("/seasons/{}", night.season);
    let start = json!({ "starting_handicap": 20.0 });
    let from = format!("{ann}?start_from=2027-01-14");
    api.patch(&from, &start).by(&cast.olga).matching("*").expect(200).await;

    let after = api.get(&rounds[0]).by(&cast.ann).expect(200).await.json();
    assert_eq!(after, before, "a round of a final event shows other figures after edits");
    let same = api.get(format!("{at}/board")).by(&cast.ann).expect(200).await.json()["items"].clone();
    assert_eq!(same, board);
    // The open one: rating 70 and par 73, so 20.0 + (70 − 73) = 17; 95 % of it is 16.15.
    let open_round = api.get(&rounds[1]).by(&cast.ann).expect(200).await.json();
    assert_eq!((&open_round["course_handicap"], &open_round["playing_handicap"]), (&json!(17), &json!(16)));
    let table = api.get(format!("{season}/standings")).by(&cast.ann).expect(200).await.json();
    let results = &table["items"][0]["results"];
    let value = |event: &str| {
        let all = results.as_array().expect("results");
        all.iter().find(|cell| cell["event_id"] == event).expect("the event")["value"].clone()
    };
    assert_eq!(value(&night.event), 45, "the value of the final event");
    // 36 points, one more for the hole of par 5 that was played in 4, and 16 strokes received.
    assert_eq!(value(&open), 36 + 1 + 16, "the event that is not final follows");
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    let here: Vec<_> = found.differences.iter().filter(|text| text.contains(&night.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

/// 8: terms that decide results are settled by the first final event of a season, all others can be changed. The fields
/// are those of the schema: a new one has to be put on one side or the other here.
#[tokio::test]
async fn what_decides_results_is_settled_by_the_first_final_event() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let flights = json!({ "flights": [{ "name": "A", "handicap_max": null }] });
    let season = format!("/seasons/{}", night.season);
    api.patch(&season, &flights).by(&cast.olga).matching("*").expect(200).await;
    let change = |field: &str| match field {
        "score" => Some(json!({ "kind": "strokes" })),
        "basis" => Some(json!("gross")),
        "allowance_pct" => Some(json!(50)),
        "meeting" => Some(json!({ "kind": "season" })),
        "award" => Some(json!({ "kind": "by_place", "table": [5, 3] })),
        "field" => Some(json!({ "flights": ["A"] })),
        "events" => Some(json!([{ "event_ids": [night.event], "weight": 2 }])),
        "counting" => Some(json!({ "best": 4, "minimum": 1 })),
        "ties" => Some(json!(["best_values"])),
        _ => None,
    };
    let free = |field: &str| match field {
        "name" => Some(json!("Winter")),
        "position" => Some(json!(7)),
        // They are terms of matches, and of strokes beside another competition: this one has neither.
        "start" | "side" | "teams" | "absent" | "substitutes" => None,
        field => panic!("say of the competition's new field {field} whether it decides results"),
    };
    let fields = evenfield::wire::body::competition::competition_fields();
    settles(&api, &cast, &night, &format!("/competitions/{}", night.competition), &fields, (&change, &free)).await;
}

/// The same of what holds for all competitions of a season.
#[tokio::test]
async fn what_a_season_says_of_results_is_settled_by_its_first_final_event() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let change = |field: &str| match field {
        "concession_ft" => Some(json!(4.0)),
        // What is played off is free; the limit of strokes is not.
        "handicap" => Some(json!({ "limit": 18 })),
        "flights" => Some(json!([{ "name": "A", "handicap_max": 9.9 }, { "name": "B", "handicap_max": null }])),
        _ => None,
    };
    let free = |field: &str| match field {
        "name" => Some(json!("Winter")),
        "starts_on" => Some(json!("2027-01-02")),
        "ends_on" => Some(json!("2027-05-01")),
        "query_hours" => Some(json!(24)),
        "audit" => Some(json!({ "false_alarm_pct": 4.0 })),
        field => panic!("say of the season's new field {field} whether it decides results"),
    };
    let fields = evenfield::wire::body::season::season_fields();
    settles(&api, &cast, &night, &format!("/seasons/{}", night.season), &fields, (&change, &free)).await;
}

type ValueOf<'a> = &'a dyn Fn(&str) -> Option<Value>;

/// Changes each field before an event is final and after it: then those of `change` are refused and those of `free` are not.
async fn settles(
    api: &Api,
    cast: &Cast,
    night: &Night,
    at: &str,
    fields: &[evenfield::wire::schema::Field],
    (change, free): (ValueOf<'_>, ValueOf<'_>),
) {
    let before = api.get(at).by(&cast.olga).expect(200).await.json();
    let fields: Vec<&str> = fields.iter().map(|field| field.name).collect();
    // Before an event is final, each can be changed, and back.
    for field in &fields {
        let Some(value) = change(field).or_else(|| free(field)) else { continue };
        api.patch(at, &json!({ *field: value })).by(&cast.olga).matching("*").expect(200).await;
        // A merge patch takes the other kind's table away only if it says so.
        let back = if *field == "award" {
            json!({ "kind": "by_score", "table": null, "beyond": null })
        } else {
            before[*field].clone()
        };
        api.patch(at, &json!({ *field: back })).by(&cast.olga).matching("*").expect(200).await;
    }
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.settle(&night.event, &cast.olga).await;
    for field in &fields {
        let call = |value: &Value| api.patch(at, &json!({ *field: value })).by(&cast.olga).matching("*");
        match change(field) {
            Some(value) => {
                let seen = call(&value).refused(409, "terms-settled").await;
                assert!(
                    crate::support::harness::text(&seen.json(), "detail").contains(field),
                    "{field} is not named: {seen}"
                );
                // The same again is no change.
                call(&before[*field]).expect(200).await;
            }
            None => {
                if let Some(value) = free(field) {
                    call(&value).expect(200).await;
                }
            }
        }
    }
}

/// Final comes after the closing time and settles something: a card that counts.
#[tokio::test]
async fn an_event_is_made_final_once_it_is_over_and_a_card_counts() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    let by_hand = json!({ "state": "final" });
    let card = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    for (pass, left) in [(0, 10_800), (10_799, 1)] {
        api.server.pass(pass);
        let olga = api.sign_in(&cast.olga.email).await;
        let seen = api.patch(&at, &by_hand).by(&olga).matching("*").refused(409, "event-not-over").await;
        let detail = crate::support::harness::text(&seen.json(), "detail");
        assert!(detail.contains("2027-01-14T22:00:00Z"), "{left} s before closing: {detail}");
    }
    api.server.pass(1);
    let olga = api.sign_in(&cast.olga.email).await;
    let withdrawn = format!("/rounds/{card}?reason=wrong%20event");
    api.delete(withdrawn).by(&olga).matching("*").expect(204).await;
    api.patch(&at, &by_hand).by(&olga).matching("*").refused(409, "no-counting-card").await;
    api.hand_in(&night.event, &olga, &round(&night.ben)).await;
    api.patch(&at, &by_hand).by(&olga).matching("*").expect(200).await;
}

/// An event that was never played can go; one with a card, even one that was withdrawn, stays.
#[tokio::test]
async fn an_event_without_cards_can_be_removed() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let spare = api.event(&cast, &night, json!({ "name": "Rained off" })).await;
    let at = format!("/events/{spare}");
    api.patch(&at, &json!({ "stimp_ft": 9.0 })).by(&cast.olga).matching("*").expect(200).await;
    api.post(format!("{at}/entries"), &json!({})).by(&cast.ann).key(&id()).expect(201).await;
    let tag = api.get(&at).by(&cast.olga).expect(200).await.etag();
    for by in [&cast.ann, &cast.sam] {
        api.delete(&at).by(by).matching(&tag).refused(403, "forbidden").await;
    }
    api.delete(&at).by(&cast.olga).refused(428, "if-match-missing").await;
    api.delete(&at).by(&cast.olga).matching("\"1\"").refused(412, "stale").await;

    // While somebody fills in a card there, it stays.
    let holes = json!({ "holes": [{ "number": 1, "strokes": 4 }] });
    api.put(format!("{at}/progress"), &holes).by(&cast.ann).matching("*").expect(200).await;
    api.delete(&at).by(&cast.olga).matching(&tag).refused(409, "event-has-cards").await;
    let seen = api.patch(&at, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;

    let table = format!("/seasons/{}/standings", night.season);
    let before = api.get(&table).by(&cast.ben).expect(200).await;
    assert_eq!(before.json()["event_ids"], json!([night.event, spare]));
    api.delete(&at).by(&cast.olga).matching(&seen.etag()).expect(204).await;
    for path in [at.clone(), format!("{at}/board"), format!("{at}/entries")] {
        api.get(path).by(&cast.ann).refused(404, "not-found").await;
    }
    let after = api.get(&table).by(&cast.ben).with("if-none-match", &before.etag()).expect(200).await;
    assert_eq!(after.json()["event_ids"], json!([night.event]));
    api.delete(&at).by(&cast.olga).matching("*").refused(404, "not-found").await;
    let journal =
        api.get(format!("/leagues/{}/journal?limit=200", night.league)).by(&cast.olga).expect(200).await.json();
    let last = journal["items"].as_array().expect("entries").last().expect("an entry").clone();
    let entry = last["entry"].as_object().map_or(&last, |_| &last["entry"]).clone();
    assert_eq!((&entry["act"], &entry["kind"], &entry["id"]), (&json!("remove"), &json!("event"), &json!(spare)));

    let card = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let at = format!("/events/{}", night.event);
    api.delete(&at).by(&cast.olga).matching("*").refused(409, "event-has-cards").await;
    api.delete(format!("/rounds/{card}")).by(&cast.ann).matching("*").expect(204).await;
    api.delete(&at).by(&cast.olga).matching("*").refused(409, "event-has-cards").await;
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    let here: Vec<_> = found.differences.iter().filter(|text| text.contains(&night.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

/// Events lie within their season, by the days of the league's time zone, whatever is changed.
#[tokio::test]
async fn events_lie_within_their_season() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}/events", night.season);
    // The season runs from the 1st of January to the 30th of April 2027 in Zurich: 23:00 the day before is midnight there
    // in winter, 22:00 in summer. The night of the last day may run past midnight.
    let cases = [
        ("2026-12-31T22:59:59Z", "2027-01-01T12:00:00Z", Some("/opens_at")),
        ("2026-12-31T23:00:00Z", "2027-01-01T12:00:00Z", None),
        ("2027-04-30T21:59:59Z", "2027-05-01T21:59:59Z", None),
        ("2027-04-30T22:00:00Z", "2027-04-30T23:00:00Z", Some("/opens_at")),
        ("2027-04-30T18:00:00Z", "2027-05-01T22:00:00Z", Some("/closes_at")),
    ];
    for (opens, closes, fault) in cases {
        let body = merged(event(&night.tee), &json!({ "opens_at": opens, "closes_at": closes }));
        let call = api.post(&path, &body).by(&cast.olga).key(&id());
        match fault {
            None => {
                let at = format!("/events/{}", call.expect(201).await.id());
                api.delete(at).by(&cast.olga).matching("*").expect(204).await;
            }
            Some(pointer) => {
                let seen = call.refused(422, "outside-season").await;
                assert_eq!(seen.faults(), [(pointer.into(), "outside-season".into())]);
                let detail = crate::support::harness::text(&seen.json(), "detail");
                assert!(detail.contains("2027-04-30") || detail.contains("2027-05-01"), "the limit is named: {detail}");
            }
        }
    }
    // The event of the 14th stays inside when the season's days or the league's zone change.
    let season = format!("/seasons/{}", night.season);
    for (change, pointer) in
        [(json!({ "starts_on": "2027-01-15" }), "/starts_on"), (json!({ "ends_on": "2027-01-13" }), "/ends_on")]
    {
        let seen = api.patch(&season, &change).by(&cast.olga).matching("*").refused(422, "outside-season").await;
        assert_eq!(seen.faults(), [(pointer.into(), "outside-season".into())]);
    }
    let one_day = json!({ "starts_on": "2027-01-14", "ends_on": "2027-01-14" });
    api.patch(&season, &one_day).by(&cast.olga).matching("*").expect(200).await;
    let late = json!({ "opens_at": "2027-01-14T22:30:00Z", "closes_at": "2027-01-14T23:30:00Z" });
    api.event(&cast, &night, late).await;
    let zone = json!({ "time_zone": "Europe/Helsinki" });
    let league = format!("/leagues/{}", night.league);
    let seen = api.patch(&league, &zone).by(&cast.olga).matching("*").refused(422, "outside-season").await;
    assert_eq!(seen.faults(), [("/time_zone".into(), "outside-season".into())]);
    assert_eq!(api.get(&league).by(&cast.olga).expect(200).await.json()["time_zone"], "Europe/Zurich");
}

#[tokio::test]
async fn an_event_fits_itself_its_tee_and_its_season() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}/events", night.season);
    let cases = [
        (json!({ "closes_at": "2027-01-14T17:00:00Z" }), "time-order", "/closes_at"),
        (json!({ "tee_id": id() }), "unknown-tee", "/tee_id"),
        (json!({ "tees": [{ "tee_id": night.tee }] }), "tee-assignment", "/tees/0"),
        (json!({ "tees": [{ "tee_id": night.tee, "member_id": id() }] }), "unknown-member", "/tees/0/member_id"),
        (json!({ "tees": [{ "tee_id": night.tee, "flight": "A" }] }), "unknown-flight", "/tees/0/flight"),
        (json!({ "first_hole": 10 }), "first-hole", "/first_hole"),
        (json!({ "tee_id": night.nine_tee }), "tee-does-not-fit", "/tee_id"),
    ];
    for (changes, kind, pointer) in cases {
        let body = merged(event(&night.tee), &changes);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).expect(422).await;
        let pointers: Vec<String> = seen.faults().into_iter().filter(|(_, code)| code == kind).map(|f| f.0).collect();
        assert!(pointers.contains(&pointer.to_owned()), "{kind} at {pointer} is due: {seen}");
    }
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let at = format!("/events/{}", night.event);
    let by_place = json!({ "award": { "kind": "by_place", "table": [5, 3] } });
    api.patch(format!("/competitions/{}", night.competition), &by_place).by(&cast.olga).matching("*").expect(200).await;
    api.patch(&at, &json!({ "holes": 9 })).by(&cast.olga).matching("*").refused(409, "holes-settled").await;
    // A tee that is played cannot go.
    let mut other_tees = course();
    other_tees["tees"].as_array_mut().expect("tees").remove(0);
    let path = format!("/courses/{}", night.course);
    api.put(path, &other_tees).by(&cast.olga).matching("*").refused(422, "tee-in-use").await;
}

/// Two players with equal points share a position; each row shows the card's figures.
#[tokio::test]
async fn the_board_shows_places_and_figures() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let mut worse: Vec<u8> = (1..=18).map(par).collect();
    worse[3] += 1;
    api.hand_in(&night.event, &cast.ann, &card(&night.ann, &worse)).await;
    api.hand_in(&night.event, &cast.ben, &card(&night.ben, &worse)).await;
    api.hand_in(&night.event, &cast.sam, &round(&night.sam)).await;
    let attested = api
        .hand_in(
            &night.event,
            &cast.olga,
            &merged(
                round(&night.olga),
                &json!({
                    "outcome": "no_return", "holes": [],
                }),
            ),
        )
        .await
        .id();
    api.call("POST", &format!("/rounds/{attested}/attestation")).by(&cast.ann).expect(200).await;
    let path = format!("/events/{}/board", night.event);
    let seen = api.get(&path).by(&cast.ben).expect(200).await;
    let board = seen.json();
    let rows: Vec<_> = board["items"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|row| {
            let name = row["display_name"].as_str().expect("a name").to_owned();
            (name, row["position"].clone(), row["tied"].clone(), row["points"].clone(), row["state"].clone())
        })
        .collect();
    let row = |name: &str, position: Value, tied: bool, points: Value, state: &str| {
        (name.to_owned(), position, json!(tied), points, json!(state))
    };
    assert_eq!(rows[0], row("Sam", json!(1), false, json!(36), "submitted"));
    let mut level = rows[1..3].to_vec();
    level.sort_by(|a, b| a.0.cmp(&b.0));
    assert_eq!(level[0], row("Ann", json!(2), true, json!(35), "submitted"));
    assert_eq!(level[1], row("Ben", json!(2), true, json!(35), "submitted"));
    assert_eq!(rows[3], row("Olga", Value::Null, false, Value::Null, "attested"));
    // The same board again costs nothing; a weak tag, as proxies make them, is known too.
    for tag in [seen.etag(), format!("W/{}", seen.etag()), format!("\"0\", {}", seen.etag())] {
        let known = api.get(&path).by(&cast.ben).with("if-none-match", &tag).expect(304).await;
        assert_eq!(known.etag(), seen.etag());
    }
    api.delete(format!("/rounds/{attested}")).by(&cast.olga).matching("*").expect(204).await;
    let moved = api.get(&path).by(&cast.ben).with("if-none-match", &seen.etag()).expect(200).await.json();
    assert!(moved["version"].as_i64() > board["version"].as_i64());
    assert_eq!(moved["items"].as_array().expect("rows").len(), 3);
}

/// A5: the whole board at once, then after each change; the version rises; `bye` when the reader may read no more.
#[tokio::test]
async fn the_stream_follows_the_board() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let watcher = api.sign_in(&cast.ben.email).await;
    let mut stream = api.stream(&night.event, &watcher).await;
    let (name, first) = stream.next().await.expect("the first board");
    assert_eq!((name.as_str(), &first["items"]), ("board", &json!([])));
    let body = round(&night.ann);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    let (_, second) = stream.next().await.expect("the board with a round");
    assert_eq!(second["items"][0]["member_id"], night.ann.as_str());
    assert!(second["version"].as_i64() > first["version"].as_i64());
    assert_eq!(second, api.get(format!("/events/{}/board", night.event)).by(&cast.ann).expect(200).await.json());
    api.call("POST", &format!("{at}/attestation")).by(&cast.sam).expect(200).await;
    let (_, third) = stream.next().await.expect("the board with an attested round");
    assert_eq!(third["items"][0]["state"], "attested");
    // A change of a name shows too.
    let ann = format!("/members/{}", night.ann);
    api.patch(&ann, &json!({ "display_name": "Annabel" })).by(&cast.olga).matching("*").expect(200).await;
    let (_, fourth) = stream.next().await.expect("the board with another name");
    assert_eq!(fourth["items"][0]["display_name"], "Annabel");

    // S12: the sign-out ends the stream, though nothing changes on the board.
    api.delete("/sessions/current").by(&watcher).expect(204).await;
    assert_eq!(stream.next().await.expect("a farewell").0, "bye");
    assert!(stream.next().await.is_none(), "nothing follows bye");
}

/// A browser always offers gzip; packing would hold small events back.
#[tokio::test]
async fn the_stream_is_not_packed() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/board/stream", night.event);
    let answer = api.get(&path).by(&cast.ann).with("accept-encoding", "gzip, deflate, br").open().await;
    let encoding = answer.headers().get("content-encoding").map(|value| value.to_str().expect("ASCII").to_owned());
    assert!(matches!(encoding.as_deref(), None | Some("identity")), "the stream is packed as {encoding:?}");
    // Other answers are.
    let board = format!("/events/{}/board", night.event);
    let answer = api.get(board).by(&cast.ann).with("accept-encoding", "gzip").open().await;
    assert_eq!(answer.headers().get("content-encoding").map(|value| value.as_bytes()), Some(&b"gzip"[..]));
    crate::support::harness::secure("a packed board", answer.headers());
}

/// Who is no longer in the league reads no more of its boards.
#[tokio::test]
async fn the_stream_ends_with_the_membership() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let mut stream = api.stream(&night.event, &cast.ben).await;
    assert_eq!(stream.next().await.expect("the first board").0, "board");
    api.delete(format!("/members/{}", night.ben)).by(&cast.olga).matching("*").expect(204).await;
    let (name, _) = stream.next().await.expect("a farewell");
    assert_eq!(name, "bye");
    api.get(format!("/events/{}/board/stream", night.event)).by(&cast.ben).refused(404, "not-found").await;
}

/// Net events from tees of different par add the difference.
#[tokio::test]
async fn tees_of_different_par_are_made_even_in_net() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let mut forward = course();
    forward["name"] = json!("Mill Pond forward");
    forward["tees"].as_array_mut().expect("tees").truncate(1);
    // Par 71 from the forward tee.
    forward["tees"][0]["holes"][1]["par"] = json!(4);
    let path = format!("/leagues/{}/courses", night.league);
    let forward = api.post(path, &forward).by(&cast.olga).key(&id()).expect(201).await.json();
    let net = season_with(&json!({ "score": { "kind": "strokes" } }));
    let path = format!("/leagues/{}/seasons", night.league);
    let net = api.post(path, &net).by(&cast.olga).key(&id()).expect(201).await.id();
    let body = merged(
        event(&night.tee),
        &json!({
            "tees": [{ "tee_id": forward["tees"][0]["id"], "member_id": night.ben }],
        }),
    );
    let path = format!("/seasons/{net}/events");
    let event = api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id();
    // Ann plays off 0 from par 72, one above the lowest par of the event's tees; Ben from the lowest.
    let ann = api.hand_in(&event, &cast.ann, &round(&night.ann)).await.json();
    let ben = api.hand_in(&event, &cast.ben, &round(&night.ben)).await.json();
    assert_eq!((&ann["playing_handicap"], &ann["net"]), (&json!(1), &json!(71)));
    assert_eq!((&ben["playing_handicap"], &ben["net"]), (&json!(0), &json!(72)));
}
