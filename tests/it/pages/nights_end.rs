//! All nights that are over are made final in one act.

use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::{own, round};
use serde_json::json;

#[tokio::test]
async fn nights_whose_queries_are_over_become_final_together() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let mut events = Vec::new();
    for day in ["03", "04", "05"] {
        let times = json!({ "opens_at": format!("2027-01-{day}T17:00:00Z"), "closes_at": "2027-01-14T22:00:00Z" });
        events.push(api.event(&cast, &night, times).await);
    }
    api.hand_in(&events[0], &cast.ann, &round(&night.ann)).await;
    api.hand_in(&events[1], &cast.ann, &round(&night.ann)).await;
    // Ben's card for the second waits for him.
    api.hand_in(&events[1], &cast.ann, &round(&night.ben)).await;
    let at = format!("/seasons/{}/close", night.season);
    page(&api, &at, &ann).expect(403).await;
    for event in &events {
        let body = json!({ "closes_at": "2027-01-14T18:59:00Z" });
        api.patch(format!("/events/{event}"), &body).by(&cast.olga).matching("*").expect(200).await;
    }
    let shown = page(&api, &at, &olga).expect(200).await.text();
    assert!(shown.contains("queries are taken until") && !shown.contains("<button>Make"), "{shown}");
    let path = format!("/seasons/{}", night.season);
    api.patch(path, &json!({ "query_hours": 0 })).by(&cast.olga).matching("*").expect(200).await;
    let shown = page(&api, &at, &olga).expect(200).await.text();
    assert!(shown.contains("Make 1 night final…"), "{shown}");
    let asked = send(&api, &at, &olga, &[]).expect(200).await.text();
    assert!(asked.contains("Make this night final?"), "{asked}");
    let kept = asked.split("name=\"night\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a night");
    // A card that changes in between is looked at again.
    let reason = json!({ "decision": "exclude_round", "reason": "the wrong tee" });
    let board = api.get(format!("/events/{}/rounds", events[0])).by(&cast.olga).expect(200).await.json();
    let card = board["items"][0]["id"].as_str().expect("a card").to_owned();
    let rulings = format!("/rounds/{card}/rulings");
    api.post(&rulings, &reason).by(&cast.olga).key(&crate::support::harness::id()).expect(201).await;
    send(&api, &at, &olga, &[("night", kept), ("seen", "yes")]).expect(409).await;
    let back = json!({ "decision": "reinstate", "reason": "the right tee" });
    api.post(&rulings, &back).by(&cast.olga).key(&crate::support::harness::id()).expect(201).await;
    let asked = send(&api, &at, &olga, &[]).expect(200).await.text();
    let kept = asked.split("name=\"night\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a night");
    let answered = [("night", kept), ("seen", "yes")];
    send(&api, &at, &olga, &answered).expect(303).await;
    send(&api, &at, &olga, &answered).expect(303).await;
    let state = async |event: &str| {
        let seen = api.get(format!("/events/{event}")).by(&cast.ann).expect(200).await.json();
        seen["state"].as_str().expect("a state").to_owned()
    };
    assert_eq!((state(&events[0]).await, state(&events[1]).await), ("final".to_owned(), "closed".to_owned()));
}
