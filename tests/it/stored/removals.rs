//! What nothing hangs on is removed: courses, simulators, seasons. What is left is whole.

use crate::support::harness::{Night, course, id, own, round, season, text};
use serde_json::json;

/// A season goes with its events, competitions and carried results; a card keeps it, its course and its simulator. Whatever
/// went is in the audit log, and neither `verify` nor a bundle misses it.
#[tokio::test]
async fn what_nothing_hangs_on_is_removed() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let league = format!("/leagues/{}", night.league);
    let mut card = round(&night.ann);
    card["setup_id"] = json!(night.setup);
    let card = api.hand_in(&night.event, &cast.ann, &card).await.id();
    api.delete(format!("/rounds/{card}")).by(&cast.ann).matching("*").expect(204).await;
    for (path, kind) in [
        (format!("/seasons/{}", night.season), "event-has-cards"),
        (format!("/courses/{}", night.course), "course-in-use"),
        (format!("/setups/{}", night.setup), "setup-in-use"),
    ] {
        api.delete(&path).by(&cast.olga).refused(428, "if-match-missing").await;
        api.delete(&path).by(&cast.olga).matching("\"9\"").refused(412, "stale").await;
        api.delete(&path).by(&cast.olga).matching("*").refused(409, kind).await;
    }
    // Practice alone keeps a simulator, too, and nobody else's is removed.
    let den = json!({ "label": "Den", "sensor": "other" });
    let den = api.post(format!("{league}/setups"), &den).by(&cast.ann).key(&id()).expect(201).await.id();
    let path = format!("/members/{}/practice", night.ann);
    let block = api.post(path, &super::practice::block(&den)).by(&cast.ann).key(&id()).expect(201).await.id();
    api.delete(format!("/setups/{den}")).by(&cast.ben).matching("*").refused(403, "forbidden").await;
    api.delete(format!("/setups/{den}")).by(&cast.ann).matching("*").refused(409, "setup-in-use").await;
    api.delete(format!("/practice/{block}")).by(&cast.ann).matching("*").expect(204).await;
    api.delete(format!("/setups/{den}")).by(&cast.ann).matching("*").expect(204).await;

    let made = api.post(format!("{league}/courses"), &course()).by(&cast.olga).key(&id()).expect(201).await.json();
    let trial = api.post(format!("{league}/seasons"), &season()).by(&cast.olga).key(&id()).expect(201).await.id();
    let on_it = Night { season: trial.clone(), tee: text(&made["tees"][0], "id"), ..night };
    let event = api.event(&cast, &on_it, json!({})).await;
    let carried = json!({ "member_id": on_it.ann, "label": "Autumn", "value": 3, "source": "a sheet" });
    api.post(format!("/seasons/{trial}/carried-results"), &carried).by(&cast.olga).key(&id()).expect(201).await;
    let path = format!("/seasons/{trial}");
    let tag = api.patch(&path, &json!({ "name": "Trials" })).by(&cast.olga).matching("*").expect(200).await.etag();
    let course = format!("/courses/{}", text(&made, "id"));
    api.delete(&course).by(&cast.olga).matching("*").refused(409, "course-in-use").await;
    // A card that is being filled in while the event is open keeps the season.
    let holes = json!({ "holes": [{ "number": 1, "strokes": 4 }] });
    api.put(format!("/events/{event}/progress"), &holes).by(&cast.ann).matching("*").expect(200).await;
    api.delete(&path).by(&cast.olga).matching(&tag).refused(409, "event-has-cards").await;
    api.patch(format!("/events/{event}"), &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    api.delete(&path).by(&cast.olga).matching(&tag).expect(204).await;
    api.delete(&course).by(&cast.olga).matching("*").expect(204).await;
    for gone in [path, course, format!("/events/{event}"), format!("/setups/{den}")] {
        api.get(&gone).by(&cast.olga).refused(404, "not-found").await;
        api.delete(&gone).by(&cast.olga).matching("*").refused(404, "not-found").await;
    }
    let journal = api.get(format!("{league}/journal?limit=200")).by(&cast.olga).expect(200).await.json();
    let entries = journal["items"].as_array().expect("entries").iter();
    let removed: Vec<String> =
        entries.filter(|entry| entry["act"] == "remove").map(|entry| text(entry, "kind")).collect();
    assert_eq!(removed, ["setup", "event", "competition", "carried_result", "season", "course"]);

    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
    let other = own();
    let moved = super::journal_bundle::bundle(&api, &on_it.league, &cast.olga).await;
    let code = super::journal_bundle::import(&other.server.app.leagues, &moved).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    assert_eq!(super::journal_bundle::bundle(&other, &on_it.league, &mover).await, moved);
}
