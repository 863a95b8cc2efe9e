//! Headers on every kind of answer (S22, S23, A1, A8). The harness checks the security headers and the request id with
//! every call of every test; here are the answers that no other test meets.

use crate::support::harness::{Api, Server, Settings, docs, id, own, round, secure, shared};
use serde_json::json;

/// S22: also 304, 404, 405, 413, 500, CSV and the stream.
#[tokio::test]
async fn every_kind_of_answer_has_the_security_headers() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let standings = format!("/seasons/{}/standings", night.season);
    let tag = api.get(&standings).by(&cast.ann).expect(200).await.etag();
    api.get(&standings).by(&cast.ann).with("if-none-match", &tag).expect(304).await;
    api.get(&standings).by(&cast.ann).with("accept", "text/csv").expect(200).await;
    api.outside("GET", "/nothing").refused(404, "not-found").await;
    api.outside("GET", "/api/v1/nothing").refused(404, "not-found").await;
    api.outside("GET", "/api/v2/leagues").refused(404, "not-found").await;
    api.call("DELETE", "/leagues").by(&cast.ann).refused(405, "method-not-allowed").await;
    let large = vec![b' '; 64 * 1024 + 1];
    let call = api.call("POST", "/leagues").raw("application/json", large).by(&cast.ann);
    call.refused(413, "payload-too-large").await;
    let mut stream = api.stream(&night.event, &cast.ann).await;
    assert_eq!(stream.headers["content-type"], "text/event-stream");
    assert_eq!(stream.headers["cache-control"], "no-store");
    assert_eq!(stream.headers["x-accel-buffering"], "no");
    stream.next().await.expect("a board");
    for path in ["/livez", "/readyz", "/metrics"] {
        api.outside("GET", path).expect(200).await;
    }
    // A failure of ours tells no more than that.
    drop(stream);
    api.server.app.leagues.database.close().await;
    let failed = api.get("/me").by(&cast.ann).refused(500, "internal").await.json();
    assert_eq!(failed["detail"], "the server failed; try again");
    api.outside("GET", "/readyz").expect(503).await;
    api.outside("GET", "/livez").expect(200).await;
}

/// Behind a proxy with TLS browsers are told to stay with it, and nobody reads the measures.
#[tokio::test]
async fn behind_a_proxy_browsers_stay_with_tls() {
    let api = Api::new(Server::start(Settings { behind_proxy: true, ..Settings::default() }));
    let seen = api.get("/openapi.json").expect(200).await;
    assert_eq!(seen.header("strict-transport-security"), "max-age=31536000; includeSubDomains");
    api.outside("GET", "/metrics").refused(404, "not-found").await;
    let (plain, _) = shared().await;
    assert_eq!(plain.get("/openapi.json").expect(200).await.header("strict-transport-security"), "");
}

