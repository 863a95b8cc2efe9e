//! What organizers decide about a league index: adjust, freeze, cap, and undo.

use super::matches::member;
use crate::support::harness::{Api, Cast, Night, id, own, round, shared};
use serde_json::{Value, json};

async fn carry(api: &Api, cast: &Cast, member: &str, differentials: &[f64]) {
    let path = format!("/members/{member}/carried-differentials");
    for (n, differential) in differentials.iter().enumerate() {
        let body = json!({ "played_on": format!("2026-12-{:02}", n + 1), "differential": differential, "source": "-" });
        api.post(&path, &body).by(&cast.olga).key(&id()).expect(201).await;
    }
}

async fn decide(api: &Api, cast: &Cast, member: &str, body: Value) -> String {
    api.post(format!("/members/{member}/handicap-acts"), &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// What a card's working says of the index: the results of the steps `league_index` and `index`.
async fn indexes(api: &Api, cast: &Cast, card: &str) -> [Value; 2] {
    let working = api.get(format!("/rounds/{card}/working")).by(&cast.ann).expect(200).await.json();
    let of = |name: &str| {
        let steps = working["steps"].as_array().expect("steps");
        steps.iter().find(|step| step["name"] == name).map_or(Value::Null, |step| step["result"].clone())
    };
    [of("league_index"), of("index")]
}

async fn on(api: &Api, cast: &Cast, night: &Night, member: &str, day: u32) -> String {
    let times = json!({ "opens_at": format!("2027-01-{day:02}T17:00:00Z") });
    let event = api.event(cast, night, times).await;
    api.hand_in(&event, &cast.olga, &round(member)).await.id()
}

/// The course has slope 113 and its rating is its par, so a par round's differential is 0.
///
/// ```text
/// 20.0, 22.0, 24.0                    Rule 5.2a: lowest of three less 2.0: 18.0
/// adjusted to 12.5 from 5 January     each − 5.5: 14.5, 16.5, 18.5; 12.5 on that day
/// par on the 5th: 0                   12.5 − 0 ≥ 10: exceptional, each − 2.0: 12.5, 14.5, 16.5, −2.0;
///                                     lowest of four less 1.0: −3.0 from the 6th on
/// capped at −4.0 from the 7th         −4.0 on the 7th
/// ```
#[tokio::test]
async fn acts_hold_from_their_day_on_and_final_events_keep_their_index() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let wren = member(&api, &cast, &night, "Wren", None).await;
    carry(&api, &cast, &wren, &[20.0, 22.0, 24.0]).await;
    let fifth = on(&api, &cast, &night, &wren, 5).await;
    assert_eq!(indexes(&api, &cast, &fifth).await, [json!(18), json!(18)]);
    let adjust = json!({ "kind": "adjust", "value": 12.5, "from": "2027-01-05", "reason": "plays far better than 18" });
    let adjusted = decide(&api, &cast, &wren, adjust).await;
    assert_eq!(indexes(&api, &cast, &fifth).await, [json!(12.5), json!(12.5)]);
    let seen = api.get(format!("/members/{wren}/handicap")).by(&cast.ann).expect(200).await.json();
    assert_eq!(seen["league_index"], json!(-3.0));
    let seventh = on(&api, &cast, &night, &wren, 7).await;
    assert_eq!(indexes(&api, &cast, &seventh).await, [json!(-3), json!(-3)]);
    let cap = json!({ "kind": "cap", "value": -4, "from": "2027-01-07", "reason": "-" });
    let capped = decide(&api, &cast, &wren, cap).await;
    assert_eq!(indexes(&api, &cast, &seventh).await, [json!(-4), json!(-4)]);
    crate::stored::journal_bundle::clean(&api).await;

    // The same elsewhere, byte for byte.
    crate::stored::journal_bundle::moved(&api, &night.league, &cast.olga).await;

    // Undone, it is as if they had never been; a final event keeps what it was played with.
    let of_seventh = api.get(format!("/rounds/{seventh}")).by(&cast.ann).expect(200).await.json();
    api.settle(of_seventh["event_id"].as_str().expect("an event"), &cast.olga).await;
    for act in [&adjusted, &capped] {
        decide(&api, &cast, &wren, json!({ "kind": "undo", "undoes": act, "reason": "a mistake" })).await;
    }
    assert_eq!(indexes(&api, &cast, &seventh).await, [json!(-4), json!(-4)]);
    assert_eq!(indexes(&api, &cast, &fifth).await, [json!(18), json!(18)]);
    crate::stored::journal_bundle::clean(&api).await;
    let all = api.get(format!("/members/{wren}/handicap-acts")).by(&cast.ben).expect(200).await.json();
    let kinds: Vec<&str> =
        all["items"].as_array().expect("acts").iter().filter_map(|act| act["kind"].as_str()).collect();
    assert_eq!(kinds, ["adjust", "cap", "undo", "undo"]);
    let changes = api.get(format!("/seasons/{}/standings/changes", night.season)).by(&cast.ann).expect(200).await;
    assert!(changes.text().contains("plays far better than 18"));
}

/// Without an end the index stays: 18.0, though each par round would lower it.
#[tokio::test]
async fn a_frozen_index_does_not_move_within_its_days() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let wren = member(&api, &cast, &night, "Wren", None).await;
    carry(&api, &cast, &wren, &[20.0, 22.0, 24.0]).await;
    let freeze = json!({ "kind": "freeze", "from": "2027-01-05", "until": "2027-01-08", "reason": "an injury" });
    decide(&api, &cast, &wren, freeze).await;
    let mut seen = Vec::new();
    for day in [5, 7, 8, 9] {
        let card = on(&api, &cast, &night, &wren, day).await;
        seen.push(indexes(&api, &cast, &card).await[0].clone());
    }
    assert_eq!(seen[..3], [json!(18), json!(18), json!(18)]);
    assert!(seen[3].as_f64().expect("an index") < 0.0, "{seen:?}");
    // The player is told.
    let cap = json!({ "kind": "cap", "value": 5, "from": "2027-01-05", "reason": "-" });
    decide(&api, &cast, &night.ann, cap).await;
    let notices = api.get("/me/notices").by(&cast.ann).expect(200).await.text();
    assert!(notices.contains("\"handicap_act\""), "{notices}");
}

