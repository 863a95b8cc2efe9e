//! Void events: no competition counts them, their cards count for the index as said, and they can count again.

use crate::support::harness::{Api, Cast, Night, PARS, Person, card, id, own, par, round, shared, text};
use serde_json::{Value, json};

/// A card of par with so many strokes over it on the first hole.
fn over(member: &str, over: u8) -> Value {
    let mut strokes: Vec<u8> = (1..=18).map(par).collect();
    strokes[0] += over;
    card(member, &strokes)
}

async fn change(api: &Api, cast: &Cast, event: &str, void: Value) -> Value {
    let path = format!("/events/{event}");
    api.patch(path, &json!({ "void": void })).by(&cast.olga).matching("*").expect(200).await.json()
}

/// Names and totals of a competition's table, in order.
async fn totals(api: &Api, cast: &Cast, competition: &str) -> Vec<(String, Value)> {
    let path = format!("/competitions/{competition}/standings");
    let table = api.get(path).by(&cast.ben).expect(200).await.json();
    let rows = table["items"].as_array().expect("rows");
    rows.iter().map(|row| (text(row, "display_name"), row["total"].clone())).collect()
}

/// The events that the index of a member rests on, with their differentials.
async fn differentials(api: &Api, by: &Person, member: &str) -> Vec<(Value, Value)> {
    let seen = api.get(format!("/members/{member}/handicap")).by(by).expect(200).await.json();
    let rows = seen["differentials"].as_array().expect("differentials");
    rows.iter().map(|row| (row["event_id"].clone(), row["value"].clone())).collect()
}

async fn notices(api: &Api, by: &Person, event: &str) -> Vec<String> {
    let seen = api.get("/me/notices?limit=200").by(by).expect(200).await.json();
    let about = seen["items"].as_array().expect("items").iter().filter(|notice| notice["event_id"] == event);
    about.map(|notice| text(notice, "kind")).collect()
}

