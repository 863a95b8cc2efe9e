//! Accounts: register, sign in, refresh, sign out, invitations, end (S3–S7, S9, S11, S15).

use crate::support::harness::{Api, PASSWORD, Person, Server, Settings, id, own, shared, text};
use evenfield::accounts::password::Purpose;
use evenfield::league::account::register::Registration;
use futures_util::future::join_all;
use futures_util::stream::{self, StreamExt};
use serde_json::{Value, json};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

fn address() -> String {
    static COUNT: AtomicU64 = AtomicU64::new(1);
    format!("reader{}@example.net", COUNT.fetch_add(1, Ordering::SeqCst))
}

fn registration(email: &str, password: &str) -> Value {
    json!({ "email": email, "password": password, "display_name": "Rosa Fairley" })
}

fn without_instance(mut problem: Value) -> Value {
    problem["instance"] = Value::Null;
    problem
}

#[tokio::test]
async fn an_address_registers_once() {
    let (api, _) = shared().await;
    let email = address();
    let made = api.post("/accounts", &registration(&email, PASSWORD)).expect(201).await.json();
    assert_eq!((text(&made, "email"), text(&made, "display_name")), (email.clone(), "Rosa Fairley".into()));
    // Capitals and blanks around it do not make another address.
    for same in [email.clone(), email.to_uppercase(), format!(" {email} ")] {
        api.post("/accounts", &registration(&same, PASSWORD)).refused(409, "account-exists").await;
    }
    for odd in ["reader", "@example.net", "reader@"] {
        api.post("/accounts", &registration(odd, PASSWORD)).refused(422, "not-an-address").await;
    }
    let body = json!({ "email": email.to_uppercase(), "password": PASSWORD });
    api.post("/sessions", &body).expect(200).await;
}

/// S3: 15 to 256 code points, no common ones, no words that anybody would guess, nothing cut off.
#[tokio::test]
async fn passwords_are_long_and_not_guessable() {
    let (api, _) = shared().await;
    let email = address();
    let refused = [
        ("fourteen chars", "too-short"),
        ("⛳⛳⛳⛳⛳⛳⛳⛳⛳⛳⛳⛳⛳⛳", "too-short"),
        (&"x1".repeat(129)[..257], "too-long"),
        ("passwordpassword", "common"),
        ("1234 evenfield 1234", "context-word"),
        ("!! Rosa Fairley !!", "context-word"),
        (&format!("{email}!"), "context-word"),
    ];
    for (password, rule) in refused {
        let seen = api.post("/accounts", &registration(&email, password)).refused(422, "password-refused").await;
        assert_eq!(seen.faults(), [("/password".into(), rule.into())], "{password:?}");
    }
    // Fifteen code points, blanks and no ASCII at all are fine; what is refused is the whole password, not a part.
    for password in ["exactly fifteen", "⛳🏌🏽 ⛳🏌🏽 ⛳🏌🏽 ⛳🏌🏽 ⛳", "my evenfield is far away"]
    {
        api.post("/accounts", &registration(&address(), password)).expect(201).await;
    }
    let long = "ab cd ".repeat(33) + "ef";
    api.post("/accounts", &registration(&email, &long)).expect(201).await;
    let other_end = format!("{}g", &long[..long.len() - 1]);
    api.post("/sessions", &json!({ "email": email, "password": other_end })).expect(401).await;
    api.post("/sessions", &json!({ "email": email, "password": long })).expect(200).await;
}

/// A flood of registrations turns away no sign-in: each has a queue of its own.
#[tokio::test]
async fn registrations_turn_away_no_sign_in() {
    let api = own();
    let people = join_all((0..12).map(|n| {
        let api = api.clone();
        async move { api.person(&format!("Early{n}")).await }
    }));
    let people = people.await;
    let flood = (0..300).map(|_| {
        let call = api.post("/accounts", &registration(&address(), PASSWORD));
        async move { call.send().await.status }
    });
    let sign_ins = people.iter().map(|person| {
        let call = api.post("/sessions", &json!({ "email": person.email, "password": PASSWORD }));
        async move { call.send().await.status }
    });
    // As many at once as one address has connections for on any machine.
    let flood = stream::iter(flood).buffer_unordered(100).collect::<Vec<u16>>();
    let (flood, sign_ins) = futures_util::future::join(flood, join_all(sign_ins)).await;
    assert!(flood.iter().all(|status| matches!(status, 201 | 503)), "{flood:?}");
    assert_eq!(sign_ins, [200; 12]);
}

