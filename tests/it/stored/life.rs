//! The life of a round and of a season: proposed and late cards, rulings and their effect, queries, entries, rosters,
//! notices, and the record of what changed.

use crate::support::harness::{Api, Cast, Night, Person, card, id, merged, own, par, round, shared};
use serde_json::{Value, json};

/// A card of par with the given strokes on the first hole: 35 points with a 5 there, 36 with a 4, 34 with a 6.
fn first_hole(member: &str, strokes: u8) -> Value {
    let mut all: Vec<u8> = (1..=18).map(par).collect();
    all[0] = strokes;
    card(member, &all)
}

async fn state_of(api: &Api, round: &str, by: &Person) -> String {
    let seen = api.get(format!("/rounds/{round}")).by(by).expect(200).await.json();
    seen["state"].as_str().expect("a state").to_owned()
}

/// The total of a member in the season's table; null without a row.
async fn total(api: &Api, cast: &Cast, night: &Night, member: &str) -> Value {
    let table = api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ann).expect(200).await.json();
    let rows = table["items"].as_array().expect("rows");
    rows.iter().find(|row| row["member_id"] == member).map_or(Value::Null, |row| row["total"].clone())
}

async fn notices(api: &Api, by: &Person, league: &str) -> Vec<(String, Value)> {
    let seen = api.get("/me/notices?limit=200").by(by).expect(200).await.json();
    let mine = seen["items"].as_array().expect("items").iter().filter(|notice| notice["league_id"] == league);
    mine.map(|notice| (notice["kind"].as_str().expect("a kind").to_owned(), notice["round_id"].clone())).collect()
}

#[tokio::test]
async fn a_card_for_another_waits_for_that_member_or_an_organizer() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let proposed = api.hand_in(&night.event, &cast.ann, &first_hole(&night.ben, 5)).await;
    assert_eq!((&proposed.json()["state"], &proposed.json()["points"]), (&json!("proposed"), &Value::Null));
    let proposed = proposed.id();
    assert_eq!(total(&api, &cast, &night, &night.ben).await, Value::Null, "a proposed card counts for nothing");
    assert_eq!(notices(&api, &cast.ben, &night.league).await, [("round_proposed".into(), json!(proposed))]);
    let at = format!("/rounds/{proposed}/acceptance");
    // Not by whoever handed it in, and not by a scorer.
    for by in [&cast.ann, &cast.sam] {
        api.call("POST", &at).by(by).refused(403, "forbidden").await;
    }
    let accepted = api.call("POST", &at).by(&cast.ben).expect(200).await.json();
    assert_eq!((&accepted["state"], &accepted["points"]), (&json!("submitted"), &json!(35)));
    api.call("POST", &at).by(&cast.ben).refused(409, "nothing-to-accept").await;
    api.call("POST", &at).by(&cast.olga).refused(409, "nothing-to-accept").await;
    assert_eq!(total(&api, &cast, &night, &night.ben).await, 35);
    assert_eq!(notices(&api, &cast.ann, &night.league).await, [("round_accepted".into(), json!(proposed))]);
}

#[tokio::test]
async fn an_own_card_replaces_a_proposed_one_and_no_other() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let proposed = api.hand_in(&night.event, &cast.ann, &first_hole(&night.ben, 5)).await.id();
    let path = format!("/events/{}/rounds", night.event);
    // A second proposal, also by an organizer, does not push the first aside.
    for by in [&cast.ann, &cast.olga] {
        api.post(&path, &first_hole(&night.ben, 6)).by(by).key(&id()).refused(409, "second-round").await;
    }
    let own = api.hand_in(&night.event, &cast.ben, &first_hole(&night.ben, 4)).await.json();
    assert_eq!((&own["state"], &own["points"]), (&json!("submitted"), &json!(36)));
    assert_eq!(state_of(&api, &proposed, &cast.ann).await, "withdrawn");
    api.call("POST", &format!("/rounds/{proposed}/acceptance")).by(&cast.ben).refused(409, "nothing-to-accept").await;
    api.post(&path, &first_hole(&night.ben, 6)).by(&cast.ben).key(&id()).refused(409, "second-round").await;
}

