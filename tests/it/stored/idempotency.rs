//! The same request sent again: idempotency keys (R3) and `client_round_id` (R4).

use crate::support::harness::{id, merged, round, shared};
use futures_util::future::join_all;
use serde_json::{Value, json};

#[tokio::test]
async fn a_round_needs_a_key_that_is_a_uuid() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let body = round(&night.ann);
    api.post(&path, &body).by(&cast.ann).refused(400, "idempotency-key-missing").await;
    api.post(&path, &body).by(&cast.ann).key("round one").refused(400, "malformed").await;
    // A key that is no key is refused also where none is needed.
    let league = json!({ "name": "Another", "time_zone": "UTC" });
    api.post("/leagues", &league).by(&cast.ann).key("again").refused(400, "malformed").await;
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 0);
}

#[tokio::test]
async fn the_same_key_and_body_get_the_same_bytes_again() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let (key, body) = (id(), round(&night.ann));
    let first = api.post(&path, &body).by(&cast.ann).key(&key).expect(201).await;
    assert_eq!(first.header("idempotency-replayed"), "");
    assert_eq!(first.header("location"), format!("/api/v1/rounds/{}", first.id()));
    // The key may stand in quotes, and the body may be laid out otherwise.
    let quoted = format!("\"{key}\"");
    let laid_out = serde_json::to_string_pretty(&body).expect("JSON");
    for (key, text) in [(&key, body.to_string()), (&quoted, laid_out)] {
        let again = api.call("POST", &path).raw("application/json", text).by(&cast.ann).key(key).expect(201).await;
        assert_eq!(again.header("idempotency-replayed"), "true");
        assert_eq!(again.bytes, first.bytes, "the replayed body differs");
        for header in ["etag", "location", "content-type"] {
            assert_eq!(again.header(header), first.header(header), "{header}");
        }
    }
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 1);
}

/// The answer is the first one, whatever became of the round since.
#[tokio::test]
async fn an_answer_given_again_is_the_one_that_was_given() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let (key, mut body) = (id(), round(&night.ann));
    body["holes"][0]["strokes"] = json!(6);
    body["holes"][0]["putts"] = json!([
        { "distance_ft": 23.6, "start_line_deg": 0.30000000000000004, "result": "missed" },
        { "distance_ft": 2.5, "result": "holed" },
    ]);
    let first = api.post(&path, &body).by(&cast.ann).key(&key).expect(201).await;
    let again = async |what: &str| {
        let again = api.post(&path, &body).by(&cast.ann).key(&key).expect(201).await;
        assert_eq!((again.header("idempotency-replayed"), &again.bytes), ("true", &first.bytes), "{what}");
    };
    again("at once").await;
    let at = format!("/rounds/{}", first.id());
    for strokes in [7, 8] {
        let mut changed = merged(body.clone(), &json!({ "outcome": "no_return" }));
        changed["holes"][0]["strokes"] = json!(strokes);
        api.put(&at, &changed).by(&cast.ann).matching("*").expect(200).await;
        again("after a correction").await;
    }
    api.delete(&at).by(&cast.ann).matching("*").expect(204).await;
    again("after it was withdrawn").await;
}

#[tokio::test]
async fn the_same_key_with_another_body_is_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let key = id();
    api.post(&path, &round(&night.ann)).by(&cast.ann).key(&key).expect(201).await;
    let other = round(&night.ann);
    api.post(&path, &other).by(&cast.ann).key(&key).refused(422, "idempotency-key-reused").await;
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 1);
}

/// R3: only what happened is kept; a refused request leaves its key free.
#[tokio::test]
async fn a_refused_request_leaves_its_key_free() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let (key, body) = (id(), round(&night.ann));
    let missing_hole = merged(body.clone(), &json!({ "holes": [] }));
    api.post(&path, &missing_hole).by(&cast.ann).key(&key).refused(422, "hole-missing").await;
    api.post(&path, &body).by(&cast.ann).key(&key).expect(201).await;
}

/// A key belongs to one account and one route.
#[tokio::test]
async fn keys_of_other_accounts_and_routes_are_other_keys() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let other_event = api.event(&cast, &night, json!({})).await;
    let key = id();
    let (first, second) = (format!("/events/{}/rounds", night.event), format!("/events/{other_event}/rounds"));
    api.post(&first, &round(&night.ann)).by(&cast.ann).key(&key).expect(201).await;
    api.post(&first, &round(&night.ben)).by(&cast.ben).key(&key).expect(201).await;
    api.post(&second, &round(&night.ann)).by(&cast.ann).key(&key).expect(201).await;
    let league = json!({ "name": "Another", "time_zone": "UTC" });
    api.post("/leagues", &league).by(&cast.ann).key(&key).expect(201).await;
}

/// R3: a replay is authorized like any other request.
#[tokio::test]
async fn a_replay_is_authorized_again() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/setups", night.league);
    let (key, body) = (id(), json!({ "label": "Den", "sensor": "other" }));
    api.post(&path, &body).by(&cast.ben).key(&key).expect(201).await;
    api.delete(format!("/members/{}", night.ben)).by(&cast.olga).matching("*").expect(204).await;
    api.post(&path, &body).by(&cast.ben).key(&key).refused(404, "not-found").await;
}

