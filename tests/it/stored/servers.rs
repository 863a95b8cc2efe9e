//! Two servers share one database: whoever talks to one sees what was done on the other.

use crate::support::harness::{Api, PATIENCE, Server, Settings, id, own, round, shared, text};
use crate::support::store::{self, TestStore};
use evenfield::domain::ids::EventId;
use futures_util::future::join_all;
use serde_json::json;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

fn two() -> (Api, Api) {
    let one = own();
    let other = Api::new(one.server.beside());
    (one, other)
}

#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn servers_start_together_on_an_empty_database() {
    let store = Arc::new(TestStore::unopened(&store::server().expect("a server")));
    let starting: Vec<_> = (0..4)
        .map(|_| {
            let store = store.clone();
            std::thread::spawn(move || Server::start_on(store, Settings::default()))
        })
        .collect();
    let servers: Vec<Api> = starting.into_iter().map(|server| Api::new(server.join().expect("it starts"))).collect();
    let person = servers[0].person("Nora").await;
    for server in &servers {
        server.get("/me").by(&person).expect(200).await;
    }
}

#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn what_one_server_did_the_other_knows() {
    let (one, other) = two();
    let cast = one.cast().await;
    let night = other.night(&cast).await;
    // Both keep the league's book in memory: each has to see that the other laid something down.
    for n in 0..4 {
        let (writes, reads) = if n % 2 == 0 { (&one, &other) } else { (&other, &one) };
        let event = writes.event(&cast, &night, json!({ "name": format!("Night {n}") })).await;
        let sent = reads.hand_in(&event, &cast.ann, &round(&night.ann)).await;
        assert_eq!(sent.status, 201, "{}", sent.text());
        assert_eq!(writes.rounds(&event, &cast.olga).await, 1);
        let table = format!("/seasons/{}/standings", night.season);
        let tables =
            [one.get(&table).by(&cast.ann).expect(200).await, other.get(&table).by(&cast.ann).expect(200).await];
        assert_eq!(tables[0].text(), tables[1].text());
        assert_eq!(tables[0].etag(), tables[1].etag());
    }
    // A token that one server spent is spent on the other.
    let again = other.post("/sessions/refresh", &json!({ "refresh_token": cast.ben.refresh })).send().await;
    let same = one.post("/sessions/refresh", &json!({ "refresh_token": cast.ben.refresh })).send().await;
    assert_eq!((again.status, same.status), (200, 200));
    assert_eq!(again.json()["refresh_token"], same.json()["refresh_token"], "one token rotated twice");
    let found = other.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
}

#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn a_board_moves_when_a_round_lands_on_another_server() {
    let (one, other) = two();
    let cast = one.cast().await;
    let night = one.night(&cast).await;
    let event = EventId(night.event.parse().expect("an id"));
    let (mut here, mut there) =
        (one.server.app.leagues.boards.subscribe(), other.server.app.leagues.boards.subscribe());
    // The other server listens from when it was started, which is a moment after it answers.
    let mut tries = 0;
    loop {
        one.server.app.leagues.boards.moved(event);
        match tokio::time::timeout(Duration::from_millis(300), there.recv()).await {
            Ok(_) => break,
            Err(_) if tries < 1_000 => tries += 1,
            Err(_) => panic!("the other server never heard of the board"),
        }
    }
    tokio::time::sleep(Duration::from_millis(400)).await;
    while there.try_recv().is_ok() || here.try_recv().is_ok() {}

    one.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let heard = tokio::time::timeout(PATIENCE, there.recv()).await.expect("news");
    assert_eq!(heard.expect("news"), event);
    tokio::time::sleep(Duration::from_millis(400)).await;
    assert_eq!(here.try_recv().expect("its own news"), event);
    assert!(here.try_recv().is_err(), "a server hears its own news twice");
}

/// Every round is sent to both servers at once, twice each: it counts once, and the league's journal stays one chain.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn the_same_rounds_sent_to_both_servers_count_once() {
    const EVENTS: usize = 6;
    let (one, other) = two();
    let cast = one.cast().await;
    let night = one.night(&cast).await;
    let mut sends = Vec::new();
    let mut events = Vec::new();
    for n in 0..EVENTS {
        let event = one.event(&cast, &night, json!({ "name": format!("Night {n}") })).await;
        for (person, member) in [(&cast.ann, &night.ann), (&cast.ben, &night.ben)] {
            let (card, key) = (round(member), id());
            for api in [&one, &other, &one, &other] {
                sends.push(api.post(format!("/events/{event}/rounds"), &card).by(person).key(&key));
            }
        }
        events.push(event);
    }
    for seen in join_all(sends.into_iter().map(|call| call.send())).await {
        assert!([200, 201].contains(&seen.status), "{} {}", seen.status, seen.text());
    }
    for event in &events {
        assert_eq!(one.rounds(event, &cast.olga).await, 2);
    }
    let found = one.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
    let board = format!("/events/{}/board", events[0]);
    let boards = [one.get(&board).by(&cast.ann).expect(200).await, other.get(&board).by(&cast.ann).expect(200).await];
    assert_eq!(boards[0].text(), boards[1].text());
}

