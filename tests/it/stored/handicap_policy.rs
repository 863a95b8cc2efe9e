//! What is played off in a season: the league index, a declared handicap, an average; frozen, limited, nines that count twice.

use super::matches::{nine, nine_holes};
use crate::support::harness::{Api, Cast, Night, id, own, round, shared, text};
use serde_json::{Value, json};

async fn member(api: &Api, cast: &Cast, night: &Night, start: f64) -> String {
    super::matches::member(api, cast, night, "Wren", Some(start)).await
}

async fn policy(api: &Api, cast: &Cast, night: &Night, handicap: Value) {
    let path = format!("/seasons/{}", night.season);
    api.patch(path, &json!({ "handicap": handicap })).by(&cast.olga).matching("*").expect(200).await;
}

async fn carry(api: &Api, cast: &Cast, member: &str, differentials: &[f64]) {
    let path = format!("/members/{member}/carried-differentials");
    for (n, differential) in differentials.iter().enumerate() {
        let body = json!({ "played_on": format!("2026-12-{:02}", n + 1), "differential": differential, "source": "-" });
        api.post(&path, &body).by(&cast.olga).key(&id()).expect(201).await;
    }
}

/// Course handicap and playing handicap of a card, and of its working the value of `index`.
async fn strokes(api: &Api, cast: &Cast, round: &str) -> (Value, Value, Value) {
    let seen = api.get(format!("/rounds/{round}")).by(&cast.olga).expect(200).await.json();
    let working = api.get(format!("/rounds/{round}/working")).by(&cast.olga).expect(200).await.json();
    let steps = working["steps"].as_array().expect("steps").iter();
    let index = steps.clone().find(|step| step["name"] == "index").map_or(Value::Null, |step| step["result"].clone());
    (seen["course_handicap"].clone(), seen["playing_handicap"].clone(), index)
}

/// The course has slope 113 and its rating is its par over 18 holes, so a course handicap is the rounded index.
///
/// ```text
/// differentials 20.0, 10.0, 12.0, 11.0; starting handicap 30.0
/// computed   Rule 5.2a: of four the lowest, less 1.0: 9.0
/// declared   30.0
/// average    best 2 of the last 3, 90 %: (10.0 + 11.0) / 2 · 0.9 = 9.45: 9.5
/// limit 8    8 of 9.5; the allowance is 100 %
/// ```
#[tokio::test]
async fn each_way_to_play_off_gives_its_strokes() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let full = json!({ "allowance_pct": 100 });
    api.patch(format!("/competitions/{}", night.competition), &full).by(&cast.olga).matching("*").expect(200).await;
    let wren = member(&api, &cast, &night, 30.0).await;
    carry(&api, &cast, &wren, &[20.0, 10.0, 12.0, 11.0]).await;
    let card = api.hand_in(&night.event, &cast.olga, &round(&wren)).await.id();
    let average = json!({ "kind": "average", "last": 3, "best": 2, "pct": 90 });
    let declared = json!({ "kind": "declared", "last": null, "best": null, "pct": null });
    let seen = strokes(&api, &cast, &card).await;
    assert_eq!(seen.2, json!(9));
    policy(&api, &cast, &night, average).await;
    let seen = strokes(&api, &cast, &card).await;
    assert_eq!(seen.2, json!(9.5));
    policy(&api, &cast, &night, json!({ "limit": 4 })).await;
    let limited = strokes(&api, &cast, &card).await;
    assert_eq!((limited.0, limited.1), (seen.0, json!(4)));
    policy(&api, &cast, &night, declared).await;
    assert_eq!(strokes(&api, &cast, &card).await.2, json!(30));
    let terms = api.get(format!("/competitions/{}/terms", night.competition)).by(&cast.ann).expect(200).await.text();
    assert!(terms.contains("an organizer declared. Nobody receives more than 4 strokes"), "{terms}");
    policy(&api, &cast, &night, json!({ "limit": null })).await;
    policy(&api, &cast, &night, json!({ "kind": "computed" })).await;
    assert_eq!(strokes(&api, &cast, &card).await.2, json!(9));
    // The index itself is the same under every policy.
    let index = api.get(format!("/members/{wren}/handicap")).by(&cast.olga).expect(200).await.json();
    assert!(index["league_index"].is_number(), "{index}");
    crate::stored::journal_bundle::clean(&api).await;
    let whole = crate::stored::journal_bundle::bundle(&api, &night.league, &cast.olga).await;
    assert!(
        whole.contains("\"handicap\":{\"kind\":\"computed\",\"frozen_from\":null,\"limit\":null,\"nines\":\"pair\"}")
    );
}

