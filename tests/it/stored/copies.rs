//! Events and seasons copied to later days, looked at first, all or none.

use crate::support::harness::{Seen, id, own, round, shared, text};
use serde_json::{Value, json};

fn items(seen: &Seen) -> Vec<(String, String)> {
    let list = seen.json()["items"].as_array().expect("items").clone();
    list.iter().map(|event| (text(event, "name"), text(event, "opens_at"))).collect()
}

/// Last week's night again, or a series: at the same time by the league's clocks, days left out, nothing half done.
#[tokio::test]
async fn an_event_is_copied_to_later_days() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let changes = json!({
        "name": "Night 9", "opens_at": "2027-03-18T17:00:00Z", "closes_at": "2027-03-18T22:00:00Z", "state": "closed",
        "playing_conditions": 2, "stimp_ft": 11.5, "tees": [{ "tee_id": night.tee, "member_id": night.ann }],
    });
    let first = api.event(&cast, &night, changes).await;
    let at = format!("/events/{first}/copies");
    let terms = json!({ "days": 7, "times": 3, "skip": ["2027-04-01"] });
    let key = id();
    let count = || async {
        let path = format!("/seasons/{}/events?limit=200", night.season);
        api.get(path).by(&cast.ann).expect(200).await.json()["items"].as_array().map(Vec::len)
    };
    let before = count().await;
    let seen = api.post(format!("{at}?validate_only=true"), &terms).by(&cast.olga).key(&id()).expect(200).await;
    assert_eq!(count().await, before, "a look adds nothing");
    // Clocks in Zurich go forward on 28 March: 18:00 stays 18:00.
    let due = [
        ("Night 10", "2027-03-25T17:00:00Z"),
        ("Night 11", "2027-04-08T16:00:00Z"),
        ("Night 12", "2027-04-15T16:00:00Z"),
    ];
    let due: Vec<(String, String)> = due.iter().map(|(name, opens)| ((*name).into(), (*opens).into())).collect();
    assert_eq!(items(&seen), due);
    let made = api.post(&at, &terms).by(&cast.olga).key(&key).expect(201).await;
    assert_eq!(items(&made), due);
    let copy = &made.json()["items"][0];
    assert_eq!((&copy["state"], &copy["playing_conditions"]), (&json!("scheduled"), &json!(0)));
    assert_eq!((&copy["stimp_ft"], &copy["tees"][0]["member_id"]), (&json!(11.5), &json!(night.ann)));
    let again = api.post(&at, &terms).by(&cast.olga).key(&key).expect(201).await;
    assert_eq!(again.text(), made.text(), "the same request gets the same answer");
    // Under another key it would be made a second time: the days are taken.
    let taken = api.post(&at, &terms).by(&cast.olga).key(&id()).expect(422).await;
    assert_eq!(taken.faults()[0].0, "/skip", "{taken}");
    // Past the end of the season none is made; the fault names the first that does not fit.
    let many = json!({ "days": 7, "times": 30, "skip": ["2027-03-25", "2027-04-08", "2027-04-15"] });
    let refused = api.post(&at, &many).by(&cast.olga).key(&id()).refused(422, "outside-season").await;
    assert_eq!(refused.faults()[0].0, "/days", "{refused}");
    assert_eq!(count().await, before.map(|count| count + 3));
    for (field, value) in [("days", json!(0)), ("times", json!(61)), ("days", json!(1501)), ("skip", json!(["soon"]))] {
        let mut bad = terms.clone();
        bad[field] = value;
        let refused = api.post(&at, &bad).by(&cast.olga).key(&id()).refused(422, "validation").await;
        assert!(refused.faults()[0].0.starts_with(&format!("/{field}")), "{refused}");
    }
}

/// A season is copied with its competitions and events; what adds others up adds up the copies, and no card comes along.
#[tokio::test]
async fn a_season_is_copied() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let season = format!("/seasons/{}", night.season);
    let add = |body: Value| {
        let path = format!("{season}/competitions");
        api.post(path, &body).by(&cast.olga).key(&id()).expect(201)
    };
    let net = json!({ "name": "Net", "score": { "kind": "points" }, "position": 3 });
    let net = add(net).await.id();
    let sum = json!({ "kind": "sum", "of": [night.competition, net] });
    add(json!({ "name": "Overall", "meeting": sum, "position": 2 })).await;
    let later = json!({ "opens_at": "2027-01-21T17:00:00Z", "closes_at": "2027-01-21T22:00:00Z", "name": "Holiday" });
    let holiday = api.event(&cast, &night, later).await;
    let counted = json!([{ "event_ids": [night.event, holiday], "take": "best" }]);
    add(json!({ "name": "Chosen", "score": { "kind": "points" }, "events": counted, "position": 4 })).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.settle(&night.event, &cast.olga).await;
    let at = format!("{season}/copies");
    let terms = json!({ "days": 364, "skip": ["2028-01-20"] });
    let listed = || async {
        let path = format!("/leagues/{}/seasons", night.league);
        api.get(path).by(&cast.ann).expect(200).await.json()["items"].as_array().map(Vec::len)
    };
    let seen = api.post(format!("{at}?validate_only=true"), &terms).by(&cast.olga).key(&id()).expect(200).await.json();
    assert_eq!((&seen["name"], listed().await), (&json!("Winter 2028"), Some(1)));
    let made = api.post(&at, &terms).by(&cast.olga).key(&id()).expect(201).await;
    let copy = made.json();
    assert_eq!((&copy["starts_on"], &copy["ends_on"]), (&json!("2027-12-31"), &json!("2028-04-28")));
    assert_eq!(copy["concession_ft"], 3.0);
    let events = copy["events"].as_array().expect("events");
    assert_eq!(events.len(), 1, "the holiday is left out: {copy}");
    assert_eq!((&events[0]["opens_at"], &events[0]["state"]), (&json!("2028-01-13T17:00:00Z"), &json!("scheduled")));
    let competitions = copy["competitions"].as_array().expect("competitions");
    let named = |name: &str| competitions.iter().find(|made| made["name"] == name).expect("it is there").clone();
    let parts = json!([named("Winter 2027")["id"], named("Net")["id"]]);
    assert_eq!(named("Overall")["meeting"]["of"], parts);
    assert_eq!(named("Winter 2027")["allowance_pct"], 95);
    // Events that it names are those of the copy; the one that was left out is gone.
    assert_eq!(named("Chosen")["events"], json!([{ "event_ids": [events[0]["id"]], "weight": 1, "take": "best" }]));
    let table = api.get(format!("/seasons/{}/standings", made.id())).by(&cast.ann).expect(200).await.json();
    assert_eq!(table["items"], json!([]), "no card comes along");
    let bare = json!({ "days": 364, "events": false, "name": "Bare" });
    let bare = api.post(&at, &bare).by(&cast.olga).key(&id()).expect(201).await.json();
    assert_eq!((&bare["name"], &bare["events"]), (&json!("Bare"), &json!([])));
    assert!(bare["competitions"].as_array().expect("competitions").iter().all(|made| made["events"].is_null()));
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
    // What was copied by mistake has no cards and can be deleted.
    for id in [made.id(), text(&bare, "id")] {
        api.delete(format!("/seasons/{id}")).by(&cast.olga).matching("*").expect(204).await;
    }
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
}