/// What a form can carry and PostgreSQL cannot hold is refused before it gets there, on SQLite too.
#[tokio::test]
async fn a_form_holds_no_nul() {
    let (api, _) = shared().await;
    let form = "email=a%00b@example.org&password=nine+quiet+greens";
    let client = reqwest::Client::new();
    let request = client.post(format!("http://{}/sign-in", api.server.address)).header("sec-fetch-site", "same-origin");
    let request = request.header("content-type", "application/x-www-form-urlencoded").body(form);
    assert_eq!(request.send().await.expect("an answer").status(), 400);
}

/// Leagues founded at once through both servers, and one code used on both.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn a_key_and_a_code_count_once_on_two_servers() {
    let (one, other) = two();
    let cast = one.cast().await;
    for n in 0..8 {
        let (key, body) = (id(), json!({ "name": format!("League {n}"), "time_zone": "Europe/Zurich" }));
        let calls = [&one, &other, &one, &other].map(|api| api.post("/leagues", &body).by(&cast.olga).key(&key).send());
        let seen = join_all(calls).await;
        let ids: Vec<_> = seen.iter().map(|seen| seen.id()).collect();
        assert!(ids.iter().all(|id| *id == ids[0]), "one key founded several leagues: {ids:?}");
        let path = format!("/leagues/{}/invitations", ids[0]);
        let code = one.post(path, &json!({ "role": "player" })).by(&cast.olga).key(&id()).expect(201).await;
        let path = format!("/invitations/{}/acceptance", text(&code.json(), "code"));
        let people = [(&one, &cast.ann), (&other, &cast.ben), (&one, &cast.sam), (&other, &cast.otto)];
        let seen = join_all(people.map(|(api, person)| api.call("POST", &path).by(person).send())).await;
        let joined = seen.iter().filter(|seen| seen.status == 201).count();
        assert_eq!(joined, 1, "{:?}", seen.iter().map(|seen| seen.status).collect::<Vec<_>>());
    }
}

/// Connections are cut ten times while rounds come in: whoever is told 503 sends the same again, and each round
/// counts once.
#[tokio::test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
async fn rounds_come_in_while_connections_are_cut() {
    const EVENTS: usize = 10;
    let (one, other) = two();
    let cast = one.cast().await;
    let night = one.night(&cast).await;
    let mut events = Vec::new();
    for n in 0..EVENTS {
        events.push(one.event(&cast, &night, json!({ "name": format!("Night {n}") })).await);
    }
    let store = one.server.store.clone();
    let is_over = Arc::new(AtomicBool::new(false));
    let seen = is_over.clone();
    let cutting = std::thread::spawn(move || {
        let mut cuts = 0;
        while cuts < 10 && !seen.load(Ordering::SeqCst) {
            store.cut();
            cuts += 1;
            std::thread::sleep(Duration::from_millis(100));
        }
        cuts
    });
    let busy = AtomicUsize::new(0);
    let sends = events.iter().flat_map(|event| [(event, &cast.ann, &night.ann), (event, &cast.ben, &night.ben)]);
    let sends = sends.enumerate().map(|(n, (event, person, member))| {
        let (apis, busy) = ([&one, &other], &busy);
        async move {
            let (card, key) = (round(member), id());
            for attempt in 0..2_000 {
                let api = apis[(n + attempt) % 2];
                let seen = api.post(format!("/events/{event}/rounds"), &card).by(person).key(&key).once().await;
                match seen.status {
                    200 | 201 => return,
                    503 => busy.fetch_add(1, Ordering::SeqCst),
                    status => panic!("{status} {}", seen.text()),
                };
                tokio::time::sleep(Duration::from_millis(20 + attempt.min(200) as u64)).await;
            }
            panic!("a round never came in");
        }
    });
    join_all(sends).await;
    is_over.store(true, Ordering::SeqCst);
    let cuts = cutting.join().expect("it cuts");
    assert!(cuts > 1 && busy.load(Ordering::SeqCst) > 0, "{cuts} cuts hit nothing");
    for event in &events {
        assert_eq!(other.rounds(event, &cast.olga).await, 2);
    }
    let found = one.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
}