/// What can be refused without hashing a password is refused although no password can be hashed.
#[tokio::test]
async fn a_registration_that_cannot_succeed_waits_for_no_hash() {
    let api = Api::new(Server::start(Settings { registration: Registration::Invited, ..Settings::default() }));
    let code = || async { api.server.app.leagues.operator_code(None).await.expect("a code") };
    let (first, second) = (code().await, code().await);
    let invited = |email: &str, code: &str| {
        let mut body = registration(email, PASSWORD);
        body["invitation"] = code.into();
        api.post("/accounts", &body)
    };
    let email = address();
    invited(&email, &first).expect(201).await;
    // From here on every place for a new password is taken.
    let hasher = &api.server.app.door.hasher;
    let first_in_turn = hasher.turn(Purpose::NewPassword).await.expect("a place");
    let mut waiting = Vec::new();
    loop {
        let mut next = Box::pin(hasher.turn(Purpose::NewPassword));
        match tokio::time::timeout(Duration::ZERO, &mut next).await {
            Err(_) => waiting.push(next),
            Ok(turn) => break assert!(turn.is_err(), "one is hashed at a time"),
        }
    }
    invited(&address(), "abcdefghijklmnopqrstuvwxyz").refused(404, "not-found").await;
    invited(&address(), &first).refused(410, "code-spent").await;
    invited(&email, &second).refused(409, "account-exists").await;
    invited("reader", &second).refused(422, "not-an-address").await;
    api.post("/accounts", &registration(&address(), PASSWORD)).refused(403, "registration-closed").await;
    invited(&address(), &second).refused(503, "temporary-reduced-capacity").await;
    drop((waiting, first_in_turn));
    invited(&address(), &second).expect(201).await;
}

/// S5, S6: guessing codes and asking which addresses have an account is slowed as guessing passwords is.
#[tokio::test]
async fn registrations_that_fail_are_slowed() {
    let api = Api::new(Server::start(Settings { registration: Registration::Invited, ..Settings::default() }));
    let guess = || {
        let mut body = registration(&address(), PASSWORD);
        body["invitation"] = "abcdefghijklmnopqrstuvwxyz".into();
        api.post("/accounts", &body)
    };
    for _ in 0..20 {
        guess().refused(404, "not-found").await;
    }
    let seen = guess().refused(429, "quota-exceeded").await;
    assert_eq!(seen.header("retry-after"), "1");
    api.server.pass(1);
    guess().refused(404, "not-found").await;
    // Whoever signs in there is not slowed by it.
    let body = json!({ "email": address(), "password": PASSWORD });
    api.post("/sessions", &body).refused(401, "unauthenticated").await;

    let api = own();
    let ann = api.person("Ann").await;
    for _ in 0..5 {
        api.post("/accounts", &registration(&ann.email, PASSWORD)).refused(409, "account-exists").await;
    }
    api.post("/accounts", &registration(&ann.email, PASSWORD)).refused(429, "quota-exceeded").await;
    api.sign_in(&ann.email).await;
}

/// S7: a wrong password and an unknown address are answered alike.
#[tokio::test]
async fn a_failed_sign_in_does_not_tell_which_part_was_wrong() {
    let (api, cast) = shared().await;
    let wrong = json!({ "email": cast.ben.email, "password": "not the one of Ben's" });
    let unknown = json!({ "email": address(), "password": "not the one of Ben's" });
    let known = api.post("/sessions", &wrong).refused(401, "unauthenticated").await;
    let unknown = api.post("/sessions", &unknown).refused(401, "unauthenticated").await;
    assert_eq!(without_instance(known.json()), without_instance(unknown.json()));
    let names =
        |seen: &crate::support::harness::Seen| seen.headers.keys().map(|name| name.to_string()).collect::<Vec<_>>();
    assert_eq!(names(&known), names(&unknown));
}

