//! A league night from hand-in to standings, and everything that can go wrong on the way.

use crate::support::story::{League, Person, START, Server, event, round};
use reqwest::Method;
use serde_json::{Value, json};
use uuid::Uuid;

/// Worked by hand. Nine par fours, rating 35.3, slope 121; starting handicap 8.7:
/// half of 8.7 is 4.35 → 4.4; 4.4 · 121/113 + (35.3 − 36) = 4.0115 → course strokes 4 (Local Guidance Rule 6);
/// playing strokes 4.0115 · 0.95 = 3.8109 → 4. Strokes 9,4,4,4,4,4,4,4,4 = 41: net 37; hole 1 counts 4 + 2 + 1 = 7 for
/// the index: adjusted 39; differential 113/121 · (39 − 35.3) = 3.4554 → 3.5 shown.
/// Stableford with 4 strokes on the indexes 1 to 4: 0 + 3 + 3 + 3 + 2 · 5 = 19.
#[actix_web::test]
async fn a_round_is_worked_out_as_by_hand() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "net").await;
    let member = json!({ "display_name": "Nils", "starting_handicap": 8.7 });
    let nils = league.organizer.post(&format!("/leagues/{}/members", league.id), &member).await.expect(201).id();
    let mut card = round([9, 4, 4, 4, 4, 4, 4, 4, 4]);
    card["member_id"] = json!(nils);
    card["holes"][1]["putts"] = json!([
        { "distance_ft": 31.0, "result": "missed" }, { "distance_ft": 2.0, "result": "conceded" },
    ]);
    let answer = league.organizer.hand_in(&league.event, &card).await.expect(201).json();
    let figures = json!({
        "gross": 41, "adjusted_gross": 39, "course_handicap": 4, "playing_handicap": 4, "net": 37, "points": 19,
        "score_differential": 3.5, "putts": null,
    });
    for (name, value) in figures.as_object().unwrap() {
        assert_eq!(answer[name], *value, "{name} in {answer}");
    }
    // E(31) = (1.97611 + 1.99350) / 2 within the interpolation's 0.001; two putts: 18 · (E − 2) / 1.
    let gained = answer["putting"]["strokes_gained"].as_f64().unwrap();
    assert!((gained - 18.0 * (1.984805 - 2.0)).abs() < 18.0 * 0.001, "{gained}");
    assert_eq!(answer["putting"]["recorded_holes"], 1);

    let path = format!("/seasons/{}/standings", league.season);
    let table = league.organizer.get(&path).await.expect(200);
    let row = &table.json()["items"][0];
    assert_eq!((&row["position"], &row["total"], &row["member_id"]), (&json!(1), &json!(4), &json!(nils)));
    let headers = [("if-none-match", table.headers["etag"].to_str().unwrap())];
    let again = server.send(Method::GET, &path, Some(&league.organizer.token), &headers, None).await;
    assert_eq!(again.status.as_u16(), 304);
    let headers = [("accept", "text/csv")];
    let csv = server.send(Method::GET, &path, Some(&league.organizer.token), &headers, None).await.expect(200);
    let due = format!("1,false,{nils},Nils,,1,1,4,{gained},4\r\n");
    assert!(csv.text.ends_with(&due), "{} should end with {due}", csv.text);
    let board = league.organizer.get(&format!("/events/{}/board", league.event)).await.expect(200).json();
    assert_eq!((&board["items"][0]["position"], &board["items"][0]["net"]), (&json!(1), &json!(37)));
    assert!(server.leagues.verify().await.unwrap().differences.is_empty());
}