async fn add(api: &Api, cast: &Cast, night: &Night, terms: Value) -> String {
    let path = format!("/seasons/{}/competitions", night.season);
    api.post(path, &terms).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// Two nights over 18 holes of par 72, rated 72.0 and 113, everybody off 0.
/// ```text
/// night 1   Ann par: 36 points, differential 72 − 72 = 0; Ben one over on hole 1: 35 points, 1
/// night 2   Ann one over on hole 1: 35 points, differential 1; Ben par: 36 points, 0
/// points    Ann 71, Ben 71; night 2 void: Ann 36, Ben 35
/// skins     night 1: hole 1 is Ann’s, 2 to 18 are tied and shared at the end: 1 + 17/2 = 9.5 and 8.5; night 2 the other way
///           round: 18 each; night 2 void: 9.5 and 8.5
/// eclectic  hole by hole par for both: 72; night 2 void: Ann 72, Ben 73
/// sum       points and skins: 89 each; night 2 void: Ann 45.5, Ben 43.5
/// ```
#[tokio::test]
async fn no_competition_counts_a_void_event() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let second = api.event(&cast, &night, json!({ "name": "Third night" })).await;
    let skins = json!({ "name": "Skins", "basis": "gross", "meeting": { "kind": "hole" }, "position": 2 });
    let skins = add(&api, &cast, &night, skins).await;
    let eclectic = json!({ "name": "Best", "basis": "gross", "meeting": { "kind": "season" }, "position": 3 });
    let eclectic = add(&api, &cast, &night, eclectic).await;
    let sum = json!({ "name": "All", "meeting": { "kind": "sum", "of": [night.competition, skins] }, "position": 4 });
    let sum = add(&api, &cast, &night, sum).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.hand_in(&night.event, &cast.ben, &over(&night.ben, 1)).await;
    let anns = api.hand_in(&second, &cast.ann, &over(&night.ann, 1)).await.id();
    api.hand_in(&second, &cast.ben, &round(&night.ben)).await;
    let due = |rows: [(&str, Value); 2]| rows.map(|(name, total)| (name.to_owned(), total)).to_vec();
    let of = async |competition: &str| {
        let mut rows = totals(&api, &cast, competition).await;
        rows.sort_by(|a, b| a.0.cmp(&b.0));
        rows
    };
    let whole = [
        (&night.competition, due([("Ann", json!(71)), ("Ben", json!(71))])),
        (&skins, due([("Ann", json!(18)), ("Ben", json!(18))])),
        (&eclectic, due([("Ann", json!(72)), ("Ben", json!(72))])),
        (&sum, due([("Ann", json!(89)), ("Ben", json!(89))])),
    ];
    for (competition, due) in &whole {
        assert_eq!(of(competition).await, *due);
    }
    let entry = json!({ "member_id": night.sam });
    api.post(format!("/events/{second}/entries"), &entry).by(&cast.olga).key(&id()).expect(201).await;

    // Only an organizer, and with a reason; nothing is written otherwise.
    let at = format!("/events/{second}");
    let void = json!({ "reason": "the screen failed", "handicap": true });
    for by in [&cast.ann, &cast.sam] {
        api.patch(&at, &json!({ "void": void })).by(by).matching("*").refused(403, "forbidden").await;
    }
    for (void, pointer) in [
        (json!({ "handicap": true }), "/void/reason"),
        (json!({ "reason": "", "handicap": true }), "/void/reason"),
        (json!({ "reason": "x".repeat(2001), "handicap": true }), "/void/reason"),
        (json!({ "reason": "x" }), "/void/handicap"),
    ] {
        let seen = api.patch(&at, &json!({ "void": void })).by(&cast.olga).matching("*").refused(422, "validation");
        assert_eq!(seen.await.faults()[0].0, pointer);
    }
    assert_eq!(api.get(&at).by(&cast.ann).expect(200).await.json().get("void"), None);
    let seen = change(&api, &cast, &second, void.clone()).await;
    assert_eq!((&seen["void"], &seen["state"]), (&void, &json!("open")));
    assert_eq!(of(&night.competition).await, due([("Ann", json!(36)), ("Ben", json!(35))]));
    assert_eq!(of(&skins).await, due([("Ann", json!(9.5)), ("Ben", json!(8.5))]));
    assert_eq!(of(&eclectic).await, due([("Ann", json!(72)), ("Ben", json!(73))]));
    assert_eq!(of(&sum).await, due([("Ann", json!(45.5)), ("Ben", json!(43.5))]));
    let path = format!("/seasons/{}/standings", night.season);
    let table = api.get(&path).by(&cast.ben).expect(200).await.json();
    assert_eq!((&table["event_ids"], &table["void_event_ids"]), (&json!([night.event, second]), &json!([second])));
    assert_eq!(table["items"][0]["events_played"], 1);

    // The board has the cards without places, and the card says so too.
    let board = api.get(format!("{at}/board")).by(&cast.ben).expect(200).await.json();
    assert_eq!((&board["void"], &board["provisional_until"]), (&void, &Value::Null));
    for row in board["items"].as_array().expect("rows").iter().filter(|row| row["state"] == "submitted") {
        assert_eq!((&row["position"], &row["value"]), (&Value::Null, &Value::Null));
        assert!(row["points"] == 35 || row["points"] == 36, "the figures stay: {row}");
    }
    let shown = api.get(format!("/rounds/{anns}")).by(&cast.ben).expect(200).await.json();
    assert_eq!((&shown["points"], &shown["score_differential"]), (&json!(35), &json!(1.0)));
    for own in shown["competitions"].as_array().expect("competitions") {
        assert_eq!((&own["place"], &own["value"]), (&Value::Null, &Value::Null));
    }
    let working = api.get(format!("/rounds/{anns}/working")).by(&cast.ben).expect(200).await.text();
    assert!(working.contains("The event is void: it has no places and no values."), "{working}");

    // It takes no cards, cards in play and entries; what is there can still be corrected.
    let path = format!("{at}/rounds");
    api.post(&path, &round(&night.sam)).by(&cast.sam).key(&id()).refused(409, "event-void").await;
    let holes = json!({ "holes": [{ "number": 1, "strokes": 4 }] });
    api.put(format!("{at}/progress"), &holes).by(&cast.sam).matching("*").refused(409, "event-void").await;
    let entries = format!("{at}/entries");
    api.post(&entries, &json!({})).by(&cast.olga).key(&id()).refused(409, "event-void").await;

    // The index counts its cards as said; a table that looks back leaves it out like any other.
    let both = [(json!(second), json!(1.0)), (json!(night.event), json!(0.0))];
    assert_eq!(differentials(&api, &cast.ben, &night.ann).await, both);
    let without = json!({ "reason": "the screen failed", "handicap": false });
    change(&api, &cast, &second, without.clone()).await;
    assert_eq!(differentials(&api, &cast.ben, &night.ann).await, both[1..]);
    let shown = api.get(format!("/rounds/{anns}")).by(&cast.ben).expect(200).await.json();
    assert_eq!((&shown["adjusted_gross"], &shown["score_differential"]), (&json!(73), &Value::Null));
    let working = api.get(format!("/rounds/{anns}/working")).by(&cast.ben).expect(200).await.text();
    assert!(working.contains("its cards do not count for the league index"), "{working}");
    let back = format!("/seasons/{}/standings?after_event={second}", night.season);
    let back = api.get(back).by(&cast.ben).expect(200).await.json();
    assert_eq!(back["items"][0]["total"], 36);
    let putting = api.get(format!("/members/{}/putting", night.ann)).by(&cast.ann).expect(200).await.json();
    assert_eq!(putting["rounds"], 2, "putting keeps its cards: {putting}");
    crate::stored::journal_bundle::clean(&api).await;

    // The same league elsewhere, and its report.
    let bundle = crate::stored::journal_bundle::bundle(&api, &night.league, &cast.olga).await;
    let report = crate::stored::matches::report(&bundle, &night.season);
    let table = api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ben).expect(200).await.json();
    assert_eq!(report["standings"], table["items"]);
    let other = own();
    let code = crate::stored::journal_bundle::import(&other.server.app.leagues, &bundle).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    assert_eq!(other.get(&at).by(&mover).expect(200).await.json()["void"], without);
    let again = crate::stored::journal_bundle::bundle(&other, &night.league, &mover).await;
    let events = |bundle: &str| -> Vec<String> {
        bundle.lines().filter(|line| line.contains("\"kind\":\"event\"")).map(str::to_owned).collect()
    };
    assert_eq!(events(&again), events(&bundle));
    crate::stored::journal_bundle::clean(&other).await;

    // And back: everything counts as before. Those with a card or an entry were told each time it changed.
    change(&api, &cast, &second, Value::Null).await;
    for (competition, due) in &whole {
        assert_eq!(of(competition).await, *due);
    }
    assert_eq!(differentials(&api, &cast.ben, &night.ann).await, both);
    for by in [&cast.ann, &cast.ben, &cast.sam] {
        assert_eq!(notices(&api, by, &second).await, ["void_undone", "void"]);
    }
    assert_eq!(notices(&api, &cast.olga, &second).await, [""; 0], "whoever did it is not told");
    api.hand_in(&second, &cast.sam, &round(&night.sam)).await;
    let path = format!("/seasons/{}/standings/changes", night.season);
    let changes = api.get(path).by(&cast.ben).expect(200).await.json();
    let acts: Vec<(Value, Value)> = changes["items"]
        .as_array()
        .expect("changes")
        .iter()
        .filter(|change| change["thing_id"] == json!(second))
        .map(|change| (change["act"].clone(), change["reason"].clone()))
        .collect();
    assert_eq!(acts, [(json!("void"), json!("the screen failed")), (json!("count_again"), Value::Null)]);
    crate::stored::journal_bundle::clean(&api).await;
}