async fn refresh(api: &Api, token: &str) -> crate::support::harness::Seen {
    api.post("/sessions/refresh", &json!({ "refresh_token": token })).send().await
}

async fn refreshed(api: &Api, token: &str) -> String {
    let seen = refresh(api, token).await;
    assert_eq!(seen.status, 200, "{seen}");
    text(&seen.json(), "refresh_token")
}

/// S11: a lost answer is given again; later use of a spent token ends the whole family.
#[tokio::test]
async fn a_refresh_token_rotates_with_a_minutes_grace() {
    let api = own();
    let ann = api.person("Ann").await;
    let second = refreshed(&api, &ann.refresh).await;
    assert_ne!(second, ann.refresh);
    api.server.pass(59);
    assert_eq!(refreshed(&api, &ann.refresh).await, second, "the lost answer is given again");
    let third = refreshed(&api, &second).await;
    // Its successor is spent: whoever presents the first one now is a second party.
    for dead in [&ann.refresh, &third, &second] {
        assert_eq!(refresh(&api, dead).await.status, 401);
    }
    api.get("/me").by(&ann).refused(401, "unauthenticated").await;

    let again = api.sign_in(&ann.email).await;
    let second = refreshed(&api, &again.refresh).await;
    api.server.pass(61);
    assert_eq!(refresh(&api, &again.refresh).await.status, 401, "the grace is over");
    assert_eq!(refresh(&api, &second).await.status, 401, "and the family with it");
    for odd in ["efr_", "nothing", &ann.token] {
        let body = json!({ "refresh_token": odd });
        let seen = api.post("/sessions/refresh", &body).send().await;
        assert!(matches!(seen.status, 401 | 422), "{seen}");
    }
}

/// S11: twenty at once get one successor, never a fork.
#[tokio::test]
async fn twenty_refreshes_at_once_get_one_successor() {
    let api = own();
    let ann = api.person("Ann").await;
    let answers = join_all((0..20).map(|_| refreshed(&api, &ann.refresh))).await;
    assert!(answers.windows(2).all(|pair| pair[0] == pair[1]), "{answers:?}");
}

/// S12: a session that nobody uses for 14 days is over.
#[tokio::test]
async fn a_session_ends_after_a_fortnight_of_silence() {
    let api = own();
    let ann = api.person("Ann").await;
    api.server.pass(13 * 86_400);
    let second = refreshed(&api, &ann.refresh).await;
    api.server.pass(14 * 86_400 + 1);
    assert_eq!(refresh(&api, &second).await.status, 401);
}

/// S9, S12: signing out ends the access token at once, and other sessions go on.
#[tokio::test]
async fn signing_out_ends_the_session_at_once() {
    let api = own();
    let ann = api.person("Ann").await;
    let phone = api.sign_in(&ann.email).await;
    api.delete("/sessions/current").by(&ann).expect(204).await;
    api.get("/me").by(&ann).refused(401, "unauthenticated").await;
    assert_eq!(refresh(&api, &ann.refresh).await.status, 401);
    api.get("/me").by(&phone).expect(200).await;
}