/// R3, R4: the same round sent again counts once, whatever happened in between.
#[actix_web::test]
async fn a_round_sent_again_counts_once() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let (pia, _) = league.welcome("Pia", "player").await;
    let (card, key) = (round([4; 9]), Uuid::new_v4().to_string());
    let no_key = pia.post(&format!("/events/{}/rounds", league.event), &card).await.expect(400);
    assert_eq!(no_key.problem(), "idempotency-key-missing");
    let first = pia.hand_in_under(&league.event, &card, &key).await.expect(201);
    let again = pia.hand_in_under(&league.event, &card, &format!("\"{key}\"")).await.expect(201);
    assert_eq!(again.headers["idempotency-replayed"], "true");
    assert_eq!(again.text, first.text, "a replay is the same to the byte");
    let other = pia.hand_in_under(&league.event, &round([5; 9]), &key).await.expect(422);
    assert_eq!(other.problem(), "idempotency-key-reused");
    assert_eq!(pia.hand_in(&league.event, &round([5; 9])).await.expect(409).problem(), "second-round");
    server.set_clock("2027-01-21T08:00:00Z");
    let pia = Person { token: crate::support::story::sign_in(&server, &pia.email).await, ..pia };
    let late = pia.hand_in(&league.event, &card).await.expect(200);
    assert_eq!(late.id(), first.id(), "a week later, under a new key, it is the stored round");
    let mut changed = card.clone();
    changed["holes"][0]["strokes"] = json!(3);
    assert_eq!(pia.hand_in(&league.event, &changed).await.expect(409).problem(), "round-exists");
    let mut fresh = round([4; 9]);
    fresh["client_round_id"] = json!(Uuid::new_v4());
    fresh["played_on"] = json!("2027-01-15");
    let night = event(&league.tee, "2027-01-15T18:00:00Z", "2027-01-15T23:00:00Z");
    let organizer = crate::support::story::sign_in(&server, &league.organizer.email).await;
    let organizer = Person { token: organizer, ..league.organizer.clone() };
    let closed = organizer.post(&format!("/seasons/{}/events", league.season), &night).await.expect(201).id();
    assert_eq!(pia.hand_in(&closed, &fresh).await.expect(201).json()["state"], "late");
}

/// F7 in small: fifty equal requests at once.
#[actix_web::test]
async fn fifty_equal_requests_at_once_make_one_round() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let (card, key) = (round([4; 9]), Uuid::new_v4().to_string());
    let sends = (0..50).map(|_| league.organizer.hand_in_under(&league.event, &card, &key));
    let answers = futures_util::future::join_all(sends).await;
    let first = answers[0].id();
    for answer in answers {
        assert_eq!((answer.status.as_u16(), answer.id()), (201, first.clone()), "{}", answer.text);
    }
    let listed = league.organizer.get(&format!("/events/{}/rounds", league.event)).await.expect(200);
    assert_eq!(listed.json()["items"].as_array().unwrap().len(), 1);
}

#[actix_web::test]
async fn a_card_that_does_not_fit_is_refused_with_every_rule_named() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let cases: [(&str, &str, Value); 10] = [
        ("hole-not-on-card", "/holes/0/number", json!({ "number": 10, "strokes": 4 })),
        ("hole-repeated", "/holes/1/number", json!({ "number": 2, "strokes": 4 })),
        ("strokes-missing", "/holes/0/strokes", json!({ "number": 1 })),
        ("hole-not-played", "/holes/0/not_played", json!({ "number": 1, "strokes": 4, "not_played": true })),
        ("putts-exceed-strokes", "/holes/0/putt_count", json!({ "number": 1, "strokes": 2, "putt_count": 3 })),
        ("putt-count", "/holes/0/putt_count", json!({ "number": 1, "strokes": 4, "putts": [], "putt_count": 1 })),
        (
            "last-putt-unholed",
            "/holes/0/putts/0/result",
            json!({ "number": 1, "strokes": 4, "putts": [{ "distance_ft": 3, "result": "missed" }] }),
        ),
        (
            "putt-after-holing",
            "/holes/0/putts/0/result",
            json!({ "number": 1, "strokes": 4, "putts": [
                { "distance_ft": 3, "result": "holed" }, { "distance_ft": 3, "result": "holed" },
            ] }),
        ),
        (
            "concession-too-long",
            "/holes/0/putts/0/distance_ft",
            json!({ "number": 1, "strokes": 4, "putts": [{ "distance_ft": 2.5, "result": "conceded" }] }),
        ),
        ("validation", "/holes/0/strokes", json!({ "number": 1, "strokes": 31 })),
    ];
    for (rule, pointer, hole) in cases {
        let mut card = round([4; 9]);
        card["holes"][0] = hole;
        let refused = league.organizer.hand_in(&league.event, &card).await.expect(422);
        let pointers = refused.pointers();
        assert!(pointers.contains(&pointer.to_owned()), "{rule}: {}", refused.text);
        let of_kind =
            refused.json()["errors"].as_array().unwrap().iter().any(|e| e["type"] == format!("/problems/{rule}"));
        assert!(refused.problem() == rule || of_kind, "{rule}: {}", refused.text);
    }
    let mut many = round([4; 9]);
    many["holes"][0]["strokes"] = json!("four");
    many["holes"][1]["putts"] = json!([{ "distance_ft": 201, "result": "sunk", "spin": 1 }]);
    many["played_on"] = json!("14.1.2027");
    let refused = league.organizer.hand_in(&league.event, &many).await.expect(422);
    let due = [
        "/played_on",
        "/holes/0/strokes",
        "/holes/1/putts/0/distance_ft",
        "/holes/1/putts/0/result",
        "/holes/1/putts/0/spin",
    ];
    for pointer in due {
        assert!(refused.pointers().contains(&pointer.to_owned()), "{pointer} in {}", refused.text);
    }
    let mut short = round([4; 9]);
    short["holes"].as_array_mut().unwrap().pop();
    assert_eq!(league.organizer.hand_in(&league.event, &short).await.expect(422).problem(), "hole-missing");
    let listed = league.organizer.get(&format!("/events/{}/rounds", league.event)).await.expect(200);
    assert_eq!(listed.json()["items"], json!([]), "nothing is half-written");
}

