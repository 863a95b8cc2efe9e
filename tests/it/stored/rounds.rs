//! Rounds: hand in, correct, withdraw, attest; the figures of a card that was worked out by hand.

use crate::support::harness::{Api, Cast, Night, card, id, merged, own, par, round, shared};
use serde_json::{Value, json};

/// A card worked out by hand. The course has scratch score 72 over par 72 and slope 113, so the unrounded course
/// strokes are the index, here a starting handicap of 9.5:
///
/// ```text
/// course handicap   9.5 → 10 (half up)             strokes on indexes 1–10: holes 1–5 and 10–14
/// playing handicap  9.5 · 95 % = 9.025 → 9         (rounded once; 10 · 95 % = 9.5 would give 10)
/// gross             72 + 5 (a 9 on hole 1) + 3 (a 7 on hole 6) = 80
/// net double bogey  hole 1: 4 + 2 + 1 = 7; hole 6: 4 + 2 + 0 = 6
/// adjusted gross    80 − 2 − 1 = 77
/// net               80 − 9 = 71
/// differential      113/113 · (77 − 72.0) = 5.0
/// points            2 a hole at par: 36, + 9 strokes received = 45; hole 1 scores 0 instead of 3, hole 6 0 instead
///                   of 2: 40
/// putts             2 a hole: 36
/// ```
#[tokio::test]
async fn the_figures_of_a_card_are_those_worked_out_by_hand() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let ann = format!("/members/{}", night.ann);
    api.patch(&ann, &json!({ "starting_handicap": 9.5 })).by(&cast.olga).matching("*").expect(200).await;
    let mut strokes: Vec<u8> = (1..=18).map(par).collect();
    (strokes[0], strokes[5]) = (9, 7);
    let seen = api.hand_in(&night.event, &cast.ann, &card(&night.ann, &strokes)).await.json();
    let due = json!({
        "gross": 80, "adjusted_gross": 77, "course_handicap": 10, "playing_handicap": 9, "net": 71, "points": 40,
        "score_differential": 5.0, "putts": 36, "state": "submitted", "outcome": "complete",
        "received_at": crate::support::harness::START,
    });
    for (name, value) in due.as_object().expect("an object") {
        assert_eq!(seen[name], *value, "{name}");
    }
    // Two putts from 31 ft, the second conceded: what the baseline expects less two, on one recorded hole of 18.
    let putting = &seen["putting"];
    assert_eq!(putting["recorded_holes"], 1);
    let (expected, gained) = (number(&putting["expected_putts"]), number(&putting["strokes_gained"]));
    assert!((1.9..2.1).contains(&expected), "a tour player takes about 2 putts from 31 ft, not {expected}");
    // Both figures are rounded to six decimals, one of them times 18.
    assert!((gained - 18.0 * (expected - 2.0)).abs() < 2e-5, "{gained} is not 18 · ({expected} − 2)");

    let handicap = api.get(format!("{ann}/handicap")).by(&cast.ben).expect(200).await.json();
    assert_eq!(handicap["league_index"], Value::Null, "no league index below three differentials");
    assert_eq!(handicap["differentials"][0]["value"], 5.0);
    assert_eq!(handicap["differentials"][0]["kind"], "round");
    let putting = api.get(format!("{ann}/putting?season_id={}", night.season)).by(&cast.ben).expect(200).await.json();
    assert_eq!((&putting["rounds"], &putting["putts"], &putting["recorded_holes"]), (&json!(1), &json!(36), &json!(1)));
    assert_eq!(number(&putting["strokes_gained_per_round"]), gained);
}

/// Without any index a player plays off 0 and every hole is limited to par + 5.
#[tokio::test]
async fn without_an_index_holes_are_limited_to_par_plus_five() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let mut strokes: Vec<u8> = (1..=18).map(par).collect();
    strokes[0] = 12;
    let seen = api.hand_in(&night.event, &cast.ann, &card(&night.ann, &strokes)).await.json();
    // 72 − 4 + 12 = 80; the 12 counts as 4 + 5 = 9: 77. Points: 36 − 2 for the first hole.
    let due = [
        ("gross", 80),
        ("adjusted_gross", 77),
        ("course_handicap", 0),
        ("playing_handicap", 0),
        ("net", 80),
        ("points", 34),
    ];
    for (name, value) in due {
        assert_eq!(seen[name], value, "{name}");
    }
}