/// S9: what is no access token of ours is refused, whatever it looks like.
#[tokio::test]
async fn forged_access_tokens_are_refused() {
    let api = own();
    let ann = api.person("Ann").await;
    let parts: Vec<&str> = ann.token.split('.').collect();
    let [header, claims, signature] = parts[..] else { panic!("a JWT has three parts") };
    let encode = |json: &Value| data_encoding::BASE64URL_NOPAD.encode(json.to_string().as_bytes());
    let decode = |part: &str| -> Value {
        serde_json::from_slice(&data_encoding::BASE64URL_NOPAD.decode(part.as_bytes()).expect("base64")).expect("JSON")
    };
    let with_header = |name: &str, value: Value| {
        let mut json = decode(header);
        json[name] = value;
        encode(&json)
    };
    let with_claim = |name: &str, value: Value| {
        let mut json = decode(claims);
        json[name] = value;
        encode(&json)
    };
    let mut forged: Vec<String> = vec![
        String::new(),
        ".".into(),
        "..".into(),
        format!("{header}.{claims}"),
        format!("{header}.{claims}."),
        format!("{header}.{claims}.{signature}.{signature}"),
        format!("{header}.{claims}.{}", signature.chars().rev().collect::<String>()),
        ann.refresh.clone(),
        format!("{header}.{}.{signature}", encode(&json!({}))),
        format!("{}.{claims}.{signature}", with_header("kid", json!("x".repeat(10_000)))),
    ];
    for alg in ["none", "NoNe", "HS384", "RS256", "ES256"] {
        let header = with_header("alg", json!(alg));
        forged.extend([format!("{header}.{claims}."), format!("{header}.{claims}.{signature}")]);
    }
    for kid in ["../../etc/passwd", "' OR 1=1", ""] {
        forged.push(format!("{}.{claims}.{signature}", with_header("kid", json!(kid))));
    }
    for name in ["exp", "nbf", "aud", "iss", "sub", "sid"] {
        for value in [Value::Null, json!("never"), json!({}), json!(9_999_999_999_i64)] {
            forged.push(format!("{header}.{}.{signature}", with_claim(name, value)));
        }
    }
    for token in forged {
        let seen = api.get("/me").with("authorization", &format!("Bearer {token}")).send().await;
        assert_eq!(seen.status, 401, "{token:?}: {seen}");
    }
    for scheme in ["Basic", "Token", "Bearer:"] {
        let seen = api.get("/me").with("authorization", &format!("{scheme} {}", ann.token)).expect(401).await;
        assert_eq!(seen.header("www-authenticate"), "Bearer");
    }
    // A token in the address would stand in logs and histories: it opens nothing.
    let seen = api.get(format!("/me?access_token={}", ann.token)).send().await;
    assert!(matches!(seen.status, 400 | 401), "{seen}");
    // Two of them: neither counts.
    api.get("/me").by(&ann).by(&ann).expect(401).await;
    api.get("/me").by(&ann).expect(200).await;
    // Ten minutes and five seconds of leeway.
    api.server.pass(604);
    api.get("/me").by(&ann).expect(200).await;
    api.server.pass(2);
    api.get("/me").by(&ann).expect(401).await;
}

/// S5: after five failures a wait, told in `Retry-After`; the right password from another network works.
#[tokio::test]
async fn guessing_is_slowed_and_the_holder_is_not_locked_out() {
    let api = Api::new(Server::start(Settings { behind_proxy: true, ..Settings::default() }));
    let (ann, ben) = (api.person("Ann").await, api.person("Ben").await);
    let sign_in = |person: &Person, password: &str, from: &str| {
        let body = json!({ "email": person.email, "password": password });
        api.post("/sessions", &body).with("x-forwarded-for", from).send()
    };
    for _ in 0..5 {
        assert_eq!(sign_in(&ann, "not the one of Ann's", "192.0.2.7").await.status, 401);
    }
    let slowed = sign_in(&ann, PASSWORD, "192.0.2.7").await;
    assert_eq!((slowed.status, slowed.header("retry-after")), (429, "1"), "{slowed}");
    // A venue is one address (S6): others sign in from there.
    assert_eq!(sign_in(&ben, PASSWORD, "192.0.2.7").await.status, 200);
    // The proxy's word counts, not what the client wrote in front of it.
    assert_eq!(sign_in(&ann, PASSWORD, "203.0.113.9, 192.0.2.7").await.status, 429);
    assert_eq!(sign_in(&ann, PASSWORD, "192.0.2.8").await.status, 200);
    api.server.pass(1);
    assert_eq!(sign_in(&ann, PASSWORD, "192.0.2.7").await.status, 200, "every wait ends");
    // And with a success its failures are forgotten.
    for _ in 0..5 {
        assert_eq!(sign_in(&ann, "not the one of Ann's", "192.0.2.7").await.status, 401);
    }
    assert_eq!(sign_in(&ann, PASSWORD, "192.0.2.7").await.status, 429);
}