/// A8: HEAD wherever GET, with the same headers and no body.
#[tokio::test]
async fn head_is_answered_wherever_get_is() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let round = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let (finding, _) = api.finding(&cast, &night, &cast.ben, &night.ben).await;
    let path = format!("/members/{}/practice", night.olga);
    let practice = crate::stored::practice::block(&night.setup);
    let practice = api.post(path, &practice).by(&cast.olga).key(&id()).expect(201).await.id();
    let [_, team, _, fixture, ..] = crate::stored::matches::a_team_match(&api, &cast, &night, &night.event).await;
    let contest = crate::stored::authorization::side_contest(&api, &cast, &night).await;
    for doc in docs().iter().filter(|doc| doc.method == "GET") {
        let object = match doc.path.split('/').nth(1).unwrap_or_default() {
            "leagues" => &night.league,
            "members" => &night.olga,
            "courses" => &night.course,
            "setups" => &night.setup,
            "seasons" => &night.season,
            "competitions" => &night.competition,
            "events" => &night.event,
            "rounds" => &round,
            "findings" => &finding,
            "practice" => &practice,
            "teams" => &team,
            "fixtures" => &fixture,
            "side-contests" => &contest,
            _ => "",
        };
        let path = doc.path.replace("{id}", object).replace("{team_id}", &team);
        let path = if path == "/pace" { "/pace?stimp_ft=10".into() } else { path };
        let head = api.call("HEAD", &path).by(&cast.olga).expect(200).await;
        if doc.path.ends_with("/stream") {
            assert_eq!(head.header("content-type"), "text/event-stream");
            continue;
        }
        let get = api.get(&path).by(&cast.olga).expect(200).await;
        for name in ["content-type", "etag", "cache-control", "link", "vary"] {
            assert_eq!(head.header(name), get.header(name), "HEAD {path}: {name}");
        }
        api.call("HEAD", &path)
            .expect(if doc.access == evenfield::http::routes::Access::Anyone { 200 } else { 401 })
            .await;
    }
    for path in ["/livez", "/readyz", "/metrics"] {
        assert_eq!(api.outside("HEAD", path).send().await.status, 200, "HEAD {path} (A8)");
        let seen = api.outside("POST", path).refused(405, "method-not-allowed").await;
        assert_eq!(seen.header("allow"), "GET, HEAD", "POST {path}");
    }
}

/// S23: what is private is not kept; boards are asked for again each time.
#[tokio::test]
async fn caches_keep_nothing_private() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let no_store = [
        "/me".to_owned(),
        format!("/members/{}/export", night.olga),
        format!("/leagues/{}/journal", night.league),
        format!("/leagues/{}/bundle", night.league),
    ];
    for path in no_store {
        let seen = api.get(&path).by(&cast.olga).expect(200).await;
        assert_eq!(seen.header("cache-control"), "no-store", "{path} (S23)");
    }
    for path in [format!("/events/{}/board", night.event), format!("/seasons/{}/standings", night.season)] {
        let seen = api.get(&path).by(&cast.olga).expect(200).await;
        assert_eq!(seen.header("cache-control"), "private, no-cache", "{path}");
        assert_eq!(seen.header("vary").to_lowercase(), "accept, accept-encoding, authorization, cookie", "{path}");
        // A 304 is authorized first.
        let tag = seen.etag();
        api.get(&path).by(&cast.otto).with("if-none-match", &tag).refused(404, "not-found").await;
        api.get(&path).with("if-none-match", &tag).refused(401, "unauthenticated").await;
    }
}

/// A1: each request has an id of its own, the one in the problem.
#[tokio::test]
async fn every_request_has_its_own_id() {
    let (api, cast) = shared().await;
    let first = api.get("/me").by(&cast.ann).with("x-request-id", &id()).expect(200).await;
    let second = api.get("/me").by(&cast.ann).expect(200).await;
    assert_ne!(first.header("x-request-id"), second.header("x-request-id"));
    let refused = api.get("/leagues/none").by(&cast.ann).expect(404).await;
    assert_eq!(refused.json()["instance"], json!(format!("urn:uuid:{}", refused.header("x-request-id"))));
}

/// A stop ends streams first, so that it need not wait for them (R12).
#[tokio::test]
async fn a_stop_ends_streams_first() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let mut stream = api.stream(&night.event, &cast.ann).await;
    assert_eq!(stream.next().await.expect("a board").0, "board");
    api.server.app.measures.stop();
    assert_eq!(stream.next().await.expect("a farewell").0, "bye");
    assert!(stream.next().await.is_none(), "nothing follows bye");
    api.outside("GET", "/readyz").expect(503).await;
    // One that comes too late is sent away at once.
    let mut late = api.stream(&night.event, &cast.ann).await;
    let mut names = Vec::new();
    while let Some((name, _)) = late.next().await {
        names.push(name);
    }
    assert_eq!(names.last().map(String::as_str), Some("bye"), "{names:?}");
    secure("the stream", &late.headers);
}
