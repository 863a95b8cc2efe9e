//! Batches: many rounds at once, each line on its own (A4).

use super::harness::{Api, Cast, Night, Seen, merged, round, shared};
use serde_json::{Value, json};

fn line(event: &str, member: &str, reference: &str) -> Value {
    let mut line = merged(round(member), &json!({ "event_id": event, "ref": reference }));
    line.as_object_mut().expect("an object").remove("client_round_id");
    line
}

async fn batch(api: &Api, cast: &Cast, night: &Night, text: &str) -> (Seen, Vec<Value>) {
    let path = format!("/seasons/{}/round-batches", night.season);
    let seen = api.call("POST", &path).raw("application/x-ndjson", text).by(&cast.olga).expect(200).await;
    assert_eq!(seen.header("content-type"), "application/x-ndjson");
    let lines = seen.text().lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    (seen, lines)
}

fn kind(line: &Value) -> (u64, u64, String) {
    let slug = line["problem"]["type"].as_str().unwrap_or_default().replace("/problems/", "");
    (line["line"].as_u64().expect("a line"), line["status"].as_u64().expect("a status"), slug)
}

#[tokio::test]
async fn good_lines_land_and_bad_ones_do_not() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let second_season = super::harness::season();
    let path = format!("/leagues/{}/seasons", night.league);
    let elsewhere = api.post(path, &second_season).by(&cast.olga).key(&super::harness::id()).expect(201).await.id();
    let elsewhere = Night { season: elsewhere, ..night.clone() };
    let elsewhere = api.event(&cast, &elsewhere, json!({})).await;
    let mut unholed = line(&night.event, &night.sam, "week 2, Sam");
    unholed["holes"][0]["putts"][1]["result"] = json!("missed");
    let mut misspelt = line(&night.event, &night.sam, "week 2, Sam");
    misspelt["outcom"] = json!("complete");
    let twice = line(&night.event, &night.ann, "week 2, Ann again");
    let long = merged(line(&night.event, &night.sam, "x"), &json!({ "ref": "x".repeat(65_536) }));
    let text = [
        line(&night.event, &night.ann, "week 2, Ann").to_string(),
        String::new(),
        unholed.to_string(),
        misspelt.to_string(),
        line(&elsewhere, &night.sam, "other season").to_string(),
        line(&super::harness::id(), &night.sam, "no event").to_string(),
        line(&night.event, &super::harness::id(), "no member").to_string(),
        twice.to_string(),
        "{\"ref\": ".into(),
        long.to_string(),
        line(&night.event, &night.ben, "week 2, Ben").to_string(),
    ]
    .join("\r\n");
    let (_, lines) = batch(&api, &cast, &night, &text).await;
    let seen: Vec<_> = lines.iter().map(kind).collect();
    let due = [
        (1, 201, ""),
        (3, 422, "last-putt-unholed"),
        (4, 422, "validation"),
        (5, 422, "unknown-event"),
        (6, 422, "unknown-event"),
        (7, 422, "unknown-member"),
        (8, 409, "second-round"),
        (9, 400, "malformed"),
        (10, 413, "payload-too-large"),
        (11, 201, ""),
    ];
    let due: Vec<_> = due.iter().map(|(line, status, slug)| (*line, *status, (*slug).to_owned())).collect();
    assert_eq!(seen, due, "{lines:#?}");
    assert_eq!(lines[1]["problem"]["errors"][0]["pointer"], "/holes/0/putts/1/result");
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 2);
    let first = lines[0]["round_id"].as_str().expect("an id");
    let stored = api.get(format!("/rounds/{first}")).by(&cast.ann).expect(200).await.json();
    assert_eq!((&stored["member_id"], &stored["gross"]), (&json!(night.ann), &json!(72)));
}

/// R4: `ref` makes each line idempotent, per season.
#[tokio::test]
async fn a_batch_sent_again_makes_nothing_twice() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (ann, ben) = (line(&night.event, &night.ann, "1"), line(&night.event, &night.ben, "2"));
    let text = format!("{ann}\n{ben}\n");
    let (_, first) = batch(&api, &cast, &night, &text).await;
    let (_, again) = batch(&api, &cast, &night, &text).await;
    for (first, again) in first.iter().zip(&again) {
        assert_eq!((&first["status"], &again["status"]), (&json!(201), &json!(200)));
        assert_eq!(first["round_id"], again["round_id"]);
    }
    let other = merged(ann, &json!({ "played_on": "2027-01-13" }));
    let (_, refused) = batch(&api, &cast, &night, &format!("{other}\n")).await;
    assert_eq!(kind(&refused[0]), (1, 409, "round-exists".into()));
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 2);
    // An empty batch is one of no lines.
    assert_eq!(batch(&api, &cast, &night, "\n\n").await.1, Vec::<Value>::new());
}

/// S25: 10,000 lines, NDJSON.
#[tokio::test]
async fn a_batch_has_its_limits() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}/round-batches", night.season);
    let send = |kind: &str, text: String| api.call("POST", &path).raw(kind, text).by(&cast.olga);
    let seen = send("application/json", "[]".into()).refused(415, "unsupported-media-type").await;
    assert_eq!(seen.header("accept"), "application/x-ndjson");
    send("application/x-ndjson", "{}\n".repeat(10_001)).refused(413, "payload-too-large").await;
    let seen = send("application/x-ndjson", "{}\n".repeat(10_000)).expect(200).await;
    assert_eq!(seen.text().lines().count(), 10_000);
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 0);
}
