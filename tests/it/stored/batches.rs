//! Batches: many rounds at once, each line on its own (A4).

use crate::support::harness::{Api, Cast, Night, Seen, merged, round, shared};
use flate2::Compression;
use flate2::write::GzEncoder;
use serde_json::{Value, json};
use std::io::Write;
use tokio::io::{AsyncReadExt, AsyncWriteExt};

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
    let second_season = crate::support::harness::season();
    let path = format!("/leagues/{}/seasons", night.league);
    let elsewhere =
        api.post(path, &second_season).by(&cast.olga).key(&crate::support::harness::id()).expect(201).await.id();
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
        line(&crate::support::harness::id(), &night.sam, "no event").to_string(),
        line(&night.event, &crate::support::harness::id(), "no member").to_string(),
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
    let seen = send("application/x-ndjson", "{}\n".repeat(10_000)).expect(200).await;
    assert_eq!(seen.text().lines().count(), 10_000);
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 0);
    // One more is answered by a last line of its own: those before it were taken in as they came.
    let good = line(&night.event, &night.ann, "week 3, Ann").to_string();
    let seen = send("application/x-ndjson", format!("{good}\n{}", "{}\n".repeat(10_001))).expect(200).await;
    let told: Vec<Value> = seen.text().lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert_eq!(told.len(), 10_001);
    assert_eq!(told.first().map(kind), Some((1, 201, String::new())));
    assert_eq!(told.last().map(kind), Some((10_001, 413, "payload-too-large".into())));
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 1);
}

/// A batch may be packed, as other bodies may.
#[tokio::test]
async fn a_packed_batch_is_taken() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}/round-batches", night.season);
    let lines = [(&night.ann, "packed, Ann"), (&night.ben, "packed, Ben")];
    let text = lines.map(|(member, reference)| line(&night.event, member, reference).to_string()).join("\n");
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(text.as_bytes()).expect("memory takes all");
    let packed = packed.finish().expect("memory takes all");
    let call = api.call("POST", &path).raw("application/x-ndjson", packed).by(&cast.olga);
    let seen = call.with("content-encoding", "gzip").expect(200).await;
    assert_eq!(seen.text().lines().count(), 2);
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 2);
}

/// An answer leaves after its commit and does not wait for the lines that follow; what ends a batch early is told in its
/// place.
#[tokio::test]
async fn lines_are_taken_in_as_they_come() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let address = api.server.address;
    let mut socket = tokio::net::TcpStream::connect(address).await.expect("a connection");
    let head = format!(
        "POST /api/v1/seasons/{}/round-batches HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {}\r\n\
         Content-Type: application/x-ndjson\r\nContent-Length: 1000000\r\n\r\n",
        night.season, cast.olga.token
    );
    let first = line(&night.event, &night.ann, "as they come, Ann").to_string();
    socket.write_all(format!("{head}{first}\n{{\"ref\":").as_bytes()).await.expect("sent");
    let mut answer = String::new();
    while !answer.contains("\"status\":201") {
        let mut buffer = [0; 4096];
        let read = socket.read(&mut buffer).await.expect("an answer");
        assert!(read > 0, "{answer}");
        answer.push_str(&String::from_utf8_lossy(&buffer[..read]));
    }
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 1);
    socket.shutdown().await.expect("shut");
    socket.read_to_string(&mut answer).await.expect("the rest");
    assert!(answer.contains("\"line\":2") && answer.contains("broke off"), "{answer}");
}