#[actix_web::test]
async fn what_cannot_be_read_is_refused_by_kind() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let token = Some(league.organizer.token.as_str());
    let members = format!("/leagues/{}/members", league.id);
    let send = |path: String, kind: &'static str, body: &str| {
        let body = body.to_owned();
        let server = &server;
        async move { server.send(Method::POST, &path, token, &[("content-type", kind)], Some(body)).await }
    };
    let json_kind = "application/json";
    for (kind, body, status, problem) in [
        (json_kind, "{", 400, "malformed"),
        (json_kind, r#"{"display_name": NaN}"#, 400, "malformed"),
        ("text/plain", "{}", 415, "unsupported-media-type"),
        (json_kind, r#"{"display_name": "A", "display_name": "B"}"#, 422, "validation"),
        (json_kind, r#"{"display_name": "A", "starting_handicap": 1e400}"#, 422, "validation"),
        (json_kind, r#"{"display_name": "A", "starting_handicap": 54.1}"#, 422, "validation"),
        (json_kind, r#"{"display_name": "A", "starting_handicap": 5.05}"#, 422, "validation"),
        (json_kind, r#"{"display_name": "A", "role": "organizer"}"#, 422, "validation"),
        (json_kind, r#"{"display_name": "A", "id": "x"}"#, 422, "validation"),
    ] {
        let refused = send(members.clone(), kind, body).await.expect(status);
        assert_eq!(refused.problem(), problem, "{body}");
        assert_eq!(
            refused.json()["instance"],
            format!("urn:uuid:{}", refused.headers["x-request-id"].to_str().unwrap())
        );
    }
    let huge = format!(r#"{{"display_name": "{}"}}"#, "x".repeat(70_000));
    assert_eq!(send(members.clone(), json_kind, &huge).await.expect(413).problem(), "payload-too-large");
    for (query, status, problem) in [
        ("?limit=0", 422, "validation"),
        ("?limit=201", 422, "validation"),
        ("?after=nonsense", 400, "bad-cursor"),
        ("?colour=red", 400, "unknown-parameter"),
    ] {
        let refused = league.organizer.get(&format!("{members}{query}")).await.expect(status);
        assert_eq!(refused.problem(), problem, "{query}");
    }
    let wrong_way = server.send(Method::PUT, &members, token, &[], Some("{}".into())).await.expect(405);
    assert_eq!(wrong_way.headers["allow"], "GET, HEAD, POST");
    let page = league.organizer.get(&format!("{members}?limit=1")).await.expect(200).json();
    assert_eq!(page["next"], Value::Null, "one member, one page");
    for header in ["content-security-policy", "x-content-type-options", "referrer-policy"] {
        assert!(wrong_way.headers.contains_key(header), "{header}");
    }
}

#[actix_web::test]
async fn of_two_editors_one_wins_and_the_other_is_told() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let (pia, _) = league.welcome("Pia", "player").await;
    let handed_in = pia.hand_in(&league.event, &round([4; 9])).await.expect(201);
    let path = format!("/rounds/{}", handed_in.id());
    league.organizer.post(&format!("{path}/attestation"), &json!({})).await.expect(200);
    pia.post(&format!("{path}/attestation"), &json!({})).await.expect(403);
    let mut card = round([5; 9]);
    card["client_round_id"] = handed_in.json()["client_round_id"].clone();
    let missing = server.send(Method::PUT, &path, Some(&pia.token), &[], Some(card.to_string())).await.expect(428);
    assert_eq!(missing.problem(), "if-match-missing");
    let tag = pia.get(&path).await.expect(200).etag();
    let corrected = pia.with_tag(Method::PUT, &path, &tag, &card).await.expect(200).json();
    assert_eq!((&corrected["gross"], &corrected["state"]), (&json!(45), &json!("submitted")), "attestation is cleared");
    let stale = pia.with_tag(Method::PUT, &path, &tag, &card).await.expect(412);
    assert_eq!(stale.problem(), "stale");
    let weak = format!("W/{}", stale.etag());
    pia.with_tag(Method::PUT, &path, &weak, &card).await.expect(412);
    let tag = stale.etag();
    let no_reason = league.organizer.with_tag(Method::DELETE, &path, &tag, &Value::Null).await.expect(422);
    assert_eq!(no_reason.problem(), "reason-missing");
    let with_reason = format!("{path}?reason=counted%20twice");
    league.organizer.with_tag(Method::DELETE, &with_reason, &tag, &Value::Null).await.expect(204);
    assert_eq!(pia.get(&path).await.expect(200).json()["state"], "withdrawn");
    pia.hand_in(&league.event, &round([4; 9])).await.expect(201);
    assert!(server.leagues.verify().await.unwrap().differences.is_empty());
}

/// Final is for good: later edits of course and season leave its results; later league indexes follow.
#[actix_web::test]
async fn a_final_event_keeps_its_results() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "net").await;
    let (pia, _) = league.welcome("Pia", "player").await;
    let handed_in = pia.hand_in(&league.event, &round([4; 9])).await.expect(201);
    let path = format!("/events/{}", league.event);
    let tag = league.organizer.get(&path).await.expect(200).etag();
    let settled = json!({ "state": "final", "closes_at": START });
    league.organizer.with_tag(Method::PATCH, &path, &tag, &settled).await.expect(200);
    let before = pia.get(&format!("/rounds/{}", handed_in.id())).await.expect(200).json();
    let course_path = format!("/courses/{}", league.course);
    let course = league.organizer.get(&course_path).await.expect(200);
    let mut harder = crate::support::story::course();
    harder["tees"][0]["id"] = json!(league.tee);
    harder["tees"][0]["course_rating"] = json!(30.1);
    league.organizer.with_tag(Method::PUT, &course_path, &course.etag(), &harder).await.expect(200);
    let after = pia.get(&format!("/rounds/{}", handed_in.id())).await.expect(200).json();
    assert_eq!(after, before);
    let again = league.organizer.with_tag(Method::PATCH, &path, "*", &json!({ "name": "x" })).await.expect(409);
    assert_eq!(again.problem(), "event-final");
    let season_path = format!("/competitions/{}", league.competition);
    let locked = json!({ "counting": { "best": 3, "minimum": 1 } });
    let refused = league.organizer.with_tag(Method::PATCH, &season_path, "*", &locked).await.expect(409);
    assert_eq!(refused.problem(), "terms-settled");
    let mut card = round([5; 9]);
    card["client_round_id"] = handed_in.json()["client_round_id"].clone();
    let round_path = format!("/rounds/{}", handed_in.id());
    assert_eq!(pia.with_tag(Method::PUT, &round_path, "*", &card).await.expect(409).problem(), "event-final");
    assert!(server.leagues.verify().await.unwrap().differences.is_empty());
}

/// Terms are not tightened under cards that kept to them: the league's own bundle could not be read again.
#[actix_web::test]
async fn terms_are_not_tightened_under_cards() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "points").await;
    let mut card = round([4; 9]);
    card["holes"][0] = json!({ "number": 1, "picked_up": true });
    card["holes"][1]["putts"] = json!([{ "distance_ft": 1.8, "result": "conceded" }]);
    league.organizer.hand_in(&league.event, &card).await.expect(201);
    let path = format!("/seasons/{}", league.season);
    for (change, status) in [
        (json!({ "concession_ft": 1.0 }), 409),
        (json!({ "concession_ft": 1.8 }), 200),
        (json!({ "concession_ft": 3.0 }), 200),
    ] {
        let answer = league.organizer.with_tag(Method::PATCH, &path, "*", &change).await.expect(status);
        if status == 409 {
            assert_eq!(answer.problem(), "terms-in-use", "{change}");
        }
    }
}

/// S11: rotation, a minute's grace, and the end of a family.
#[actix_web::test]
async fn a_lost_answer_does_not_sign_an_honest_phone_out() {
    let server = Server::start().await;
    let pia = Person::join(&server, "Pia").await;
    let sign_in = json!({ "email": pia.email, "password": crate::support::story::PASSWORD });
    let first = server.send(Method::POST, "/sessions", None, &[], Some(sign_in.to_string())).await.expect(200).json();
    let refresh = |token: &Value| {
        let body = json!({ "refresh_token": token }).to_string();
        let server = &server;
        async move { server.send(Method::POST, "/sessions/refresh", None, &[], Some(body)).await }
    };
    let second = refresh(&first["refresh_token"]).await.expect(200).json();
    let retried = refresh(&first["refresh_token"]).await.expect(200).json();
    assert_eq!(retried["refresh_token"], second["refresh_token"], "never a fork");
    server.set_clock("2027-01-14T19:01:01Z");
    refresh(&first["refresh_token"]).await.expect(401);
    refresh(&second["refresh_token"]).await.expect(401);
    let token = second["access_token"].as_str().unwrap();
    let ended = server.send(Method::GET, "/me", Some(token), &[], None).await.expect(401);
    assert_eq!(ended.problem(), "unauthenticated");
    let unknown = json!({ "email": "nobody@demo.example", "password": "no such password" });
    let wrong = json!({ "email": pia.email, "password": "not the right one" });
    let a = server.send(Method::POST, "/sessions", None, &[], Some(unknown.to_string())).await.expect(401).json();
    let b = server.send(Method::POST, "/sessions", None, &[], Some(wrong.to_string())).await.expect(401).json();
    assert_eq!((&a["detail"], &a["title"]), (&b["detail"], &b["title"]), "which of the two is wrong is not said");
    assert_eq!(START, "2027-01-14T19:00:00Z");
}

/// A league that comes in mid-season: three differentials of before make an index on the first night, and a value of
/// before stands in the table. 12.0, 14.0, 13.0: the lowest less 2.0 is 10.0 (Rule 5.2a); half of it is 5.0;
/// 5.0 · 121/113 + (35.3 − 36) = 4.654; · 0.95 = 4.42 → 4 playing strokes, course strokes 5.
#[actix_web::test]
async fn what_was_brought_along_counts_from_the_first_night() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "net").await;
    let (pia, member) = league.welcome("Pia", "player").await;
    let path = format!("/members/{member}/carried-differentials");
    for differential in [12.0, 14.0, 13.0] {
        let carried = json!({ "played_on": "2026-12-01", "differential": differential, "source": "an old sheet" });
        pia.post(&path, &carried).await.expect(403);
        league.organizer.post(&path, &carried).await.expect(201);
    }
    assert_eq!(pia.get(&path).await.expect(200).json()["items"].as_array().unwrap().len(), 3);
    let index = pia.get(&format!("/members/{member}/handicap")).await.expect(200).json();
    assert_eq!(index["league_index"], json!(10.0));
    assert_eq!(index["differentials"][2]["kind"], "carried");
    let answer = pia.hand_in(&league.event, &round([5; 9])).await.expect(201).json();
    assert_eq!(
        (&answer["playing_handicap"], &answer["course_handicap"], &answer["net"]),
        (&json!(4), &json!(5), &json!(41))
    );
    let results = format!("/seasons/{}/carried-results", league.season);
    let stranger = League::found(&server, "Xenia", "net").await;
    let mut value =
        json!({ "member_id": stranger.organizer_member, "label": "Autumn", "value": 7.5, "source": "sheet" });
    let refused = league.organizer.post(&results, &value).await.expect(422);
    assert_eq!(refused.problem(), "unknown-member");
    value["member_id"] = json!(member);
    league.organizer.post(&results, &value).await.expect(201);
    let table = pia.get(&format!("/seasons/{}/standings", league.season)).await.expect(200).json();
    let row = &table["items"][0];
    assert_eq!((&row["total"], &row["events_played"]), (&json!(11.5), &json!(2)));
    assert_eq!((&row["results"][0]["carried"], &row["results"][0]["event_id"]), (&json!("Autumn"), &Value::Null));
    assert!(server.leagues.verify().await.unwrap().differences.is_empty());
}