/// In points a hole may be picked up: it scores nothing, and its net double bogey stands in the adjusted gross.
#[tokio::test]
async fn a_picked_up_hole_has_no_gross_and_counts_net_double_bogey() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let ann = format!("/members/{}", night.ann);
    api.patch(&ann, &json!({ "starting_handicap": 9.5 })).by(&cast.olga).matching("*").expect(200).await;
    let mut body = round(&night.ann);
    body["holes"][5] = json!({ "number": 6, "picked_up": true });
    body["holes"][17] = json!({ "number": 18, "not_played": true });
    let seen = api.hand_in(&night.event, &cast.ann, &body).await.json();
    for name in ["gross", "net", "adjusted_gross", "score_differential"] {
        assert_eq!(seen[name], Value::Null, "{name}: a hole was not played");
    }
    // 36 + 9 − 2 (hole 6) − 2 (hole 18).
    assert_eq!(seen["points"], 41);
    let mut played = body.clone();
    played["holes"][17] = json!({ "number": 18, "strokes": 4, "putt_count": 2 });
    let at = format!("/rounds/{}", seen["id"].as_str().expect("an id"));
    let seen = api.put(&at, &played).by(&cast.ann).matching("*").expect(200).await.json();
    // 72 − 4 + 6 on hole 6 (4 + 2 + 0).
    assert_eq!((&seen["gross"], &seen["adjusted_gross"], &seen["points"]), (&Value::Null, &json!(74), &json!(43)));
}

#[tokio::test]
async fn cards_of_scorers_and_organizers_need_no_acceptance() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let mut unnamed = round(&night.ann);
    unnamed.as_object_mut().expect("an object").remove("member_id");
    let own = api.hand_in(&night.event, &cast.ann, &unnamed).await.json();
    assert_eq!(own["member_id"], night.ann.as_str());
    api.hand_in(&night.event, &cast.sam, &round(&night.ben)).await;
    api.hand_in(&night.event, &cast.olga, &round(&night.sam)).await;
    let walter = json!({ "display_name": "Walter", "starting_handicap": 20.1 });
    let path = format!("/leagues/{}/members", night.league);
    let walter = api.post(path, &walter).by(&cast.olga).key(&id()).expect(201).await.id();
    api.hand_in(&night.event, &cast.sam, &round(&walter)).await;
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 4);
}

#[tokio::test]
async fn a_second_round_in_one_event_is_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let path = format!("/events/{}/rounds", night.event);
    for by in [&cast.ann, &cast.sam, &cast.olga] {
        api.post(&path, &round(&night.ann)).by(by).key(&id()).refused(409, "second-round").await;
    }
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 1);
}

