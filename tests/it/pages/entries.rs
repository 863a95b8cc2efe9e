//! Who plays: players enter and withdraw, who keeps scores sets times and bays.

use crate::support::browsing::{page, send, signed_in, value};
use crate::support::harness::{id, shared};
use serde_json::json;

#[tokio::test]
async fn a_player_enters_and_a_scorer_sets_times_and_bays() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (ann, sam) = (signed_in(&api, &cast.ann.email).await, signed_in(&api, &cast.sam.email).await);
    let terms = json!({ "name": "Skins", "position": 2, "meeting": { "kind": "hole" }, "field": { "by_entry": true } });
    let path = format!("/seasons/{}/competitions", night.season);
    let skins = api.post(path, &terms).by(&cast.olga).key(&id()).expect(201).await.id();
    let at = format!("/events/{}/entries", night.event);
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("Nobody has entered yet") && shown.contains("Skins"), "{shown}");
    let key = value(&shown, "key");
    for _ in 0..2 {
        send(&api, &at, &ann, &[("key", &key), ("competition", &skins)]).expect(303).await;
    }
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("You are entered: Skins."), "{shown}");

    let all = format!("{at}/all");
    page(&api, &at, &sam).expect(200).await;
    let form = page(&api, &all, &sam).expect(200).await.text();
    assert!(form.contains("Ann; ; ; Skins"), "{form}");
    let known = value(&form, "known");
    let wrong = send(&api, &all, &sam, &[("lines", "Ann; 19:00; 2; Skins\nNobody"), ("known", &known)]);
    let wrong = wrong.expect(422).await.text();
    assert!(wrong.contains("Line 2: nobody is called Nobody"), "{wrong}");
    let lines = [("lines", "ann; 19:00; 2; skins\nBen; 19:00; 3"), ("known", known.as_str())];
    send(&api, &all, &sam, &lines).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("You are entered: 19:00, bay 2, Skins."), "{shown}");
    assert!(shown.contains("19:00, bay 3"), "{shown}");
    // What was seen is no longer what is there.
    send(&api, &all, &sam, &lines).expect(412).await;
    send(&api, &all, &ann, &lines).expect(403).await;

    let listed = api.get(&at).by(&cast.ann).expect(200).await.json();
    let own = listed["items"].as_array().expect("entries").iter().find(|one| one["member_id"] == json!(night.ann));
    let removal = format!("/entries/{}/removal", own.expect("an entry")["id"].as_str().expect("an id"));
    let asked = send(&api, &removal, &ann, &[("event", &night.event)]).expect(200).await.text();
    assert!(asked.contains("Withdraw the entry of Ann?") && asked.contains("19:00, bay 2, Skins"), "{asked}");
    send(&api, &removal, &ann, &[("event", &night.event), ("seen", "yes")]).expect(303).await;
    assert!(!page(&api, &at, &ann).expect(200).await.text().contains("bay 2"));

    // The next night begins with who played in this one; nothing is stored by looking.
    let times = json!({ "opens_at": "2027-01-21T17:00:00Z", "closes_at": "2027-01-21T22:00:00Z" });
    let next = api.event(&cast, &night, times).await;
    let at = format!("/events/{next}/entries");
    let link = format!("{at}/all?as=before");
    assert!(page(&api, &at, &sam).expect(200).await.text().contains(&link));
    let form = page(&api, &link, &sam).expect(200).await.text();
    assert!(form.contains("Ben; 19:00; 3"), "{form}");
    assert!(page(&api, &at, &sam).expect(200).await.text().contains("Nobody has entered yet."));
}