/// Keys work on every route that takes one.
#[tokio::test]
async fn every_route_that_takes_a_key_replays() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let calls: [(String, Value); 6] = [
        ("/leagues".into(), json!({ "name": "Another", "time_zone": "UTC" })),
        (format!("/leagues/{}/members", night.league), json!({ "display_name": "Walter" })),
        (format!("/leagues/{}/courses", night.league), crate::support::harness::course()),
        (format!("/leagues/{}/setups", night.league), json!({ "label": "Den", "sensor": "other" })),
        (format!("/leagues/{}/seasons", night.league), crate::support::harness::season()),
        (format!("/seasons/{}/events", night.season), crate::support::harness::event(&night.tee)),
    ];
    for (path, body) in calls {
        let key = id();
        let first = api.post(&path, &body).by(&cast.olga).key(&key).expect(201).await;
        let again = api.post(&path, &body).by(&cast.olga).key(&key).expect(201).await;
        assert_eq!((again.header("idempotency-replayed"), &again.bytes), ("true", &first.bytes), "{path}");
        let changed = merged(body, &json!({ "name": "X", "display_name": "X", "label": "X" }));
        let other = api.post(&path, &changed).by(&cast.olga).key(&key).send().await;
        assert_eq!(other.status, 422, "{path}: {other}");
    }
}

/// R4: the same `client_round_id` finds the stored round, with another key or after the key is forgotten.
#[tokio::test]
async fn the_same_round_under_a_new_key_answers_the_stored_one() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let body = round(&night.ann);
    let stored = api.hand_in(&night.event, &cast.ann, &body).await.json();
    let again = api.post(&path, &body).by(&cast.ann).key(&id()).expect(200).await;
    assert_eq!(again.json(), stored);
    // Without naming the member, the holes in another order, defaults written out: the same round.
    let mut same = body.clone();
    same.as_object_mut().expect("an object").remove("member_id");
    same["outcome"] = json!("complete");
    same["setup_id"] = Value::Null;
    same["holes"].as_array_mut().expect("holes").reverse();
    assert_eq!(api.post(&path, &same).by(&cast.ann).key(&id()).expect(200).await.json(), stored);
    // Another body under it is another round: refused.
    let other = merged(body.clone(), &json!({ "played_on": "2027-01-13" }));
    api.post(&path, &other).by(&cast.ann).key(&id()).refused(409, "round-exists").await;
    // Also in another event.
    let elsewhere = api.event(&cast, &night, json!({})).await;
    let path = format!("/events/{elsewhere}/rounds");
    api.post(&path, &body).by(&cast.ann).key(&id()).refused(409, "round-exists").await;
    // Another member may use the same id.
    api.hand_in(&elsewhere, &cast.ben, &merged(body, &json!({ "member_id": night.ben }))).await;
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 1);
}

/// R4: a retry finds its round after the event has closed, after final, after a correction and a withdrawal.
#[tokio::test]
async fn a_late_retry_still_finds_its_round() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/rounds", night.event);
    let body = round(&night.ann);
    let stored = api.hand_in(&night.event, &cast.ann, &body).await;
    let at = format!("/rounds/{}", stored.id());
    let corrected = merged(body.clone(), &json!({ "played_on": "2027-01-13" }));
    let confirmed = format!("{at}?confirm=dates");
    let after = api.put(confirmed, &corrected).by(&cast.ann).matching(&stored.etag()).expect(200).await;
    let found = api.post(&path, &body).by(&cast.ann).key(&id()).expect(200).await;
    assert_eq!(found.json(), after.json(), "the retry of the first body answers the round as it is now");
    assert_eq!(found.etag(), after.etag());
    // The corrected body was never handed in.
    api.post(&path, &corrected).by(&cast.ann).key(&id()).refused(409, "round-exists").await;

    let event = format!("/events/{}", night.event);
    api.patch(&event, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    api.post(&path, &body).by(&cast.ann).key(&id()).expect(200).await;
    api.settle(&night.event, &cast.olga).await;
    api.post(&path, &body).by(&cast.ann).key(&id()).expect(200).await;
    let late = round(&night.ben);
    api.post(&path, &late).by(&cast.ben).key(&id()).refused(409, "event-final").await;

    let second = api.event(&cast, &night, json!({})).await;
    let body = round(&night.ann);
    let stored = api.hand_in(&second, &cast.ann, &body).await.id();
    api.delete(format!("/rounds/{stored}")).by(&cast.ann).matching("*").expect(204).await;
    let path = format!("/events/{second}/rounds");
    let found = api.post(&path, &body).by(&cast.ann).key(&id()).expect(200).await.json();
    assert_eq!((&found["state"], &found["id"]), (&json!("withdrawn"), &json!(stored)));
}

/// F7: fifty equal requests at once make one round, where the server knows the league's book and stores rounds together,
/// and where it does not yet and stores each in a change of its own.
#[tokio::test]
async fn fifty_equal_requests_at_once_make_one_round() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    for (same_key, is_known) in [(true, false), (false, false), (true, true), (false, true)] {
        let event = api.event(&cast, &night, json!({})).await;
        if is_known {
            api.hand_in(&event, &cast.ben, &round(&night.ben)).await;
        }
        let (path, key, body) = (format!("/events/{event}/rounds"), id(), round(&night.ann));
        let calls = (0..50).map(|_| {
            let key = if same_key { key.clone() } else { id() };
            api.post(&path, &body).by(&cast.ann).key(&key).send()
        });
        let answers = join_all(calls).await;
        let made = answers.iter().filter(|seen| seen.status == 201 && seen.header("idempotency-replayed") != "true");
        assert_eq!(made.count(), 1, "exactly one of fifty makes the round");
        for seen in &answers {
            let fine = match seen.status {
                201 => true,
                200 => !same_key,
                409 => same_key && seen.json()["type"] == "/problems/key-in-flight",
                _ => false,
            };
            assert!(fine, "{seen}");
        }
        assert_eq!(api.rounds(&event, &cast.ann).await, 1 + usize::from(is_known));
    }
}
