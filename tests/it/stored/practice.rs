//! Practice: kept and reported for that member alone; it counts for nothing.

use crate::support::harness::{Api, Cast, Night, id, merged, own, round, shared, text};
use serde_json::{Value, json};

/// A block of 24 putts of 8 ft: two of three holed, the misses a foot and a half past.
pub fn block(setup: &str) -> Value {
    let putt = |n: usize| {
        let struck = json!({
            "distance_ft": 8.0, "elevation_in": 0.0, "ball_speed_mph": 4.1 + 0.02 * (n % 5) as f64,
            "start_line_deg": 0.3 * (n % 4) as f64 - 0.4,
        });
        let end = if n.is_multiple_of(3) {
            json!({ "result": "missed", "leave_ft": 1.5 })
        } else {
            json!({ "result": "holed" })
        };
        merged(struck, &end)
    };
    let putts: Vec<Value> = (0..24).map(putt).collect();
    json!({ "setup_id": setup, "played_on": "2027-01-13", "stimp_ft": 10.5, "putts": putts })
}

fn path(night: &Night) -> String {
    format!("/members/{}/practice", night.ann)
}

#[tokio::test]
async fn blocks_are_kept_listed_and_reported() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let nothing = api.get(path(&night) + "/report").by(&cast.ann).expect(200).await.json();
    assert_eq!((&nothing["blocks"], &nothing["putts"], &nothing["start_line"]), (&json!(0), &json!(0), &Value::Null));

    let key = id();
    let body = block(&night.setup);
    let kept = api.post(path(&night), &body).by(&cast.ann).key(&key).expect(201).await.json();
    let again = api.post(path(&night), &body).by(&cast.ann).key(&key).expect(201).await;
    assert_eq!((again.header("idempotency-replayed"), &again.json()), ("true", &kept));
    let mut earlier = merged(block(&night.setup), &json!({ "setup_id": null, "played_on": "2027-01-02" }));
    earlier["putts"] = json!([{ "distance_ft": 20.0, "result": "missed" }]);
    api.post(path(&night), &earlier).by(&cast.ann).expect(201).await;

    let page = api.get(path(&night) + "?limit=1").by(&cast.ann).expect(200).await.json();
    assert_eq!(page["items"], json!([kept]));
    let next = text(&page, "next");
    let page = api.get(format!("{}?limit=1&after={next}", path(&night))).by(&cast.ann).expect(200).await.json();
    assert_eq!((&page["items"][0]["played_on"], &page["next"]), (&json!("2027-01-02"), &Value::Null));

    let told = api.get(path(&night) + "/report").by(&cast.ann).expect(200).await.json();
    assert_eq!((&told["blocks"], &told["putts"], &told["rounds"]), (&json!(2), &json!(25), &json!(0)));
    assert_eq!((&told["bands"][3]["putts"], &told["bands"][3]["made"]), (&json!(24), &json!(16)));
    // 16 holed from 8 ft, 8 missed to 1.5 ft: 16 * 0.50429 + 8 * (1.50429 - 1.00066 - 1)
    assert_eq!(told["bands"][3]["strokes_gained_total"], json!(4.09768));
    assert_eq!((&told["feet_holed_total"], &told["longest_holed_ft"]), (&json!(128.0), &json!(8.0)));
    // one miss whose leave nobody knows, valued at what the tour's misses leave: E - (E - 1) / (1 - p) - 1
    let due = 0.87017 - 0.87017 / (1.0 - 0.14612);
    assert!((told["bands"][5]["strokes_gained_total"].as_f64().unwrap_or_default() - due).abs() < 1e-6, "{told}");
    assert_eq!((&told["start_line"]["putts"], &told["pace"]["putts"]), (&json!(24), &json!(24)));
    for told_for_a_round in ["strokes_gained_per_round", "causes"] {
        assert_eq!(told[told_for_a_round], Value::Null);
    }
    assert_eq!(told["advice"]["certainty"], "early");
}

/// A block that was mistyped is mended or thrown away by its member, who says which version is meant.
#[tokio::test]
async fn a_block_is_mended_and_thrown_away() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let first = api.post(path(&night), &block(&night.setup)).by(&cast.ann).expect(201).await;
    let at = format!("/practice/{}", first.id());
    assert_eq!(first.header("location"), format!("/api/v1{at}"));
    let seen = api.get(&at).by(&cast.ann).expect(200).await;
    assert_eq!((seen.json(), seen.etag()), (first.json(), first.etag()));

    let mut slower = merged(block(&night.setup), &json!({ "stimp_ft": 9.0, "setup_id": null }));
    slower["putts"].as_array_mut().expect("putts").truncate(3);
    let put = |tag: &str| api.call("PUT", &at).body(&slower).by(&cast.ann).matching(tag);
    api.call("PUT", &at).body(&slower).by(&cast.ann).refused(428, "if-match-missing").await;
    let mended = put(&first.etag()).expect(200).await;
    assert_eq!(mended.json(), merged(first.json(), &slower));
    assert_eq!(api.get(&at).by(&cast.ann).expect(200).await.json(), mended.json());
    let stale = put(&first.etag()).refused(412, "stale").await;
    assert_eq!(stale.etag(), mended.etag());
    let mut odd = slower.clone();
    odd["putts"][0]["leave_ft"] = json!(1.0);
    odd["putts"][0]["result"] = json!("holed");
    api.call("PUT", &at).body(&odd).by(&cast.ann).matching("*").expect(422).await;
    let told = api.get(path(&night) + "/report").by(&cast.ann).expect(200).await.json();
    assert_eq!((&told["blocks"], &told["putts"]), (&json!(1), &json!(3)));

    api.delete(&at).by(&cast.ann).matching(&first.etag()).refused(412, "stale").await;
    api.delete(&at).by(&cast.ann).matching(&mended.etag()).expect(204).await;
    api.get(&at).by(&cast.ann).refused(404, "not-found").await;
    let told = api.get(path(&night) + "/report").by(&cast.ann).expect(200).await.json();
    assert_eq!((&told["blocks"], &told["putts"]), (&json!(0), &json!(0)));
}