/// A final event becomes void, and counts again, until the next event of its season is final; nothing else of it changes.
#[tokio::test]
async fn a_final_event_becomes_void_until_the_next_final() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let second = api.event(&cast, &night, json!({ "name": "Third night" })).await;
    for event in [&night.event, &second] {
        api.hand_in(event, &cast.ann, &over(&night.ann, 1)).await;
    }
    api.settle(&night.event, &cast.olga).await;
    let at = format!("/events/{}", night.event);
    let total = async || totals(&api, &cast, &night.competition).await[0].1.clone();
    assert_eq!(total().await, 70);
    let void = json!({ "reason": "wrong tees", "handicap": false });
    let seen = change(&api, &cast, &night.event, void.clone()).await;
    assert_eq!((&seen["state"], &seen["void"]), (&json!("final"), &void));
    assert_eq!(total().await, 35);
    // A card for it is told that it is void; and nothing but the void changes.
    let path = format!("{at}/rounds");
    api.post(&path, &round(&night.ben)).by(&cast.sam).key(&id()).refused(409, "event-void").await;
    for body in [json!({ "void": null, "name": "Moved" }), json!({ "state": "open" }), json!({ "void": void })] {
        api.patch(&at, &body).by(&cast.olga).matching("*").refused(409, "event-final").await;
    }
    api.patch(&at, &json!({ "void": null })).by(&cast.olga).matching("\"1\"").refused(412, "stale").await;
    change(&api, &cast, &night.event, Value::Null).await;
    assert_eq!(total().await, 70);
    change(&api, &cast, &night.event, void).await;
    api.settle(&second, &cast.olga).await;
    let late = api.patch(&at, &json!({ "void": null })).by(&cast.olga).matching("*").refused(409, "event-final").await;
    assert!(text(&late.json(), "detail").contains("a later event of this season is final"), "{late}");
    assert_eq!(total().await, 35);
    // The latest can still be; an event that is void already can become final too.
    change(&api, &cast, &second, json!({ "reason": "no power", "handicap": true })).await;
    assert_eq!(totals(&api, &cast, &night.competition).await, []);
    let third = api.event(&cast, &night, json!({ "name": "Fourth night" })).await;
    api.hand_in(&third, &cast.ann, &round(&night.ann)).await;
    change(&api, &cast, &third, json!({ "reason": "no power", "handicap": true })).await;
    api.settle(&third, &cast.olga).await;
    change(&api, &cast, &third, Value::Null).await;
    assert_eq!(total().await, 36);
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    let here: Vec<_> = found.differences.iter().filter(|text| text.contains(&night.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

/// A fixture of a void event is void, whatever its cards say; nobody makes another there.
#[tokio::test]
async fn fixtures_of_a_void_event_count_for_nothing() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let nine = json!({ "tee_id": night.nine_tee, "holes": 9, "name": "Nine" });
    let event = api.event(&cast, &night, nine).await;
    let single = json!({ "name": "Ladder", "meeting": { "kind": "match" }, "position": 2 });
    let single = add(&api, &cast, &night, single).await;
    let path = format!("/competitions/{single}/fixtures");
    let sides = json!([{ "event_id": event, "a": { "member_id": night.ann }, "b": { "member_id": night.ben } }]);
    let made = api.post(&path, &sides).by(&cast.olga).key(&id()).expect(201).await.json();
    let fixture = format!("/fixtures/{}", text(&made["items"][0], "fixture_id"));
    let mut better = PARS;
    better[0] -= 1;
    api.hand_in(&event, &cast.ann, &card(&night.ann, &better)).await;
    api.hand_in(&event, &cast.ben, &card(&night.ben, &PARS)).await;
    let state = async || text(&api.get(&fixture).by(&cast.ben).expect(200).await.json(), "state");
    let due = vec![("Ann".to_owned(), json!(1)), ("Ben".to_owned(), json!(0))];
    assert_eq!((state().await, totals(&api, &cast, &single).await), ("played".to_owned(), due.clone()));
    change(&api, &cast, &event, json!({ "reason": "no power", "handicap": true })).await;
    assert_eq!(state().await, "void");
    assert_eq!(totals(&api, &cast, &single).await.iter().filter(|row| row.1 != Value::Null).count(), 0);
    let seen = api.post(&path, &sides).by(&cast.olga).key(&id()).refused(422, "event-void").await;
    assert_eq!(seen.faults()[0].0, "/0/event_id");
    change(&api, &cast, &event, Value::Null).await;
    assert_eq!((state().await, totals(&api, &cast, &single).await), ("played".to_owned(), due));
}