/// S26: an account that asks too much is told to wait; another is not.
#[tokio::test]
async fn an_account_that_asks_too_much_waits() {
    let allowance = evenfield::http::quota::Allowance {
        reads: 3.0,
        reads_per_minute: 60.0,
        writes: 2.0,
        writes_per_minute: 60.0,
        ..evenfield::http::quota::Allowance::default()
    };
    let api = Api::new(Server::start(Settings { allowance, ..Settings::default() }));
    let (ann, ben) = (api.person("Ann").await, api.person("Ben").await);
    for left in [2, 1, 0] {
        let seen = api.get("/me").by(&ann).expect(200).await;
        assert_eq!(seen.header("ratelimit-policy"), "\"read\";q=3;w=3", "(A8)");
        assert_eq!(seen.header("ratelimit"), format!("\"read\";r={left};t=1"), "(A8)");
    }
    let slowed = api.get("/me").by(&ann).refused(429, "quota-exceeded").await;
    assert_eq!(slowed.header("retry-after"), "1");
    assert_eq!(slowed.header("ratelimit"), "\"read\";r=0;t=1");
    api.get("/me").by(&ben).expect(200).await;
    // Writes are counted apart.
    let seen = api.post("/leagues", &json!({ "name": "Ours", "time_zone": "UTC" })).by(&ann).expect(201).await;
    assert_eq!(seen.header("ratelimit-policy"), "\"write\";q=2;w=2");
    assert_eq!(seen.header("ratelimit"), "\"write\";r=1;t=1");
    let outside = api.get("/openapi.json").expect(200).await;
    assert_eq!(outside.header("ratelimit"), "", "nobody's requests are not counted");
    api.server.pass(1);
    api.get("/me").by(&ann).expect(200).await;
}

#[tokio::test]
async fn registration_by_invitation_takes_a_code() {
    let api = Api::new(Server::start(Settings { registration: Registration::Invited, ..Settings::default() }));
    let email = address();
    let with_code = |code: &str, email: &str| {
        let mut body = registration(email, PASSWORD);
        body["invitation"] = json!(code);
        api.post("/accounts", &body)
    };
    api.post("/accounts", &registration(&email, PASSWORD)).refused(403, "registration-closed").await;
    with_code("abcdefghijklmnopqrstuvwxyz", &email).refused(404, "not-found").await;
    with_code("no code", &email).refused(404, "not-found").await;
    let code = api.server.app.leagues.operator_code(None).await.expect("a code");
    // As somebody reads it out.
    let read_out = format!("{} {}-{}", code[..4].to_uppercase(), &code[4..9], &code[9..]);
    with_code(&read_out, &email).expect(201).await;
    with_code(&code, &address()).refused(410, "code-spent").await;
    let rosa = api.sign_in(&email).await;
    // A league's invitation lets its reader register and then join.
    let (league, _) = api.found(&rosa).await;
    let path = format!("/leagues/{league}/invitations");
    let code = text(&api.post(path, &json!({ "role": "player" })).by(&rosa).expect(201).await.json(), "code");
    let email = address();
    with_code(&code, &email).expect(201).await;
    let reader = api.sign_in(&email).await;
    api.call("POST", &format!("/invitations/{code}/acceptance?confirm=name")).by(&reader).expect(201).await;
    with_code(&code, &address()).refused(410, "code-spent").await;
}