#[tokio::test]
async fn what_does_not_fit_is_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let refused = async |changes: Value, due: &[(&str, &str)]| {
        let body = merged(block(&night.setup), &changes);
        let seen = api.post(path(&night), &body).by(&cast.ann).expect(422).await;
        let due: Vec<_> = due.iter().map(|(at, code)| ((*at).to_owned(), (*code).to_owned())).collect();
        assert_eq!(seen.faults(), due, "{seen}");
    };
    let putts = |putt: Value| json!({ "putts": [putt] });
    refused(json!({ "stimp_ft": 3.9 }), &[("/stimp_ft", "out-of-range")]).await;
    refused(json!({ "putts": [] }), &[("/putts", "wrong-length")]).await;
    refused(putts(json!({ "distance_ft": 2.0, "result": "conceded" })), &[("/putts/0/result", "unknown-word")]).await;
    refused(
        putts(json!({ "distance_ft": 2.0, "result": "holed", "leave_ft": 1.0 })),
        &[("/putts/0/leave_ft", "leave-of-holed")],
    )
    .await;
    refused(json!({ "leave": 1 }), &[("/leave", "unknown-field")]).await;
    // Ben's own den is not Ann's to practise on.
    let den = json!({ "label": "Den", "sensor": "other" });
    let den = api.post(format!("/leagues/{}/setups", night.league), &den).by(&cast.ben).expect(201).await.id();
    refused(json!({ "setup_id": den }), &[("/setup_id", "unknown-setup")]).await;
    let blocks = api.get(path(&night)).by(&cast.ann).expect(200).await.json();
    assert_eq!(blocks["items"], json!([]));
}

/// Everything that anybody else, or the league, sees.
async fn shown(api: &Api, cast: &Cast, night: &Night) -> Vec<String> {
    let mut shown = Vec::new();
    for path in [
        format!("/seasons/{}/standings", night.season),
        format!("/seasons/{}/baseline", night.season),
        format!("/members/{}/putting?season_id={}", night.ann, night.season),
        format!("/members/{}/handicap", night.ann),
        format!("/leagues/{}/journal", night.league),
        format!("/leagues/{}/bundle", night.league),
        format!("/events/{}/board", night.event),
    ] {
        let seen = api.get(&path).by(&cast.olga).expect(200).await;
        shown.push(format!("{} {}", seen.header("etag"), seen.text()));
    }
    shown
}

#[tokio::test]
async fn practice_counts_for_nothing_and_shows_nowhere() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let before = shown(&api, &cast, &night).await;
    api.post(path(&night), &block(&night.setup)).by(&cast.ann).expect(201).await;
    assert_eq!(shown(&api, &cast, &night).await, before);
    for other in [&cast.olga, &cast.sam, &cast.ben] {
        api.get(path(&night)).by(other).refused(403, "forbidden").await;
        api.get(path(&night) + "/report").by(other).refused(403, "forbidden").await;
    }
    let held = api.get(format!("/members/{}/export", night.ann)).by(&cast.ann).expect(200).await.json();
    assert_eq!(held["practice"][0]["putts"], block(&night.setup)["putts"], "the export lacks practice");
}

async fn kept(api: &Api) -> i64 {
    let mut conn = api.server.app.leagues.database.reader().await.expect("a reader");
    let sql = "SELECT (SELECT count(*) FROM practice_blocks) + (SELECT count(*) FROM practice_putts) AS n";
    let row = conn.row(sql, vec![]).await.expect("the tables are there").expect("a row");
    row.get("n").expect("a number")
}

/// Nothing of it stays once the member is erased, or nobody is left who may see it.
#[tokio::test]
async fn practice_goes_with_the_person() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let of_ben = format!("/members/{}/practice", night.ben);
    let keys = [id(), id()];
    api.post(path(&night), &block(&night.setup)).by(&cast.ann).key(&keys[0]).expect(201).await;
    api.post(&of_ben, &block(&night.setup)).by(&cast.ben).key(&keys[1]).expect(201).await;
    assert_eq!(kept(&api).await, 50);
    api.delete(format!("/members/{}", night.ann)).by(&cast.olga).matching("*").expect(204).await;
    assert_eq!(kept(&api).await, 25);
    api.delete("/me").by(&cast.ben).expect(204).await;
    assert_eq!(kept(&api).await, 0);
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
}