#[tokio::test]
async fn a_late_card_is_kept_until_an_organizer_accepts_it() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    api.patch(&at, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    let body = first_hole(&night.ann, 5);
    let late = api.hand_in(&night.event, &cast.ann, &body).await;
    assert_eq!(late.json()["state"], "late");
    let late = late.id();
    // Sent again under another key it is the same card still.
    let again = api.post(format!("{at}/rounds"), &body).by(&cast.ann).key(&id()).expect(200).await;
    assert_eq!(again.id(), late);
    assert_eq!(notices(&api, &cast.olga, &night.league).await, [("round_late".into(), json!(late))]);
    // An event is not made final over it, and nobody but an organizer lets it in, not even its player.
    let settled = json!({ "closes_at": "2027-01-14T18:59:00Z", "state": "final" });
    api.patch(&at, &settled).by(&cast.olga).matching("*").refused(409, "cards-waiting").await;
    let accept = format!("/rounds/{late}/acceptance");
    for by in [&cast.ann, &cast.ben, &cast.sam] {
        api.call("POST", &accept).by(by).refused(403, "forbidden").await;
    }
    assert_eq!(total(&api, &cast, &night, &night.ann).await, Value::Null);
    let accepted = api.call("POST", &accept).by(&cast.olga).expect(200).await.json();
    assert_eq!((&accepted["state"], &accepted["points"]), (&json!("submitted"), &json!(35)));
    assert_eq!(total(&api, &cast, &night, &night.ann).await, 35);
    // What it moved stands in the record: who, what, which row.
    let changes = format!("/seasons/{}/standings/changes", night.season);
    let changes = api.get(changes).by(&cast.ben).expect(200).await.json();
    let change = &changes["items"][0];
    assert_eq!((&change["act"], &change["member_id"]), (&json!("accept"), &json!(night.olga)));
    assert_eq!(change["thing_id"], late.as_str());
    let row = json!([{ "member_id": night.ann, "from": { "position": null, "total": null },
                       "to": { "position": 1, "total": 35 } }]);
    assert_eq!(change["moves"], row);
    api.settle(&night.event, &cast.olga).await;
}