/// 2, 3: whatever decides the event, a hole that was picked up leaves the card a card and its differential a differential:
/// its most likely score counts for it, at most net double bogey. It has no gross and no net.
#[tokio::test]
async fn a_hole_that_was_picked_up_takes_away_neither_the_card_nor_its_differential() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let member = json!({ "starting_handicap": 18.0 });
    api.patch(format!("/members/{}", night.ann), &member).by(&cast.olga).matching("*").expect(200).await;
    // One stroke on each hole, so net double bogey on the par 4 of hole 4 is 7. The others are played in par: 68.
    let cases = [
        (json!({ "number": 4, "picked_up": true }), json!(68 + 7)),
        (json!({ "number": 4, "picked_up": true, "strokes": 6 }), json!(68 + 6)),
        (json!({ "number": 4, "picked_up": true, "strokes": 9 }), json!(68 + 7)),
        (json!({ "number": 4, "not_played": true }), Value::Null),
    ];
    for scoring in ["gross", "net", "points"] {
        for (kind, beyond) in [(json!({ "kind": "by_score" }), Value::Null), (by_place(), json!(0))] {
            let score = if scoring == "points" { "points" } else { "strokes" };
            let basis = if scoring == "gross" { "gross" } else { "net" };
            let score = json!({ "kind": score });
            let terms = json!({ "score": score, "basis": basis, "award": kind, "allowance_pct": 100 });
            let path = format!("/leagues/{}/seasons", night.league);
            let season = crate::support::harness::season_with(&terms);
            let season = api.post(path, &season).by(&cast.olga).key(&id()).expect(201).await.id();
            let night = Night { season, ..night.clone() };
            for (hole, adjusted) in &cases {
                let event = api.event(&cast, &night, json!({})).await;
                let mut body = round(&night.ann);
                body["holes"][3] = hole.clone();
                let seen = api.hand_in(&event, &cast.ann, &body).await.json();
                let what = format!("{scoring} with {hole}: {seen}");
                assert_eq!((&seen["gross"], &seen["net"]), (&Value::Null, &Value::Null), "{what}");
                assert_eq!(&seen["adjusted_gross"], adjusted, "{what}");
                let differential = adjusted.as_f64().map_or(Value::Null, |adjusted| json!(adjusted - 72.0));
                assert_eq!(seen["score_differential"], differential, "{what}");
                // Two points for each of the other holes in par, one more for the stroke on it.
                assert_eq!(seen["points"], 17 * 3, "{what}");
                let table =
                    api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ann).expect(200).await.json();
                let row = &table["items"][0];
                let cells = row["results"].as_array().expect("results");
                let cell = cells.iter().find(|cell| cell["event_id"] == event.as_str()).expect("the event");
                // Where strokes decide, it is played and gives no result; in points it is one.
                match scoring {
                    "points" => assert_ne!(cell["value"], Value::Null, "{what}"),
                    _ => assert_eq!(cell["value"], beyond, "{what}"),
                }
                api.delete(format!("/rounds/{}", seen["id"].as_str().expect("an id")))
                    .by(&cast.ann)
                    .matching("*")
                    .expect(204)
                    .await;
            }
        }
    }
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    let here: Vec<_> = found.differences.iter().filter(|text| text.contains(&night.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

fn by_place() -> Value {
    json!({ "kind": "by_place", "table": [10, 6] })
}

/// A card is of a day that has come, counted in the league's time zone; one outside the event is asked about.
#[tokio::test]
async fn the_day_of_a_card_is_no_slip() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let days = json!({ "opens_at": "2027-01-13T17:00:00Z", "closes_at": "2027-01-16T22:00:00Z" });
    let event = api.event(&cast, &night, days).await;
    let path = format!("/events/{event}/rounds");
    let on = |day: &str| merged(round(&night.ann), &json!({ "played_on": day }));
    // It is the 14th, 20:00, in Zurich.
    let send = |query: &str, body: &Value| api.post(format!("{path}{query}"), body).by(&cast.ann).key(&id());
    for query in ["", "?confirm=dates"] {
        let seen = send(query, &on("2027-01-15")).refused(422, "played-in-future").await;
        assert_eq!(seen.faults(), [("/played_on".into(), "played-in-future".into())]);
    }
    let seen = send("", &on("2027-01-12")).refused(422, "played-outside-event").await;
    assert_eq!(seen.faults(), [("/played_on".into(), "played-outside-event".into())]);
    send("?confirm=everything", &on("2027-01-12")).refused(400, "malformed").await;
    // It is told together with what else is wrong.
    let mut both = on("2027-01-12");
    both["holes"][4] = json!({ "number": 5 });
    let seen = send("", &both).refused(422, "validation").await;
    assert_eq!(seen.faults().len(), 2, "{seen}");
    for day in ["2027-01-13", "2027-01-14"] {
        let card = send("", &on(day)).expect(201).await;
        api.delete(format!("/rounds/{}", card.id())).by(&cast.ann).matching("*").expect(204).await;
    }
    let body = on("2027-01-12");
    let card = send("?confirm=dates", &body).expect(201).await;
    // What was confirmed is not asked about again; another day is.
    let at = format!("/rounds/{}", card.id());
    api.put(&at, &body).by(&cast.ann).matching("*").expect(200).await;
    let moved = merged(body, &json!({ "played_on": "2027-01-11" }));
    api.put(&at, &moved).by(&cast.ann).matching("*").refused(422, "played-outside-event").await;
    api.put(format!("{at}?confirm=dates"), &moved).by(&cast.ann).matching("*").expect(200).await;
    // At 23:00 UTC the next day has come in Zurich.
    api.server.pass(4 * 3600 - 1);
    let ben = api.sign_in(&cast.ben.email).await;
    let next = merged(round(&night.ben), &json!({ "played_on": "2027-01-15" }));
    api.post(&path, &next).by(&ben).key(&id()).refused(422, "played-in-future").await;
    api.server.pass(1);
    api.post(&path, &next).by(&ben).key(&id()).expect(201).await;
}

/// What was fetched can be sent again with a hole corrected: figures and marks that come back as they were are taken.
#[tokio::test]
async fn a_fetched_round_can_be_sent_again() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = merged(round(&night.ann), &json!({ "setup_id": night.setup }));
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    let fetched = api.get(&at).by(&cast.ann).expect(200).await;
    let mut card = fetched.json();
    assert_eq!(card["holes"][0]["putts"][1]["softened"], true, "a mark of the server's comes along");
    let same = api.put(&at, &card).by(&cast.ann).matching(&fetched.etag()).expect(200).await;
    assert_eq!(same.json()["holes"], card["holes"]);
    card["version"] = same.json()["version"].clone();
    card["holes"][3]["strokes"] = json!(7);
    let changed = api.put(&at, &card).by(&cast.ann).matching(&same.etag()).expect(200).await;
    assert_eq!(changed.json()["gross"], card["gross"].as_i64().expect("a gross") + 3);
    // What nobody can change is named, unless the version is another one anyway.
    let mut forged = changed.json();
    forged["gross"] = json!(60);
    forged["state"] = json!("attested");
    forged["holes"][0]["putts"][0]["softened"] = json!(true);
    let seen = api.put(&at, &forged).by(&cast.ann).matching(&changed.etag()).refused(422, "read-only").await;
    let mut pointers: Vec<String> = seen.faults().into_iter().map(|fault| fault.0).collect();
    pointers.sort();
    assert_eq!(pointers, ["/gross", "/holes/0/putts/0/softened", "/state"]);
    api.put(&at, &forged).by(&cast.ann).matching(&fetched.etag()).refused(412, "stale").await;
    let unknown = merged(changed.json(), &json!({ "colour": "red" }));
    api.put(&at, &unknown).by(&cast.ann).matching("*").refused(422, "validation").await;
}