#[tokio::test]
async fn acts_that_mean_nothing_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let wren = member(&api, &cast, &night, "Wren", Some(12.0)).await;
    let path = format!("/members/{wren}/handicap-acts");
    let adjust = json!({ "kind": "adjust", "value": 5, "from": "2027-02-01", "reason": "-" });
    let cases = [
        (adjust.clone(), "handicap-act", "/kind"),
        (json!({ "kind": "adjust", "value": 54.1, "from": "2027-02-01", "reason": "-" }), "validation", "/value"),
        (json!({ "kind": "freeze", "value": 5, "from": "2027-02-01", "reason": "-" }), "validation", "/value"),
        (json!({ "kind": "cap", "value": 5, "reason": "-" }), "validation", "/from"),
        (json!({ "kind": "cap", "value": 5, "from": "2027-02-01", "reason": " " }), "validation", "/reason"),
        (
            json!({ "kind": "freeze", "from": "2027-02-01", "until": "2027-01-31", "reason": "-" }),
            "date-order",
            "/until",
        ),
        (json!({ "kind": "undo", "undoes": id(), "reason": "-" }), "unknown-id", "/undoes"),
        (json!({ "kind": "lower", "reason": "-" }), "validation", "/kind"),
    ];
    for (body, kind, pointer) in cases {
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{body}");
    }
    // Nobody decides about the own index.
    let own = format!("/members/{}/handicap-acts", night.olga);
    api.post(&own, &adjust).by(&cast.olga).key(&id()).refused(403, "forbidden").await;
    let cap = json!({ "kind": "cap", "value": 5, "from": "2027-02-01", "reason": "-" });
    let capped = decide(&api, &cast, &wren, cap).await;
    let undo = json!({ "kind": "undo", "undoes": capped, "reason": "-" });
    let undone = decide(&api, &cast, &wren, undo.clone()).await;
    let again = [undo, json!({ "kind": "undo", "undoes": undone, "reason": "-" })];
    for body in again {
        api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, "handicap-act").await;
    }
    // A day of a final event is settled.
    let card = on(&api, &cast, &night, &wren, 3).await;
    let card = api.get(format!("/rounds/{card}")).by(&cast.ann).expect(200).await.json();
    api.settle(card["event_id"].as_str().expect("an event"), &cast.olga).await;
    let cap = json!({ "kind": "cap", "value": 5, "from": "2027-01-03", "reason": "-" });
    let seen = api.post(&path, &cap).by(&cast.olga).key(&id()).refused(422, "handicap-act").await;
    assert_eq!(seen.faults()[0].0, "/from");
}