#[tokio::test]
async fn closed_registration_lets_nobody_in() {
    let api = Api::new(Server::start(Settings { registration: Registration::Closed, ..Settings::default() }));
    let code = api.server.app.leagues.operator_code(None).await.expect("a code");
    let mut body = registration(&address(), PASSWORD);
    api.post("/accounts", &body).refused(403, "registration-closed").await;
    body["invitation"] = json!(code);
    api.post("/accounts", &body).refused(403, "registration-closed").await;
}

/// S15: of fifty acceptances at once one succeeds.
#[tokio::test]
async fn an_invitation_is_used_once() {
    let (api, cast) = shared().await;
    let (league, _) = api.found(&cast.olga).await;
    let path = format!("/leagues/{league}/invitations");
    let made = api.post(&path, &json!({ "role": "scorer" })).by(&cast.olga).expect(201).await;
    assert_eq!(made.header("cache-control"), "no-store");
    let at = format!("/invitations/{}/acceptance", text(&made.json(), "code"));
    let people = [&cast.sam, &cast.ann, &cast.ben, &cast.otto];
    let calls = (0..50).map(|n| api.call("POST", &at).by(people[n % people.len()]).send());
    let answers = join_all(calls).await;
    assert_eq!(answers.iter().filter(|seen| seen.status == 201).count(), 1);
    for seen in answers.iter().filter(|seen| seen.status != 201) {
        assert!(matches!(seen.status, 409 | 410), "{seen}");
    }
    let members = api.get(format!("/leagues/{league}/members")).by(&cast.olga).expect(200).await.json();
    let roles: Vec<&str> =
        members["items"].as_array().expect("items").iter().filter_map(|m| m["role"].as_str()).collect();
    assert_eq!(roles, ["organizer", "scorer"]);
    api.call("POST", "/invitations/abcdefghijklmnopqrstuvwxyz/acceptance")
        .by(&cast.ann)
        .refused(404, "not-found")
        .await;
    api.call("POST", "/invitations/0/acceptance").by(&cast.ann).refused(404, "not-found").await;
}

/// S15: an invitation runs out; reading its address uses nothing up.
#[tokio::test]
async fn an_invitation_runs_out() {
    let api = own();
    let (ann, ben) = (api.person("Ann").await, api.person("Ben").await);
    let (league, _) = api.found(&ann).await;
    let path = format!("/leagues/{league}/invitations");
    let body = json!({ "role": "player", "expires_in_h": 1 });
    let made = api.post(&path, &body).by(&ann).expect(201).await.json();
    assert_eq!(text(&made, "expires_at"), "2027-01-14T20:00:00Z");
    let usual = api.post(&path, &json!({ "role": "player" })).by(&ann).expect(201).await.json();
    assert_eq!(text(&usual, "expires_at"), "2027-01-28T19:00:00Z", "14 days unless said (S15)");
    let at = format!("/invitations/{}/acceptance", text(&made, "code"));
    api.call("GET", &at).by(&ben).refused(405, "method-not-allowed").await;
    api.server.pass(3600);
    let ben = api.sign_in(&ben.email).await;
    api.call("POST", &at).by(&ben).refused(410, "code-spent").await;
    let at = format!("/invitations/{}/acceptance", text(&usual, "code"));
    api.call("POST", &at).by(&ben).expect(201).await;
}