#[tokio::test]
async fn a_final_event_takes_no_rounds() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/events/{}", night.event);
    let path = format!("{at}/rounds");
    // R7: an organizer may hand in late, until final.
    api.patch(&at, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    api.hand_in(&night.event, &cast.olga, &round(&night.ann)).await;
    api.settle(&night.event, &cast.olga).await;
    for by in [&cast.ben, &cast.sam, &cast.olga] {
        api.post(&path, &round(&night.ben)).by(by).key(&id()).send().await;
        let member = if std::ptr::eq(by, &cast.ben) { &night.ben } else { &night.sam };
        api.post(&path, &round(member)).by(by).key(&id()).refused(409, "event-final").await;
    }
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 1);
}

/// A3, F9: of two editors one wins and the other is told.
#[tokio::test]
async fn a_correction_needs_the_version_that_it_means() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let first = api.hand_in(&night.event, &cast.ann, &body).await;
    let at = format!("/rounds/{}", first.id());
    let seven = |hole: usize| {
        let mut body = body.clone();
        body["holes"][hole]["strokes"] = json!(7);
        body
    };
    api.put(&at, &seven(1)).by(&cast.ann).refused(428, "if-match-missing").await;
    api.delete(&at).by(&cast.ann).refused(428, "if-match-missing").await;
    let second = api.put(&at, &seven(1)).by(&cast.ann).matching(&first.etag()).expect(200).await;
    assert_ne!(second.etag(), first.etag());
    // 72 − 5 + 7.
    assert_eq!(second.json()["gross"], 74);
    for tag in [first.etag(), format!("W/{}", second.etag()), "\"nine\"".into(), second.etag().replace('"', "")] {
        let stale = api.put(&at, &seven(2)).by(&cast.ann).matching(&tag).refused(412, "stale").await;
        assert_eq!(stale.etag(), second.etag(), "412 tells the present version");
        let stale = api.delete(&at).by(&cast.ann).matching(&tag).refused(412, "stale").await;
        assert_eq!(stale.etag(), second.etag());
    }
    let seen = api.get(&at).by(&cast.ben).expect(200).await;
    // Places are told where one round is asked for.
    let without_places = |seen: Value| merged(seen, &json!({ "competitions": null }));
    assert_eq!((without_places(seen.json()), seen.etag()), (without_places(second.json()), second.etag()));

    // Sixteen editors at once: one wins.
    let editors = (0..16).map(|n| api.put(&at, &seven(n + 1)).by(&cast.ann).matching(&second.etag()).send());
    let statuses: Vec<u16> = futures_util::future::join_all(editors).await.iter().map(|seen| seen.status).collect();
    assert_eq!(statuses.iter().filter(|status| **status == 200).count(), 1, "{statuses:?}");
    assert!(statuses.iter().all(|status| matches!(status, 200 | 412)), "{statuses:?}");
}

