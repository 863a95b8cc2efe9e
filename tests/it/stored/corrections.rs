//! Corrections: of one hole; and the writer is held no longer in a long season than in a short one.

use crate::support::harness::{Api, card, id, own, round, shared};
use serde_json::{Value, json};

/// Returns how many rows changes have read.
fn rows_read(api: &Api) -> u64 {
    api.server.app.leagues.writer.rows_read()
}

/// Corrects a card and leaves it out by a ruling, in a season in which so many others have played two events; returns how
/// many rows the two changes read, and how many rounds the table has.
async fn reads_beside(others: usize) -> ([u64; 2], usize) {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let second = api.event(&cast, &night, json!({ "opens_at": "2027-01-14T16:00:00Z" })).await;
    let names: String = (0..others).map(|n| format!("Player {n}\n")).collect();
    let path = format!("/leagues/{}/rosters", night.league);
    let roster = api.call("POST", &path).raw("text/csv", format!("display_name\n{names}")).by(&cast.olga).key(&id());
    let roster = roster.expect(201).await.json();
    let others =
        roster["items"].as_array().expect("members").iter().map(|member| member["id"].as_str().expect("an id"));
    let mut strokes = [4; 18];
    for (n, other) in others.enumerate() {
        strokes[n % 18] = 3 + (n % 5) as u8;
        for event in [&night.event, &second] {
            api.hand_in(event, &cast.olga, &card(other, &strokes)).await;
        }
    }
    api.hand_in(&second, &cast.ann, &round(&night.ann)).await;
    let sent = round(&night.ann);
    let handed_in = api.hand_in(&night.event, &cast.ann, &sent).await;
    api.server.app.leagues.all_weighed().await.expect("evidence is complete");

    let at = format!("/rounds/{}", handed_in.id());
    let mut better = sent.clone();
    better["holes"][5]["strokes"] = json!(2);
    better["holes"][5]["putt_count"] = json!(1);
    let before = rows_read(&api);
    api.put(format!("{at}?reason=slip"), &better).by(&cast.olga).matching("*").expect(200).await;
    let corrected = rows_read(&api) - before;
    api.server.app.leagues.all_weighed().await.expect("evidence is complete");
    // The ruling tells the event's board, which has a row for each card: its event has one card only.
    let alone = api.event(&cast, &night, json!({ "opens_at": "2027-01-14T15:00:00Z" })).await;
    let ruled_on = api.hand_in(&alone, &cast.ann, &round(&night.ann)).await.id();
    api.server.app.leagues.all_weighed().await.expect("evidence is complete");
    let before = rows_read(&api);
    let ruling = json!({ "decision": "exclude_round", "reason": "played twice" });
    api.post(format!("/rounds/{ruled_on}/rulings"), &ruling).by(&cast.olga).key(&id()).expect(201).await;
    let ruled = rows_read(&api) - before;

    let changes = api.get(format!("/seasons/{}/standings/changes", night.season)).by(&cast.olga).expect(200).await;
    let acts: Vec<Value> =
        changes.json()["items"].as_array().expect("a list").iter().map(|c| c["act"].clone()).collect();
    assert_eq!(acts, ["correct", "exclude_round"], "what moved the table is written down");
    let table = api.get(format!("/seasons/{}/standings", night.season)).by(&cast.olga).expect(200).await.json();
    let rounds = table["items"].as_array().expect("rows").iter().map(|row| row["events_played"].as_u64().unwrap_or(0));
    ([corrected, ruled], rounds.sum::<u64>() as usize)
}

#[tokio::test]
async fn a_correction_reads_no_more_in_a_long_season_than_in_a_short_one() {
    let (short, few) = reads_beside(3).await;
    let (long, many) = reads_beside(40).await;
    println!("{short:?} rows read in a season of {few} rounds, {long:?} in one of {many}");
    assert!(many > 10 * few, "{few} rounds, {many} rounds");
    for (short, long) in short.into_iter().zip(long) {
        assert!(long <= short + 8, "{short} rows were read in the short season, {long} in the long one");
    }
}

/// One hole is mended by itself, by whoever may change the round: the rest of the card stays, and what is wrong with the
/// hole is told within it.
#[tokio::test]
async fn a_hole_is_corrected_by_itself() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (card, at) = (handed.json(), format!("/rounds/{}/holes/", handed.id()));
    let patch = |hole: &str, body: Value| api.patch(format!("{at}{hole}"), &body).by(&cast.ann);
    let mended = patch("2", json!({ "strokes": 9 })).matching(&handed.etag()).expect(200).await;
    let mut due = card["holes"].clone();
    due[1]["strokes"] = json!(9);
    assert_eq!((&mended.json()["holes"], mended.etag()), (&due, "\"2\"".to_owned()));
    // The first hole has its putts recorded; null takes them away.
    let bare = patch("1", json!({ "putts": null, "putt_count": 2 })).matching("*").expect(200).await.json();
    assert_eq!((&bare["holes"][0].get("putts"), &bare["holes"][0]["putt_count"]), (&None, &json!(2)));
    assert_eq!(bare["holes"][1]["strokes"], 9, "the mended hole stays");

    patch("2", json!({ "strokes": 4 })).matching(&handed.etag()).refused(412, "stale").await;
    patch("2", json!({ "strokes": 4 })).refused(428, "if-match-missing").await;
    for none in ["0", "19", "02", "x", "2%2F"] {
        patch(none, json!({ "strokes": 4 })).matching("*").refused(404, "not-found").await;
    }
    let wrong = [
        (json!({ "strokes": 0 }), "/strokes"),
        (json!({ "number": 3 }), "/number"),
        (json!({ "putt_count": 6, "strokes": 5 }), "/putt_count"),
    ];
    for (body, pointer) in wrong {
        let seen = patch("2", body.clone()).matching("*").expect(422).await;
        assert_eq!(seen.faults()[0].0, pointer, "{body}: {seen}");
    }
    let by_sam =
        |reason: &str| api.patch(format!("{at}2{reason}"), &json!({ "strokes": 8 })).by(&cast.sam).matching("*");
    by_sam("").refused(422, "reason-missing").await;
    assert_eq!(by_sam("?reason=a%20slip").expect(200).await.json()["holes"][1]["strokes"], 8);
    api.settle(&night.event, &cast.olga).await;
    by_sam("?reason=a%20slip").refused(409, "event-final").await;
}