/// A revoked code is refused as one that nobody made; it is no longer listed, and stands in the journal.
#[tokio::test]
async fn an_invitation_is_revoked() {
    let api = own();
    let (olga, ann, otto) = (api.person("Olga").await, api.person("Ann").await, api.person("Otto").await);
    let (league, _) = api.found(&olga).await;
    let path = format!("/leagues/{league}/invitations");
    let made = |role: &str| api.post(&path, &json!({ "role": role })).by(&olga).expect(201);
    let (first, second) = (made("player").await.json(), made("scorer").await.json());
    let open = async || api.get(&path).by(&olga).expect(200).await.json();
    let mut listed = first.clone();
    assert!(listed.as_object_mut().expect("an invitation").remove("code").is_some());
    let seen = open().await;
    assert_eq!((seen["items"].as_array().map(Vec::len), &seen["items"][0]), (Some(2), &listed), "without its code");
    let page = api.get(format!("{path}?limit=1")).by(&olga).expect(200).await.json();
    assert_eq!((page["items"].as_array().map(Vec::len), page["next"].is_null()), (Some(1), false));

    let at = format!("/invitations/{}", text(&first, "id"));
    let accept = |made: &Value| format!("/invitations/{}/acceptance", text(made, "code"));
    api.delete(&at).by(&otto).refused(404, "not-found").await;
    api.delete(format!("/invitations/{}", id())).by(&olga).refused(404, "not-found").await;
    api.delete(&at).by(&olga).expect(204).await;
    api.delete(&at).by(&olga).refused(404, "not-found").await;
    let (revoked, unknown) = (accept(&first), "/invitations/abcdefghijklmnopqrstuvwxyz/acceptance");
    let answer =
        async |path: &str| api.call("POST", path).by(&ann).refused(404, "not-found").await.json()["detail"].clone();
    assert_eq!(answer(&revoked).await, answer(unknown).await);
    assert_eq!(open().await["items"].as_array().map(Vec::len), Some(1));
    let journal = api.get(format!("/leagues/{league}/journal")).by(&olga).expect(200).await.json();
    let acts: Vec<&Value> = journal["items"].as_array().expect("entries").iter().map(|item| &item["act"]).collect();
    assert_eq!(acts.iter().filter(|act| **act == "revoke").count(), 1, "{acts:?}");

    // One that was taken up, or ran out, is not revoked.
    api.call("POST", &accept(&second)).by(&ann).expect(201).await;
    api.delete(format!("/invitations/{}", text(&second, "id"))).by(&olga).refused(410, "code-spent").await;
    let third = made("player").await.json();
    api.server.pass(14 * 86_400);
    let olga = api.sign_in(&olga.email).await;
    api.delete(format!("/invitations/{}", text(&third, "id"))).by(&olga).refused(410, "code-spent").await;
    assert_eq!(api.get(&path).by(&olga).expect(200).await.json()["items"], json!([]));
    let whole = super::journal_bundle::bundle(&api, &league, &olga).await;
    super::journal_bundle::import(&own().server.app.leagues, &whole).await;
}

/// A member without an account claims the record with an invitation that names it.
#[tokio::test]
async fn an_invitation_claims_a_record() {
    let (api, cast) = shared().await;
    let (league, olga) = api.found(&cast.olga).await;
    let path = format!("/leagues/{league}/members");
    let walter = json!({ "display_name": "Walter", "starting_handicap": 18.4 });
    let walter = api.post(path, &walter).by(&cast.olga).key(&id()).expect(201).await;
    assert_eq!(walter.json()["has_account"], false);
    let path = format!("/leagues/{league}/invitations");
    let claim = json!({ "role": "player", "member_id": walter.id() });
    let made = api.post(&path, &claim).by(&cast.olga).expect(201).await.json();
    let second = api.post(&path, &claim).by(&cast.olga).expect(201).await.json();
    let at = format!("/invitations/{}/acceptance", text(&made, "code"));
    let claimed = api.call("POST", &at).by(&cast.ann).expect(201).await;
    let json = claimed.json();
    assert_eq!((claimed.id(), &json["has_account"]), (walter.id(), &json!(true)));
    assert_eq!((text(&json, "display_name"), &json["starting_handicap"]), ("Walter".into(), &json!(18.4)));
    let me = api.get("/me").by(&cast.ann).expect(200).await.json();
    let here = me["memberships"].as_array().expect("a list").iter().find(|at| at["league_id"] == league.as_str());
    assert_eq!(here.expect("a membership")["member_id"], walter.id());
    api.post(&path, &claim).by(&cast.olga).refused(409, "already-member").await;
    // A second code for it finds the record claimed, and is not used up by trying.
    let at = format!("/invitations/{}/acceptance", text(&second, "code"));
    api.call("POST", &at).by(&cast.ben).refused(409, "already-member").await;
    api.call("POST", &at).by(&cast.ben).refused(409, "already-member").await;
    let claim = json!({ "role": "player", "member_id": olga });
    api.post(&path, &claim).by(&cast.olga).refused(409, "already-member").await;
}