/// Nobody lets an own card in after closing, whatever the role: somebody else does.
#[tokio::test]
async fn an_own_late_card_waits_for_somebody_else() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    let early = api.hand_in(&night.event, &cast.sam, &round(&night.sam)).await.id();
    api.patch(&at, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    // A scorer hands in for others at once, for itself not; and changes no own card that counts.
    let ben = api.hand_in(&night.event, &cast.sam, &round(&night.ben)).await.json();
    assert_eq!(ben["state"], "submitted");
    let card = api.get(format!("/rounds/{early}")).by(&cast.sam).expect(200).await.json();
    api.put(format!("/rounds/{early}"), &card).by(&cast.sam).matching("*").refused(409, "event-not-open").await;
    api.delete(format!("/rounds/{early}")).by(&cast.sam).matching("*").refused(409, "event-not-open").await;

    // The only organizer: any other member attests, and that lets the card in.
    let body = first_hole(&night.olga, 5);
    let late = api.hand_in(&night.event, &cast.olga, &body).await;
    assert_eq!((&late.json()["state"], &late.json()["points"]), (&json!("late"), &Value::Null));
    let late = format!("/rounds/{}", late.id());
    api.call("POST", &format!("{late}/acceptance")).by(&cast.olga).refused(403, "forbidden").await;
    api.call("POST", &format!("{late}/attestation")).by(&cast.olga).refused(403, "forbidden").await;
    // While it waits its player may still correct it, which lets nothing in.
    let corrected = merged(first_hole(&night.olga, 6), &json!({ "client_round_id": body["client_round_id"] }));
    let seen = api.put(&late, &corrected).by(&cast.olga).matching("*").expect(200).await.json();
    assert_eq!(seen["state"], "late");
    assert_eq!(total(&api, &cast, &night, &night.olga).await, Value::Null);
    let attested = api.call("POST", &format!("{late}/attestation")).by(&cast.ann).expect(200).await.json();
    assert_eq!((&attested["state"], &attested["points"]), (&json!("attested"), &json!(34)));
    assert_eq!(total(&api, &cast, &night, &night.olga).await, 34);
    // It counts now, and its player changes it no more.
    api.put(&late, &corrected).by(&cast.olga).matching("*").refused(409, "event-not-open").await;
    let versions = api.get(format!("{late}/versions")).by(&cast.ben).expect(200).await.json();
    let acts: Vec<&Value> = versions["items"].as_array().expect("items").iter().map(|item| &item["act"]).collect();
    assert_eq!(acts, ["handed_in", "corrected", "accepted", "attested"]);

    // Beside another organizer it is that one who accepts, and an attestation lets nothing in.
    let otto = api.join(&night.league, &cast.olga, &cast.otto, "organizer").await;
    let waiting = format!("/rounds/{}", api.hand_in(&night.event, &cast.otto, &round(&otto)).await.id());
    api.call("POST", &format!("{waiting}/attestation")).by(&cast.ann).refused(409, "invalid-transition").await;
    api.call("POST", &format!("{waiting}/acceptance")).by(&cast.otto).refused(403, "forbidden").await;
    let accepted = api.call("POST", &format!("{waiting}/acceptance")).by(&cast.olga).expect(200).await.json();
    assert_eq!(accepted["state"], "submitted");
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    let here: Vec<_> = found.differences.iter().filter(|text| text.contains(&night.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

/// A slip on the only organizer's card is corrected by a scorer, also after final; beside another organizer it is that one.
#[tokio::test]
async fn a_slip_of_the_only_organizer_is_corrected_by_a_scorer() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = first_hole(&night.olga, 4);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.olga, &body).await.id());
    api.settle(&night.event, &cast.olga).await;
    let mut mended = first_hole(&night.olga, 6);
    mended["client_round_id"] = body["client_round_id"].clone();
    let ruling = json!({ "decision": "correct", "round": mended, "reason": "hole 1 was a six" });
    let rulings = format!("{at}/rulings");
    let rule = |by: &Person, ruling: &Value| api.post(&rulings, ruling).by(by).key(&id());
    rule(&cast.olga, &ruling).refused(403, "conflict-of-interest").await;
    rule(&cast.ann, &ruling).refused(403, "forbidden").await;
    let out = json!({ "decision": "exclude_round", "reason": "wrong tee" });
    rule(&cast.sam, &out).refused(403, "forbidden").await;
    rule(&cast.sam, &ruling).expect(201).await;
    assert_eq!(total(&api, &cast, &night, &night.olga).await, 34);
    assert_eq!(
        notices(&api, &cast.olga, &night.league).await,
        [("ruling".into(), json!(at.trim_start_matches("/rounds/")))]
    );
    // Where nobody keeps scores, the organizer makes a player a scorer.
    let record = format!("/members/{}", night.ann);
    api.patch(&record, &json!({ "role": "scorer" })).by(&cast.olga).matching("*").expect(200).await;
    rule(&cast.ann, &ruling).expect(201).await;
    // Beside another organizer it is that one.
    api.join(&night.league, &cast.olga, &cast.otto, "organizer").await;
    rule(&cast.sam, &ruling).refused(403, "forbidden").await;
    rule(&cast.otto, &out).expect(201).await;
}

/// A late card that nobody lets in can be taken back by its player: it counts for nothing, and would keep the event from
/// being made final.
#[tokio::test]
async fn a_waiting_card_can_be_taken_back_by_its_player() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.patch(&at, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    for (person, member) in [(&cast.olga, &night.olga), (&cast.ben, &night.ben)] {
        let late = format!("/rounds/{}", api.hand_in(&night.event, person, &round(member)).await.id());
        api.delete(&late).by(person).matching("*").expect(204).await;
    }
    api.settle(&night.event, &cast.olga).await;
}

/// A scorer's card after closing needs no acceptance; before opening nobody hands in.
#[tokio::test]
async fn before_its_opening_an_event_takes_no_card() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    api.patch(&at, &json!({ "state": "scheduled" })).by(&cast.olga).matching("*").expect(200).await;
    for by in [&cast.ann, &cast.sam, &cast.olga] {
        let path = format!("{at}/rounds");
        api.post(path, &round(&night.ann)).by(by).key(&id()).refused(409, "event-not-open").await;
    }
    api.patch(&at, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    assert_eq!(api.hand_in(&night.event, &cast.sam, &round(&night.ann)).await.json()["state"], "submitted");
}