/// A batch: good lines land, bad lines do not, and a line sent again is the stored round.
#[actix_web::test]
async fn a_batch_answers_line_by_line() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let member = json!({ "display_name": "Nils" });
    let nils = league.organizer.post(&format!("/leagues/{}/members", league.id), &member).await.expect(201).id();
    let mut good = round([4; 9]);
    good.as_object_mut().unwrap().remove("client_round_id");
    good["member_id"] = json!(nils);
    good["event_id"] = json!(league.event);
    good["ref"] = json!("row 1");
    let mut bad = good.clone();
    bad["holes"][0]["strokes"] = json!(0);
    let body = format!("{good}\n\n{bad}\n{good}\n");
    let path = format!("/seasons/{}/round-batches", league.season);
    let headers = [("content-type", "application/x-ndjson")];
    let answer =
        server.send(Method::POST, &path, Some(&league.organizer.token), &headers, Some(body)).await.expect(200);
    let lines: Vec<Value> = answer.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let found: Vec<_> = lines.iter().map(|line| (line["line"].as_u64(), line["status"].as_u64())).collect();
    assert_eq!(found, [(Some(1), Some(201)), (Some(3), Some(422)), (Some(4), Some(200))]);
    assert_eq!(lines[0]["round_id"], lines[2]["round_id"]);
    assert_eq!(lines[1]["problem"]["errors"][0]["pointer"], "/holes/0/strokes");
}