/// The holder ends the account; the record stays with its numbers, and the address is free again.
#[tokio::test]
async fn an_account_is_ended_by_its_holder() {
    let (api, cast) = shared().await;
    let leaver = api.person("Leaver").await;
    let (league, _) = api.found(&cast.olga).await;
    let record = api.join(&league, &cast.olga, &leaver, "scorer").await;
    api.delete("/me").by(&leaver).expect(204).await;
    api.get("/me").by(&leaver).expect(401).await;
    assert_eq!(refresh(&api, &leaver.refresh).await.status, 401);
    let body = json!({ "email": leaver.email, "password": PASSWORD });
    api.post("/sessions", &body).refused(401, "unauthenticated").await;
    let stays = api.get(format!("/members/{record}")).by(&cast.olga).expect(200).await.json();
    assert_eq!((&stays["has_account"], &stays["role"]), (&json!(false), &json!("player")));
    api.post("/accounts", &registration(&leaver.email, PASSWORD)).expect(201).await;
    let again = api.sign_in(&leaver.email).await;
    api.get(format!("/leagues/{league}")).by(&again).refused(404, "not-found").await;
}

/// Whoever loses the right to invite does not come back by a code from before, nor does anybody else: not after a
/// demotion, an erasure or the end of the account. Codes that others made go on.
#[tokio::test]
async fn a_code_ends_with_the_right_to_make_it() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (finding, _) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let path = format!("/leagues/{}/invitations", night.league);
    let made = async |by: &Person, body: Value| text(&api.post(&path, &body).by(by).expect(201).await.json(), "code");
    let accepted = |code: &str| format!("/invitations/{code}/acceptance");
    let lasting = made(&cast.olga, json!({ "role": "organizer" })).await;
    for ending in ["demoted", "erased", "ended"] {
        let leaver = api.person(ending).await;
        let record = api.join(&night.league, &cast.olga, &leaver, "organizer").await;
        let codes = [
            made(&leaver, json!({ "role": "organizer" })).await,
            made(&leaver, json!({ "role": "player" })).await,
            made(&leaver, json!({ "role": "reviewer", "finding_id": finding })).await,
        ];
        let record = format!("/members/{record}");
        match ending {
            "demoted" => {
                let scorer = json!({ "role": "scorer" });
                api.patch(&record, &scorer).by(&cast.olga).matching("*").expect(200).await;
            }
            "erased" => drop(api.delete(&record).by(&cast.olga).matching("*").expect(204).await),
            _ => drop(api.delete("/me").by(&leaver).expect(204).await),
        }
        for code in &codes {
            api.call("POST", &accepted(code)).by(&cast.otto).refused(404, "not-found").await;
        }
        if ending == "erased" {
            api.call("POST", &accepted(&codes[0])).by(&leaver).refused(404, "not-found").await;
        }
        let open = api.get(&path).by(&cast.olga).expect(200).await.json();
        assert_eq!(open["items"].as_array().map(Vec::len), Some(1), "{ending}: {open}");
    }
    // A code for a record gives the role that it named: it ends where the record may do less.
    let members = format!("/leagues/{}/members", night.league);
    let walter = json!({ "display_name": "Walter" });
    let walter = api.post(members, &walter).by(&cast.olga).key(&id()).expect(201).await.id();
    let becomes = async |role: &str| {
        let body = json!({ "role": role });
        api.patch(format!("/members/{walter}"), &body).by(&cast.olga).matching("*").expect(200).await;
    };
    becomes("organizer").await;
    let claim = made(&cast.olga, json!({ "role": "organizer", "member_id": walter })).await;
    becomes("player").await;
    api.call("POST", &accepted(&claim)).by(&cast.otto).refused(404, "not-found").await;
    api.call("POST", &accepted(&lasting)).by(&cast.otto).expect(201).await;
}