/// What is settled at handing in stays: whose round it is, its id.
#[tokio::test]
async fn a_correction_keeps_the_player_and_the_senders_id() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    let other = merged(body.clone(), &json!({ "client_round_id": id() }));
    api.put(&at, &other).by(&cast.ann).matching("*").refused(422, "settled").await;
    let other = merged(body, &json!({ "member_id": night.ben }));
    api.put(format!("{at}?reason=mixed%20up"), &other).by(&cast.olga).matching("*").refused(422, "settled").await;
}

#[tokio::test]
async fn somebody_else_than_the_player_gives_a_reason() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    let changed = merged(body, &json!({ "outcome": "no_return" }));
    for by in [&cast.sam, &cast.olga] {
        api.put(&at, &changed).by(by).matching("*").refused(422, "reason-missing").await;
        api.put(format!("{at}?reason=%20"), &changed).by(by).matching("*").refused(422, "reason-missing").await;
        api.delete(&at).by(by).matching("*").refused(422, "reason-missing").await;
        api.put(format!("{at}?reason=gave%20up"), &changed).by(by).matching("*").expect(200).await;
    }
    let long = format!("{at}?reason={}", "x".repeat(2001));
    let seen = api.put(&long, &changed).by(&cast.sam).matching("*").expect(400).await;
    assert_eq!(seen.json()["parameter"], "reason");
    api.delete(format!("{at}?reason=played%20elsewhere")).by(&cast.sam).matching("*").expect(204).await;
}

#[tokio::test]
async fn nobody_attests_an_own_round_and_a_correction_clears_the_attestation() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let first = api.hand_in(&night.event, &cast.ann, &body).await;
    let at = format!("/rounds/{}", first.id());
    let attest = format!("{at}/attestation");
    api.call("POST", &attest).by(&cast.ann).refused(403, "forbidden").await;
    let attested = api.call("POST", &attest).by(&cast.ben).expect(200).await;
    assert_eq!(attested.json()["state"], "attested");
    assert_ne!(attested.etag(), first.etag(), "what is shown changed, so the tag does (A3)");
    let twice = api.call("POST", &attest).by(&cast.sam).expect(200).await;
    assert_eq!((twice.json(), twice.etag()), (attested.json(), attested.etag()));
    let changed = merged(body, &json!({ "outcome": "no_return" }));
    api.put(&at, &changed).by(&cast.ann).matching(&first.etag()).refused(412, "stale").await;
    let corrected = api.put(&at, &changed).by(&cast.ann).matching(&attested.etag()).expect(200).await;
    assert_eq!(corrected.json()["state"], "submitted");
    api.call("POST", &attest).by(&cast.ben).expect(200).await;
    // Organizers attest others' rounds, not their own.
    let own = api.hand_in(&night.event, &cast.olga, &round(&night.olga)).await.id();
    api.call("POST", &format!("/rounds/{own}/attestation")).by(&cast.olga).refused(403, "forbidden").await;
}

#[tokio::test]
async fn a_withdrawn_round_frees_the_event_and_is_changed_no_more() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    api.delete(&at).by(&cast.ann).matching("*").expect(204).await;
    let gone = api.get(&at).by(&cast.ben).expect(200).await.json();
    assert_eq!((&gone["state"], &gone["gross"]), (&json!("withdrawn"), &Value::Null));
    api.put(&at, &body).by(&cast.ann).matching("*").refused(409, "invalid-transition").await;
    api.delete(&at).by(&cast.ann).matching("*").refused(409, "invalid-transition").await;
    api.call("POST", &format!("{at}/attestation")).by(&cast.ben).refused(409, "invalid-transition").await;
    let board = api.get(format!("/events/{}/board", night.event)).by(&cast.ben).expect(200).await.json();
    assert_eq!(board["items"], json!([]));
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 2, "the withdrawn one stays");
}

