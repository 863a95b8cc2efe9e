//! Guests: on the boards of events, in no table.

use super::matches::competition;
use crate::support::harness::{Seen, card, id, own, round, text};
use serde_json::{Value, json};

fn rows(seen: &Seen) -> Vec<(String, Value)> {
    let seen = seen.json();
    let rows = seen["rows"].as_array().or(seen["items"].as_array()).expect("rows").iter();
    rows.map(|row| (text(row, "display_name"), row["position"].clone())).collect()
}

#[tokio::test]
async fn a_guest_has_no_place_unless_entered_where_that_counts() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let by_entry = json!({ "name": "Sweep", "field": { "by_entry": true }, "position": 2 });
    let by_entry = competition(&api, &cast, &night, by_entry).await;
    let path = format!("/leagues/{}/members", night.league);
    let guest = json!({ "display_name": "Wren", "guest": true });
    let guest = api.post(&path, &guest).by(&cast.olga).key(&id()).expect(201).await.id();
    let entry = json!({ "member_id": guest, "competitions": [by_entry] });
    api.post(format!("/events/{}/entries", night.event), &entry).by(&cast.olga).key(&id()).expect(201).await;
    // The guest's card is the best one: a stroke under par.
    let mut strokes: Vec<u8> = round(&guest)["holes"]
        .as_array()
        .expect("holes")
        .iter()
        .map(|hole| hole["strokes"].as_u64().expect("strokes") as u8)
        .collect();
    strokes[1] -= 1;
    api.hand_in(&night.event, &cast.olga, &card(&guest, &strokes)).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let board = async |of: &str| {
        let path = format!("/events/{}/board?competition={of}", night.event);
        rows(&api.get(path).by(&cast.ann).expect(200).await)
    };
    let table =
        async |of: &str| rows(&api.get(format!("/competitions/{of}/standings")).by(&cast.ann).expect(200).await);
    let (ann, wren) = ("Ann".to_owned(), "Wren".to_owned());
    assert_eq!(board(&night.competition).await, [(ann.clone(), json!(1)), (wren.clone(), Value::Null)]);
    assert_eq!(table(&night.competition).await, [(ann.clone(), json!(1))]);
    assert_eq!(board(&by_entry).await, [(wren.clone(), json!(1))]);
    assert_eq!(table(&by_entry).await, [(wren.clone(), json!(1))]);
    crate::stored::journal_bundle::clean(&api).await;

    // Who stays takes a place: that is shown first, and done until a card is final.
    let member = format!("/members/{guest}");
    let stays = json!({ "guest": false });
    let looked = format!("{member}?validate_only=true");
    let seen = api.patch(looked, &stays).by(&cast.olga).matching("*").expect(200).await.text();
    assert!(seen.contains("moves"), "{seen}");
    api.patch(&member, &stays).by(&cast.olga).matching("*").expect(200).await;
    assert_eq!(table(&night.competition).await, [(wren, json!(1)), (ann, json!(2))]);
    api.settle(&night.event, &cast.olga).await;
    let again = json!({ "guest": true });
    api.patch(&member, &again).by(&cast.olga).matching("*").refused(409, "terms-settled").await;
    crate::stored::journal_bundle::clean(&api).await;
}