/// Export, import into an empty store, export: the same bytes; and the report of the bundle is the server's table.
#[actix_web::test]
async fn a_bundle_goes_out_and_in_to_the_byte() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "net").await;
    let (pia, _) = league.welcome("Pia", "player").await;
    let handed_in = pia.hand_in(&league.event, &round([4, 5, 4, 5, 4, 5, 4, 5, 4])).await.expect(201);
    let path = format!("/rounds/{}", handed_in.id());
    let mut card = round([5; 9]);
    card["client_round_id"] = handed_in.json()["client_round_id"].clone();
    pia.with_tag(Method::PUT, &path, &handed_in.etag(), &card).await.expect(200);
    league.organizer.post(&format!("{path}/attestation"), &json!({})).await.expect(200);
    let attested = pia.get(&path).await.expect(200);
    pia.with_tag(Method::PUT, &path, &attested.etag(), &card).await.expect(200);
    let bundle = league.organizer.get(&format!("/leagues/{}/bundle", league.id)).await.expect(200).text;

    let other = crate::support::store::TestStore::file();
    let clock = evenfield::startup::system_clock();
    let empty = evenfield::startup::open(&other.store, clock).await.unwrap();
    let mut import = empty.import().await.unwrap();
    let mut assembler = evenfield::wire::bundle::assemble::Assembler::default();
    for line in bundle.lines() {
        let line = evenfield::wire::bundle::line::Line::read(line.as_bytes()).unwrap();
        import.add(&line).await.unwrap();
        assembler.add(line).unwrap();
    }
    let (id, _) = import.finish().await.unwrap();
    let (sender, mut lines) = tokio::sync::mpsc::channel(1000);
    empty.export(id, sender).await.unwrap();
    let mut again = String::new();
    while let Some(line) = lines.recv().await {
        again.push_str(&(line.to_json() + "\n"));
    }
    assert_eq!(again, bundle);
    assert_eq!(empty.verify().await.unwrap().differences, Vec::<String>::new());

    let evenfield::wire::bundle::assemble::Assembler { book, mut entries, putts, facts, .. } = assembler;
    let season = evenfield::domain::ids::SeasonId(league.season.parse().unwrap());
    let asked = evenfield::domain::season::overview::Asked::now(season);
    let overview = evenfield::domain::season::overview::overview(&book, &mut entries, &putts, &facts, asked);
    let table = league.organizer.get(&format!("/seasons/{}/standings", league.season)).await.expect(200);
    assert_eq!(serde_json::to_value(&overview.standings).unwrap(), table.json()["items"]);
}

/// A board's stream shows the board at once and again whenever it changes.
#[actix_web::test]
async fn a_stream_shows_a_round_that_lands() {
    use futures_util::StreamExt;
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "gross").await;
    let url = format!("http://{}/api/v1/events/{}/board/stream", server.address, league.event);
    let answer = reqwest::Client::new().get(url).bearer_auth(&league.organizer.token).send().await.unwrap();
    assert_eq!(answer.headers()["content-type"], "text/event-stream");
    let mut stream = answer.bytes_stream();
    let mut seen = String::new();
    let mut handed_in = false;
    while seen.matches("event: board").count() < 2 {
        let chunk = tokio::time::timeout(std::time::Duration::from_secs(20), stream.next()).await;
        let chunk = chunk.expect("the stream says something within 20 s").unwrap().unwrap();
        seen.push_str(std::str::from_utf8(&chunk).unwrap());
        if !handed_in && seen.contains("event: board") {
            handed_in = true;
            league.organizer.hand_in(&league.event, &round([4; 9])).await.expect(201);
        }
    }
    assert!(seen.contains("\"gross\":36"), "{seen}");
}