struct Final {
    night: Night,
    ann: String,
    ben: String,
}

/// A final event: Ann 36 points, Ben 35.
async fn final_event(api: &Api, cast: &Cast) -> Final {
    let night = api.night(cast).await;
    let ann = api.hand_in(&night.event, &cast.ann, &first_hole(&night.ann, 4)).await.id();
    let ben = api.hand_in(&night.event, &cast.ben, &first_hole(&night.ben, 5)).await.id();
    api.settle(&night.event, &cast.olga).await;
    Final { night, ann, ben }
}

#[tokio::test]
async fn a_slip_is_mended_after_final_with_its_effect_shown_first_and_can_be_undone() {
    let (api, cast) = shared().await;
    let Final { night, ann, ben } = final_event(&api, &cast).await;
    let at = format!("/rounds/{ann}");
    let before = api.get(&at).by(&cast.ann).expect(200).await.json();
    let mut mended = first_hole(&night.ann, 6);
    mended["client_round_id"] = before["client_round_id"].clone();
    api.put(format!("{at}?reason=slip"), &mended).by(&cast.olga).matching("*").refused(409, "event-final").await;

    let ruling = json!({ "decision": "correct", "round": mended, "reason": "hole 1 was a six" });
    let rulings = format!("{at}/rulings");
    let shown = api.post(format!("{rulings}?validate_only=true"), &ruling).by(&cast.olga).expect(200).await.json();
    assert_eq!(shown["id"], Value::Null);
    // Ann falls from 36 to 34 points and behind Ben.
    let standing = |position: u8, points: u8| json!({ "position": position, "total": points });
    let mut moves = shown["effect"]["moves"].as_array().expect("moves").clone();
    moves.sort_by_key(|moved| moved["from"]["position"].as_u64());
    let due = json!([
        { "member_id": night.ann, "from": standing(1, 36), "to": standing(2, 34) },
        { "member_id": night.ben, "from": standing(2, 35), "to": standing(1, 35) },
    ]);
    assert_eq!(json!(moves), due);
    let rows = |rows: &Value| -> Vec<Value> {
        rows.as_array().expect("rows").iter().map(|row| row["member_id"].clone()).collect()
    };
    assert_eq!(rows(&shown["effect"]["board"]), [json!(night.ben), json!(night.ann)]);
    assert_eq!(rows(&shown["effect"]["standings"]), [json!(night.ben), json!(night.ann)]);
    // Nothing was done.
    assert_eq!(api.get(&at).by(&cast.ann).expect(200).await.json(), before);
    assert_eq!(total(&api, &cast, &night, &night.ann).await, 36);

    let given = api.post(&rulings, &ruling).by(&cast.olga).key(&id()).expect(201).await.json();
    assert_eq!(given["effect"], shown["effect"], "what was shown is what follows");
    assert_eq!(total(&api, &cast, &night, &night.ann).await, 34);
    assert_eq!(notices(&api, &cast.ann, &night.league).await, [("ruling".into(), json!(ann))]);

    // Everybody reads who changed what, when and why.
    let history = api.get(format!("{at}/versions")).by(&cast.ben).expect(200).await.json();
    let corrected = &history["items"][1];
    assert_eq!((&history["items"][0]["act"], &corrected["act"]), (&json!("handed_in"), &json!("corrected")));
    assert_eq!(history["items"][0]["member_id"], night.ann.as_str());
    assert_eq!((&corrected["member_id"], &corrected["reason"]), (&json!(night.olga), &json!("hole 1 was a six")));
    assert_eq!(corrected["changes"], json!([{ "pointer": "/holes/0/strokes", "from": 4, "to": 6 }]));

    let undo = json!({ "decision": "reinstate", "reason": "the camera shows a four" });
    api.post(&rulings, &undo).by(&cast.olga).key(&id()).expect(201).await;
    let after = api.get(&at).by(&cast.ann).expect(200).await.json();
    assert_eq!((&after["holes"], &after["points"]), (&before["holes"], &json!(36)));
    api.post(&rulings, &undo).by(&cast.olga).key(&id()).refused(409, "nothing-to-undo").await;
    // The other card was never touched.
    let other = api.get(format!("/rounds/{ben}/versions")).by(&cast.ann).expect(200).await.json();
    assert_eq!(other["items"].as_array().expect("items").len(), 1);
}