/// Players correct while the event is open, scorers and organizers until it is final.
#[tokio::test]
async fn who_may_still_correct_depends_on_the_events_state() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    let event = format!("/events/{}", night.event);
    let reasoned = format!("{at}?reason=a%20slip");
    api.patch(&event, &json!({ "state": "closed" })).by(&cast.olga).matching("*").expect(200).await;
    api.put(&at, &body).by(&cast.ann).matching("*").refused(409, "event-not-open").await;
    api.delete(&at).by(&cast.ann).matching("*").refused(409, "event-not-open").await;
    api.put(&reasoned, &body).by(&cast.sam).matching("*").expect(200).await;
    api.put(&reasoned, &body).by(&cast.olga).matching("*").expect(200).await;
    api.settle(&night.event, &cast.olga).await;
    for by in [&cast.ann, &cast.sam, &cast.olga] {
        api.put(&reasoned, &body).by(by).matching("*").refused(409, "event-final").await;
        api.delete(&reasoned).by(by).matching("*").refused(409, "event-final").await;
    }
    api.call("POST", &format!("{at}/attestation")).by(&cast.ben).refused(409, "event-final").await;
}

/// A set-up's declaration counts for rounds received after it, never before.
#[tokio::test]
async fn a_round_keeps_the_declaration_that_it_met() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let with = |setup: &str, member: &str| merged(round(member), &json!({ "setup_id": setup }));
    let before = api.hand_in(&night.event, &cast.ben, &with(&night.setup, &night.ben)).await.json();
    assert_eq!(before["declared_radius_ft"], 5.0);
    let setup = format!("/setups/{}", night.setup);
    api.patch(&setup, &json!({ "softening_radius_ft": null })).by(&cast.ann).matching("*").expect(200).await;
    let again = api.get(format!("/rounds/{}", before["id"].as_str().expect("an id"))).by(&cast.ben).expect(200).await;
    assert_eq!(again.json()["declared_radius_ft"], 5.0);
    let after = api.hand_in(&night.event, &cast.ann, &with(&night.setup, &night.ann)).await.json();
    assert_eq!(after["declared_radius_ft"], Value::Null);
    // One that is not shared may be used by its owner alone.
    let event = api.event(&cast, &night, json!({})).await;
    api.patch(&setup, &json!({ "shared": false })).by(&cast.ann).matching("*").expect(200).await;
    let path = format!("/events/{event}/rounds");
    api.post(&path, &with(&night.setup, &night.ben)).by(&cast.ben).key(&id()).refused(422, "unknown-setup").await;
    api.hand_in(&event, &cast.ann, &with(&night.setup, &night.ann)).await;
}

/// Nine holes of an 18-hole tee and a 9-hole tee.
#[tokio::test]
async fn nine_holes_are_played_on_a_nine() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let season = crate::support::harness::season_with(&json!({ "award": { "kind": "by_place", "table": [10, 6, 3] } }));
    let path = format!("/leagues/{}/seasons", night.league);
    let season = api.post(path, &season).by(&cast.olga).key(&id()).expect(201).await.id();
    let night = Night { season, ..night };
    let back = nine(&api, &cast, &night, json!({ "holes": 9, "first_hole": 10 })).await;
    let mut body = round(&night.ann);
    body["holes"] = (10..=18).map(|n| json!({ "number": n, "strokes": par(n), "putt_count": 2 })).collect();
    let seen = api.hand_in(&back, &cast.ann, &body).await.json();
    assert_eq!((&seen["gross"], &seen["points"], &seen["putts"]), (&json!(36), &json!(18), &json!(18)));
    let short = nine(&api, &cast, &night, json!({ "holes": 9, "tee_id": night.nine_tee })).await;
    api.hand_in(&short, &cast.ann, &card(&night.ann, &[4; 9])).await;
    let path = format!("/events/{short}/rounds");
    let seen = api.post(path, &round(&night.ben)).by(&cast.ben).key(&id()).refused(422, "hole-not-on-card").await;
    assert_eq!(seen.faults().len(), 9, "each hole beyond the ninth is named: {seen}");
}

async fn nine(api: &Api, cast: &Cast, night: &Night, changes: Value) -> String {
    api.event(cast, night, changes).await
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}
