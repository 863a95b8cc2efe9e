//! Two servers over PostgreSQL of which one is killed (F1), a PostgreSQL that stops and starts again (F13), and one that
//! takes only reads.

use super::checker::passes;
use super::kills::kill_often;
use super::phones::{self, Crowd, World};
use super::program::Program;
use super::store::{self, TestStore};
use super::{alone, amount, bound, chance::Chance};
use std::process::Command;
use std::time::{Duration, Instant};
use tempfile::TempDir;

#[test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
fn phones_go_to_the_other_server_when_one_is_killed() {
    alone(|seed| async move {
        let kills = amount(4, 100);
        let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
        let (database, folder) = (store.url(), TempDir::new().unwrap());
        let mut servers =
            [Program::start(&database, folder.path()).await, Program::start(&database, folder.path()).await];
        let origins = servers.each_ref().map(Program::origin);
        let world = World::found(&origins[0], 32, 10, amount(40, 150)).await;
        let mut crowd = Crowd::start(&world, &origins, folder.path(), seed);
        kill_often(&mut servers, &mut crowd, &mut Chance::new(seed, 0), kills).await;
        let unanswered = crowd.finish().await;
        let acks = passes(&world, &database, &origins[1], folder.path()).await;
        assert!(unanswered > 0, "nothing was hit");
        println!("F1 on PostgreSQL: {kills} kills, {acks} rounds acknowledged; lost or doubled {}", bound(acks));
    });
}

/// Stops or starts the only cluster that there is: the one that `pg_virtualenv` made.
async fn cluster(words: &'static [&'static str]) {
    let done = tokio::task::spawn_blocking(move || {
        let clusters = Command::new("pg_lsclusters").arg("-h").output().unwrap();
        let clusters = String::from_utf8(clusters.stdout).unwrap();
        let clusters: Vec<&str> = clusters.lines().collect();
        assert!(std::env::var_os("PG_CLUSTER_CONF_ROOT").is_some() && clusters.len() == 1, "not in a pg_virtualenv");
        let name: Vec<&str> = clusters[0].split_whitespace().take(2).collect();
        Command::new("pg_ctlcluster").args(name).args(words).output().unwrap()
    });
    let done = done.await.unwrap();
    assert!(done.status.success(), "{words:?}: {}", String::from_utf8_lossy(&done.stderr));
}

/// Waits until a server says that it is ready, or is not; returns how long that took.
async fn ready(origin: &str, is_ready: bool) -> Duration {
    let (client, began) = (phones::client(), Instant::now());
    loop {
        let answer = client.get(format!("{origin}/readyz")).send().await.unwrap();
        if (answer.status() == 200) == is_ready {
            return began.elapsed();
        }
        assert!(began.elapsed() < Duration::from_secs(300), "/readyz stays {}", answer.status());
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

#[test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
fn a_database_that_stops_is_told_at_once_and_found_again() {
    alone(|seed| async move {
        let stops = amount(2, 50);
        let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
        let (database, folder) = (store.url(), TempDir::new().unwrap());
        let server = Program::start(&database, folder.path()).await;
        let origin = server.origin();
        let world = World::found(&origin, 8, 10, amount(40, 400)).await;
        let mut crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
        let (client, mut chance) = (phones::client(), Chance::new(seed, 0));
        let (mut told, mut back) = (Duration::ZERO, Duration::ZERO);
        for n in 0..stops {
            tokio::time::sleep(Duration::from_millis(300 + chance.below(700))).await;
            assert!(crowd.is_busy(), "the phones are done after {n} stops");
            cluster(if n % 2 == 0 { &["stop", "-m", "immediate"] } else { &["stop", "-m", "fast"] }).await;
            told = told.max(ready(&origin, false).await);
            // A write is told too, and soon.
            let began = Instant::now();
            let body = serde_json::json!({ "email": "nobody@demo.example", "password": "nine quiet greens at night" });
            let answer = client.post(format!("{origin}/api/v1/sessions")).json(&body).send().await.unwrap();
            assert_eq!(answer.status(), 503);
            assert!(answer.headers().contains_key("retry-after"));
            told = told.max(began.elapsed());
            cluster(&["start"]).await;
            back = back.max(ready(&origin, true).await);
        }
        crowd.fall_silent();
        let unanswered = crowd.finish().await;
        let acks = passes(&world, &database, &origin, folder.path()).await;
        assert!(unanswered > 0, "nothing was hit");
        println!(
            "F13 (3 s and 5 s asked): {stops} stops, 503 within {told:.2?}, back within {back:.2?}; {acks} rounds acknowledged; lost or doubled {}",
            bound(acks)
        );
    });
}

#[test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
fn a_database_that_takes_only_reads_is_told_and_takes_changes_again() {
    alone(|_| async {
        let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
        let folder = TempDir::new().unwrap();
        let server = Program::start(&store.url(), folder.path()).await;
        let origin = server.origin();
        let world = World::found(&origin, 1, 1, 1).await;
        let (client, token) = (phones::client(), world.token(&origin).await);
        let setup = serde_json::json!({ "label": "Bay", "sensor": "camera", "shared": true, "notes": "" });
        let sign_in =
            serde_json::json!({ "email": "organizer@demo.example", "password": "nine quiet greens at night" });
        let write = || {
            let key = uuid::Uuid::now_v7().to_string();
            let setups = client.post(format!("{origin}/api/v1/leagues/{}/setups", world.league));
            setups.bearer_auth(&token).header("idempotency-key", key).json(&setup).send()
        };
        let problem = async |answer: reqwest::Response| {
            assert_eq!(answer.status(), 503);
            let body: serde_json::Value = answer.json().await.unwrap();
            (body["type"].as_str().unwrap().to_owned(), body["detail"].as_str().unwrap().to_owned())
        };
        assert_eq!(write().await.unwrap().status(), 201);
        store.takes_only_reads(true);
        // As after a failover: every session is a new one.
        store.cut();
        let told = ready(&origin, false).await;
        // Several at once, so that several sessions begin meanwhile.
        let writes = futures_util::future::join_all((0..5).map(|_| write())).await;
        for answer in writes {
            assert_eq!(problem(answer.unwrap()).await.0, "/problems/storage-stopped");
        }
        let answer = client.post(format!("{origin}/api/v1/sessions")).json(&sign_in).send().await.unwrap();
        assert_eq!(problem(answer).await.0, "/problems/storage-stopped");
        let (kind, detail) = problem(client.get(format!("{origin}/readyz")).send().await.unwrap()).await;
        assert_eq!(kind, "/problems/storage-stopped");
        assert!(detail.contains("default_transaction_read_only"), "{detail}");
        server.tells("default_transaction_read_only").await;
        for path in [format!("/seasons/{}/standings", world.season), format!("/events/{}/board", world.events[0])] {
            let answer = client.get(format!("{origin}/api/v1{path}")).bearer_auth(&token).send().await.unwrap();
            assert_eq!((answer.status().as_u16(), answer.headers().contains_key("age")), (200, false), "{path}");
        }
        store.takes_only_reads(false);
        let back = ready(&origin, true).await;
        for answer in futures_util::future::join_all((0..5).map(|_| write())).await {
            assert_eq!(answer.unwrap().status(), 201, "a session of that time is still used");
        }
        println!("only reads: 503 within {told:.2?}, back within {back:.2?}");
    });
}