#[tokio::test]
async fn from_the_named_event_on_nobodys_handicap_moves_and_final_events_keep_theirs() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let wren = member(&api, &cast, &night, 20.0).await;
    carry(&api, &cast, &wren, &[20.0, 20.0]).await;
    let mut cards = Vec::new();
    let mut events = Vec::new();
    for day in 4..=7 {
        let times = json!({ "opens_at": format!("2027-01-{day:02}T17:00:00Z") });
        events.push(api.event(&cast, &night, times).await);
    }
    for event in &events {
        cards.push(api.hand_in(event, &cast.olga, &round(&wren)).await.id());
    }
    let played_off = async || {
        let mut seen = Vec::new();
        for card in &cards {
            seen.push(strokes(&api, &cast, card).await.2);
        }
        seen
    };
    // Without an index until the first card makes the third differential; then it falls.
    let free = played_off().await;
    assert_eq!(free[0], json!(20));
    assert!(free[3] != free[1], "{free:?}");
    policy(&api, &cast, &night, json!({ "frozen_from": events[1] })).await;
    let frozen = played_off().await;
    assert_eq!(frozen[..2], free[..2]);
    assert_eq!((&frozen[2], &frozen[3]), (&free[1], &free[1]));
    crate::stored::journal_bundle::clean(&api).await;
    // What is final stays when the freeze is lifted; the rest moves again.
    api.settle(&events[2], &cast.olga).await;
    policy(&api, &cast, &night, json!({ "frozen_from": null })).await;
    let after = played_off().await;
    assert_eq!(after, [free[0].clone(), free[1].clone(), free[1].clone(), free[3].clone()]);
    crate::stored::journal_bundle::clean(&api).await;
    // What settled events rest on is settled: the limit, and what becomes of nines.
    let path = format!("/seasons/{}", night.season);
    for change in [json!({ "limit": 18 }), json!({ "nines": "double" })] {
        let body = json!({ "handicap": change });
        api.patch(&path, &body).by(&cast.olga).matching("*").refused(409, "terms-settled").await;
    }
    api.patch(&path, &json!({ "handicap": { "kind": "declared" } })).by(&cast.olga).matching("*").expect(200).await;
}

#[tokio::test]
async fn nines_that_count_twice_make_a_differential_each() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let wren = member(&api, &cast, &night, 0.0).await;
    for day in [3, 4, 5] {
        let event = nine_holes(&api, &cast, &night, day).await;
        api.hand_in(&event, &cast.olga, &nine(&wren, &[1])).await;
    }
    let differentials = async || {
        let seen = api.get(format!("/members/{wren}/handicap")).by(&cast.olga).expect(200).await.json();
        let all = seen["differentials"].as_array().expect("differentials").iter();
        all.map(|one| (text(one, "kind"), one["value"].clone())).collect::<Vec<_>>()
    };
    // A card one over par, rating and slope of the nine as its par and 113: a differential of 1.0, of a pair 2.0.
    assert_eq!(differentials().await, [("pair".to_owned(), json!(2.0))]);
    policy(&api, &cast, &night, json!({ "nines": "double" })).await;
    let due = ("round".to_owned(), json!(2.0));
    assert_eq!(differentials().await, [due.clone(), due.clone(), due]);
}

#[tokio::test]
async fn handicap_terms_that_mean_nothing_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}", night.season);
    let cases = [
        (json!({ "kind": "average", "last": 5, "best": 8, "pct": 90 }), "handicap-policy", "/handicap/best"),
        (json!({ "kind": "average", "last": 41, "best": 8, "pct": 90 }), "validation", "/handicap/last"),
        (json!({ "kind": "average", "last": 8, "best": 0, "pct": 90 }), "validation", "/handicap/best"),
        (json!({ "kind": "average", "last": 8, "best": 4, "pct": 201 }), "validation", "/handicap/pct"),
        (json!({ "last": 5 }), "validation", "/handicap/last"),
        (json!({ "kind": "best" }), "validation", "/handicap/kind"),
        (json!({ "limit": 73 }), "validation", "/handicap/limit"),
        (json!({ "frozen_from": night.season }), "unknown-event", "/handicap/frozen_from"),
    ];
    for (handicap, kind, pointer) in cases {
        let body = json!({ "handicap": handicap });
        let seen = api.patch(&path, &body).by(&cast.olga).matching("*").refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{handicap}");
    }
}