#[tokio::test]
async fn a_round_left_out_counts_for_nothing_until_it_is_reinstated() {
    let (api, cast) = shared().await;
    let Final { night, ann, .. } = final_event(&api, &cast).await;
    let rulings = format!("/rounds/{ann}/rulings");
    let out = json!({ "decision": "exclude_round", "reason": "played from the forward tee" });
    api.post(&rulings, &out).by(&cast.olga).key(&id()).expect(201).await;
    assert_eq!(state_of(&api, &ann, &cast.ben).await, "excluded");
    assert_eq!(total(&api, &cast, &night, &night.ann).await, Value::Null);
    api.post(&rulings, &out).by(&cast.olga).key(&id()).refused(409, "invalid-transition").await;
    // Why is for the player and organizers alone.
    for (by, reason) in
        [(&cast.ben, Value::Null), (&cast.ann, out["reason"].clone()), (&cast.olga, out["reason"].clone())]
    {
        let history = api.get(format!("/rounds/{ann}/versions")).by(by).expect(200).await.json();
        let excluded = &history["items"][1];
        assert_eq!((&excluded["act"], &excluded["reason"]), (&json!("excluded"), &reason));
    }
    let changes = format!("/seasons/{}/standings/changes", night.season);
    let changes = api.get(changes).by(&cast.ben).expect(200).await.json();
    assert_eq!((&changes["items"][0]["act"], &changes["items"][0]["reason"]), (&json!("exclude_round"), &Value::Null));
    // It does not free the event, and the player cannot withdraw it out of the way.
    let at = format!("/rounds/{ann}");
    api.delete(&at).by(&cast.ann).matching("*").refused(409, "event-final").await;
    api.post(&rulings, &json!({ "decision": "reinstate", "reason": "it was the right tee" }))
        .by(&cast.olga)
        .key(&id())
        .expect(201)
        .await;
    assert_eq!(state_of(&api, &ann, &cast.ben).await, "submitted");
    assert_eq!(total(&api, &cast, &night, &night.ann).await, 36);
}

#[tokio::test]
async fn an_excluded_round_is_not_withdrawn_while_the_event_is_open() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let handed_in = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let at = format!("/rounds/{handed_in}");
    let out = json!({ "decision": "exclude_round", "reason": "two players on one card" });
    api.post(format!("{at}/rulings"), &out).by(&cast.olga).key(&id()).expect(201).await;
    api.delete(&at).by(&cast.ann).matching("*").refused(409, "invalid-transition").await;
    let path = format!("/events/{}/rounds", night.event);
    api.post(path, &round(&night.ann)).by(&cast.ann).key(&id()).refused(409, "second-round").await;
}

#[tokio::test]
async fn rulings_that_cannot_be_are_refused_and_change_nothing() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let own = api.hand_in(&night.event, &cast.olga, &round(&night.olga)).await.id();
    let rulings = |round: &str| format!("/rounds/{round}/rulings");
    let out = json!({ "decision": "exclude_round", "reason": "a try" });
    api.post(rulings(&own), &out).by(&cast.olga).key(&id()).refused(403, "conflict-of-interest").await;
    let ann = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let bare = json!({ "decision": "correct", "reason": "a try" });
    api.post(rulings(&ann), &bare).by(&cast.olga).key(&id()).refused(422, "round-missing").await;
    let mut wrong = round(&night.ann);
    api.post(rulings(&ann), &merged(bare.clone(), &json!({ "round": wrong })))
        .by(&cast.olga)
        .key(&id())
        .refused(422, "settled")
        .await;
    wrong["client_round_id"] =
        api.get(format!("/rounds/{ann}")).by(&cast.ann).expect(200).await.json()["client_round_id"].clone();
    wrong["holes"][3] = json!({ "number": 4, "strokes": 1, "putt_count": 2 });
    let seen = api
        .post(rulings(&ann), &merged(bare, &json!({ "round": wrong })))
        .by(&cast.olga)
        .key(&id())
        .refused(422, "putts-exceed-strokes")
        .await;
    assert_eq!(seen.faults()[0].0, "/round/holes/3/putt_count");
    let empty = json!({ "decision": "exclude_round", "reason": "" });
    api.post(rulings(&ann), &empty).by(&cast.olga).key(&id()).refused(422, "validation").await;
    api.delete(format!("/rounds/{ann}")).by(&cast.ann).matching("*").expect(204).await;
    api.post(rulings(&ann), &out).by(&cast.olga).key(&id()).refused(409, "round-withdrawn").await;
    let history = api.get(format!("/rounds/{ann}/versions")).by(&cast.ann).expect(200).await.json();
    let acts: Vec<&Value> = history["items"].as_array().expect("items").iter().map(|item| &item["act"]).collect();
    assert_eq!(acts, [&json!("handed_in"), &json!("withdrawn")]);
}

#[tokio::test]
async fn a_query_is_seen_by_whoever_asks_the_player_and_organizers() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let path = format!("/rounds/{round}/queries");
    let query = json!({ "pointer": "/holes/0/strokes", "text": "I counted five on the first" });
    let asked = api.post(&path, &query).by(&cast.ben).key(&id()).expect(201).await.json();
    assert_eq!((&asked["pointer"], &asked["member_id"]), (&query["pointer"], &json!(night.ben)));
    let answers = format!("/queries/{}/answers", asked["id"].as_str().expect("an id"));
    api.post(&answers, &json!({ "text": "no" })).by(&cast.ann).key(&id()).refused(403, "forbidden").await;
    api.post(&answers, &json!({ "text": "no" })).by(&cast.sam).key(&id()).refused(404, "not-found").await;
    api.post(&answers, &json!({ "text": "the putt was conceded" })).by(&cast.olga).key(&id()).expect(201).await;
    for (by, seen) in [(&cast.ann, 1), (&cast.ben, 1), (&cast.olga, 1), (&cast.sam, 0)] {
        let items = api.get(&path).by(by).expect(200).await.json()["items"].clone();
        assert_eq!(items.as_array().expect("items").len(), seen);
        if seen == 1 {
            assert_eq!(items[0]["answers"][0]["text"], "the putt was conceded");
        }
    }
    let kinds = |told: Vec<(String, Value)>| told.into_iter().map(|(kind, _)| kind).collect::<Vec<_>>();
    // Newest first; nobody is told of an own act.
    assert_eq!(kinds(notices(&api, &cast.ann, &night.league).await), ["answer", "query"]);
    assert_eq!(kinds(notices(&api, &cast.ben, &night.league).await), ["answer"]);
    assert_eq!(kinds(notices(&api, &cast.olga, &night.league).await), ["query"]);
}

#[tokio::test]
async fn results_are_provisional_until_the_time_for_doubts_is_over_or_the_event_is_final() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let board = format!("/events/{}/board", night.event);
    let table = format!("/seasons/{}/standings", night.season);
    // The event closes on the 14th at 22:00; 48 hours are the default.
    for path in [&board, &table] {
        let seen = api.get(path).by(&cast.ben).expect(200).await.json();
        assert_eq!(seen["provisional_until"], "2027-01-16T22:00:00Z");
    }
    api.settle(&night.event, &cast.olga).await;
    for path in [&board, &table] {
        assert_eq!(api.get(path).by(&cast.ben).expect(200).await.json()["provisional_until"], Value::Null);
    }
}

#[tokio::test]
async fn the_board_shows_who_is_still_out_and_how_far() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let entries = format!("/events/{}/entries", night.event);
    let enter = |by: &Person, body: Value| api.post(&entries, &body).by(by).key(&id());
    let entry = enter(&cast.ann, json!({ "slot": "19:00", "bay": "2" })).expect(201).await;
    enter(&cast.sam, json!({ "member_id": night.ben, "bay": "3" })).expect(201).await;
    enter(&cast.olga, json!({})).expect(201).await;
    enter(&cast.ann, json!({})).refused(409, "already-entered").await;
    enter(&cast.ann, json!({ "member_id": night.sam })).refused(403, "forbidden").await;
    let progress = format!("/events/{}/progress", night.event);
    let holes = |strokes: &[u8]| {
        let hole = |(n, strokes): (usize, &u8)| json!({ "number": n + 1, "strokes": strokes });
        json!({ "holes": strokes.iter().enumerate().map(hole).collect::<Vec<_>>() })
    };
    api.put(&progress, &holes(&[5])).by(&cast.ann).expect(428).await;
    let first = api.put(&progress, &holes(&[5])).by(&cast.ann).matching("*").expect(200).await;
    // Pars 4, 5, 3: one over, one under, level.
    let second = api.put(&progress, &holes(&[5, 4, 3])).by(&cast.ann).matching(&first.etag()).expect(200).await;
    assert_ne!(first.etag(), second.etag());
    api.put(&progress, &holes(&[5])).by(&cast.ann).matching(&first.etag()).refused(412, "stale").await;
    let mut twice = holes(&[5, 4]);
    twice["holes"][1]["number"] = json!(1);
    let seen = api.put(&progress, &twice).by(&cast.ann).matching("*").refused(422, "hole-repeated").await;
    assert_eq!(seen.faults()[0].0, "/holes/1/number");
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;

    let at = format!("/events/{}/board", night.event);
    let board = api.get(&at).by(&cast.sam).expect(200).await.json();
    assert_eq!((&board["cards_in"], &board["still_out"]), (&json!(1), &json!(2)));
    let row = |n: usize| {
        let row = &board["items"][n];
        let of = |name: &str| row[name].clone();
        (of("member_id"), of("state"), of("holes_played"), of("over_par_so_far"), of("bay"))
    };
    assert_eq!(row(0), (json!(night.ben), json!("submitted"), json!(18), Value::Null, json!("3")));
    assert_eq!(row(1), (json!(night.ann), json!("in_play"), json!(3), json!(0), json!("2")));
    assert_eq!(row(2), (json!(night.olga), json!("entered"), json!(0), Value::Null, Value::Null));

    // The round takes the place of the card in play.
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let board = api.get(&at).by(&cast.sam).expect(200).await.json();
    assert_eq!((&board["cards_in"], &board["still_out"]), (&json!(2), &json!(1)));
    api.put(&progress, &holes(&[5])).by(&cast.ann).matching("*").refused(409, "second-round").await;
    let own = format!("/entries/{}", entry.id());
    api.delete(&own).by(&cast.ben).matching("*").refused(403, "forbidden").await;
    api.delete(&own).by(&cast.ann).matching(&entry.etag()).expect(204).await;
    assert_eq!(api.get(&entries).by(&cast.ben).expect(200).await.json()["items"].as_array().expect("items").len(), 2);
}

#[tokio::test]
async fn a_roster_adds_all_its_members_or_none_and_names_each_bad_line() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/rosters", night.league);
    let send = |path: &str, csv: &str| api.call("POST", path).by(&cast.olga).key(&id()).raw("text/csv", csv.to_owned());
    let count = || async {
        let path = format!("/leagues/{}/members?limit=200", night.league);
        api.get(path).by(&cast.ann).expect(200).await.json()["items"].as_array().expect("items").len()
    };
    let before = count().await;
    let bad = "starting_handicap,display_name,flight\n12.34,Ada Mudge,A\n\n99,,A\n5.0,\"Bo, the tall\"\n7,Ada Mudge,\n";
    let seen = send(&path, bad).expect(422).await;
    let due = ["/2/starting_handicap", "/4/display_name", "/4/starting_handicap", "/5"];
    let found: Vec<String> = seen.faults().into_iter().map(|(pointer, _)| pointer).collect();
    for pointer in due {
        assert!(found.iter().any(|known| known == pointer), "{pointer} is not named: {seen}");
    }
    assert_eq!(count().await, before);

    // A byte order mark, quotes, a defused name, and columns in another order.
    let good = "\u{feff}flight,display_name,starting_handicap\r\nA,\"Bo \"\"the tall\"\"\",12.5\r\n,'=Ada,\r\n";
    let shown = send(&format!("{path}?validate_only=true"), good).expect(200).await.json();
    assert_eq!(shown["items"][0]["display_name"], "Bo \"the tall\"");
    assert_eq!(count().await, before);
    let added = send(&path, good).expect(201).await.json();
    let member = &added["items"][0];
    assert_eq!((&member["flight"], &member["starting_handicap"]), (&json!("A"), &json!(12.5)));
    assert_eq!((&member["has_account"], &added["items"][1]["display_name"]), (&json!(false), &json!("=Ada")));
    assert_eq!(count().await, before + 2);
    let seen = send(&path, "display_name\nbo \"THE tall\"\nCy\nCy\n").refused(422, "name-taken").await;
    assert_eq!(seen.faults().len(), 2);
    assert_eq!(count().await, before + 2);
    send(&path, "name,handicap\nCy,3\n").expect(422).await;
    api.call("POST", &path).by(&cast.olga).key(&id()).raw("application/json", "[]").expect(415).await;
}

#[tokio::test]
async fn a_notice_is_seen_once_and_by_nobody_else() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ben)).await;
    let seen = api.get("/me/notices?limit=1").by(&cast.ben).expect(200).await.json();
    let notice = &seen["items"][0];
    assert_eq!((&notice["kind"], &notice["seen_at"]), (&json!("round_proposed"), &Value::Null));
    let at = format!("/notices/{}/seen", notice["id"].as_str().expect("an id"));
    api.call("POST", &at).by(&cast.ann).refused(404, "not-found").await;
    let first = api.call("POST", &at).by(&cast.ben).expect(200).await.json();
    assert_eq!(api.call("POST", &at).by(&cast.ben).expect(200).await.json(), first);
}

/// What a league went through leaves with it, and comes back the same.
#[tokio::test]
async fn a_bundle_carries_the_whole_life() {
    let api = own();
    let cast = api.cast().await;
    let Final { night, ann, .. } = final_event(&api, &cast).await;
    let out = json!({ "decision": "exclude_round", "reason": "the forward tee" });
    api.post(format!("/rounds/{ann}/rulings"), &out).by(&cast.olga).key(&id()).expect(201).await;
    let event = api.event(&cast, &night, json!({})).await;
    api.post(format!("/events/{event}/entries"), &json!({ "bay": "2" })).by(&cast.ann).key(&id()).expect(201).await;
    let proposed = api.hand_in(&event, &cast.ann, &round(&night.ben)).await.id();
    api.call("POST", &format!("/rounds/{proposed}/acceptance")).by(&cast.ben).expect(200).await;
    let waiting = api.hand_in(&event, &cast.ben, &round(&night.sam)).await.id();
    let query = api.post(format!("/rounds/{proposed}/queries"), &json!({ "text": "a five?" }));
    let query = query.by(&cast.ann).key(&id()).expect(201).await.id();
    let answer = api.post(format!("/queries/{query}/answers"), &json!({ "text": "a four" }));
    answer.by(&cast.olga).key(&id()).expect(201).await;
    let bundle = api.get(format!("/leagues/{}/bundle", night.league)).by(&cast.olga).expect(200).await.text();
    for kind in ["ruling", "entry", "acceptance", "query", "answer"] {
        assert!(bundle.contains(&format!("{{\"kind\":\"{kind}\"")), "no {kind} in the bundle");
    }
    assert_eq!(state_of(&api, &waiting, &cast.ann).await, "proposed");

    let other = crate::support::store::TestStore::file();
    let leagues = evenfield::startup::open(&other.store, evenfield::startup::system_clock()).await.expect("opens");
    let mut import = leagues.import().await.expect("begins");
    for line in bundle.lines() {
        let line = evenfield::wire::bundle::line::Line::read(line.as_bytes()).expect("a line that was written");
        import.add(&line).await.expect("a line that fits");
    }
    let (league, _) = import.finish().await.expect("a league");
    let (sender, mut receiver) = tokio::sync::mpsc::channel(16);
    let export = tokio::spawn(async move { leagues.export(league, sender).await.map(|()| leagues) });
    let mut again = String::new();
    while let Some(line) = receiver.recv().await {
        again.push_str(&(line.to_json() + "\n"));
    }
    let leagues = export.await.expect("ends").expect("exports");
    assert_eq!(again, bundle);
    assert_eq!(leagues.verify().await.expect("verifies").differences, Vec::<String>::new());
}
