//! PostgreSQL falls silent: what is sent to it is swallowed, and nothing comes back (F13). And it says nothing already when
//! the server starts.

use super::chance::Chance;
use super::checker::passes;
use super::phones::{self, Crowd, World};
use super::program::Program;
use super::store::{self, TestStore};
use super::{alone, amount, bound};
use reqwest::Response;
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use tokio::task::JoinHandle;

/// A network that can fall silent: what is under way waits, as packets that are sent again do.
struct Network {
    url: String,
    silence: watch::Sender<bool>,
    task: JoinHandle<()>,
}

impl Network {
    async fn before(url: &str) -> Self {
        let (head, rest) = url.split_once('@').expect("a URL with a user");
        let (server, tail) = rest.split_once('/').expect("a URL with a database");
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let url = format!("{head}@{}/{tail}", listener.local_addr().unwrap());
        let (silence, silent) = watch::channel(false);
        let server = server.to_owned();
        let task = tokio::spawn(async move {
            while let Ok((client, _)) = listener.accept().await {
                let (server, silent) = (server.clone(), silent.clone());
                tokio::spawn(async move {
                    let Ok(server) = TcpStream::connect(server).await else { return };
                    let ((from, back), (answers, to)) = (client.into_split(), server.into_split());
                    tokio::join!(pass(from, to, silent.clone()), pass(answers, back, silent));
                });
            }
        });
        Self { url, silence, task }
    }

    fn is_silent(&self, is_silent: bool) {
        self.silence.send_replace(is_silent);
    }
}

impl Drop for Network {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn pass(mut from: OwnedReadHalf, mut to: OwnedWriteHalf, mut silent: watch::Receiver<bool>) {
    let mut bytes = vec![0; 64 * 1024];
    loop {
        let read = from.read(&mut bytes).await.unwrap_or(0);
        if silent.wait_for(|silent| !silent).await.is_err() || read == 0 {
            return;
        }
        if to.write_all(&bytes[..read]).await.is_err() {
            return;
        }
    }
}

/// Sends something and returns the answer, with how long it took. Nothing here takes longer than a client waits that has
/// all the time in the world.
async fn timed(request: reqwest::RequestBuilder) -> (Response, Duration) {
    let began = Instant::now();
    let answer =
        request.timeout(Duration::from_secs(60)).send().await.expect("an answer, while the database is silent");
    (answer, began.elapsed())
}

#[test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
fn a_database_that_falls_silent_is_told_and_tables_are_shown_meanwhile() {
    alone(|seed| async move {
        let silences = amount(2, 20);
        let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
        let (database, folder) = (store.url(), TempDir::new().unwrap());
        let network = Network::before(&database).await;
        let server = Program::start(&network.url, folder.path()).await;
        let origin = server.origin();
        let world = World::found(&origin, 8, 10, amount(60, 400)).await;
        let mut crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
        let (client, mut chance) = (phones::client(), Chance::new(seed, 0));
        let token = world.token(&origin).await;
        let tables = [
            format!("{origin}/api/v1/seasons/{}/standings", world.season),
            format!("{origin}/api/v1/events/{}/board", world.events[0]),
        ];
        let browser = world.browser(&origin).await;
        let page = format!("{origin}/seasons/{}", world.season);
        let see = |address: &str| client.get(address).header("accept", "text/html").header("cookie", &browser);
        let (mut told, mut shown, mut back) = (Duration::ZERO, Duration::ZERO, Duration::ZERO);
        for n in 0..silences {
            tokio::time::sleep(Duration::from_millis(300 + chance.below(700))).await;
            for table in &tables {
                let (answer, _) = timed(client.get(table).bearer_auth(&token)).await;
                assert_eq!(answer.status(), 200);
                assert!(!answer.headers().contains_key("age"), "a table that is up to date has no age");
            }
            assert_eq!(timed(see(&page)).await.0.status(), 200);
            assert!(crowd.is_busy(), "the phones are done after {n} silences");
            network.is_silent(true);
            // A write of somebody who is signed in, and one of somebody who is not.
            let event = format!("{origin}/api/v1/leagues/{}/setups", world.league);
            let setup = serde_json::json!({ "label": "Bay", "sensor": "camera", "shared": true, "notes": "" });
            let sign_in =
                serde_json::json!({ "email": "nobody@demo.example", "password": "nine quiet greens at night" });
            let writes = [
                client.post(event).bearer_auth(&token).json(&setup),
                client.post(format!("{origin}/api/v1/sessions")).json(&sign_in),
            ];
            for write in writes {
                let (answer, took) = timed(write).await;
                assert_eq!(answer.status(), 503);
                assert!(answer.headers().contains_key("retry-after"));
                told = told.max(took);
            }
            let (answer, took) = timed(client.get(format!("{origin}/readyz"))).await;
            assert_eq!(answer.status(), 503);
            told = told.max(took);
            for table in &tables {
                let (answer, took) = timed(client.get(table).bearer_auth(&token)).await;
                assert_eq!(answer.status(), 200, "{table}");
                assert!(answer.headers().contains_key("age"), "{table} does not say how old it is");
                shown = shown.max(took);
            }
            let (answer, took) = timed(see(&page)).await;
            assert_eq!(answer.status(), 200);
            let text = answer.text().await.unwrap();
            assert!(text.contains("This page is from"), "the page does not say how old it is: {text}");
            shown = shown.max(took);
            // Whoever was shown nothing before is shown nothing now.
            let (answer, _) = timed(client.get(&tables[0]).bearer_auth(world.phone_token(0))).await;
            assert_eq!(answer.status(), 503);
            network.is_silent(false);
            let began = Instant::now();
            while client.get(format!("{origin}/readyz")).send().await.is_ok_and(|answer| answer.status() != 200) {
                assert!(began.elapsed() < Duration::from_secs(60), "the server does not find the database again");
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            back = back.max(began.elapsed());
        }
        crowd.fall_silent();
        let unanswered = crowd.finish().await;
        let acks = passes(&world, &database, &origin, folder.path()).await;
        assert!(unanswered > 0, "nothing was hit");
        println!(
            "F13, silent: {silences} silences, 503 within {told:.2?}, tables within {shown:.2?}, back within {back:.2?}; \
             {acks} rounds acknowledged; lost or doubled {}",
            bound(acks)
        );
    });
}

#[test]
#[ignore = "needs EVENFIELD_TEST_POSTGRES"]
fn a_start_says_what_it_waits_for() {
    alone(|_| async move {
        let store = TestStore::on(&store::server().expect("EVENFIELD_TEST_POSTGRES"));
        let folder = TempDir::new().unwrap();
        let network = Network::before(&store.url()).await;
        network.is_silent(true);
        let mut server = Program::launch(&network.url, folder.path(), &[]);
        let began = Instant::now();
        server.tells("still starting: waiting for PostgreSQL at 127.0.0.1:").await;
        println!("it says so after {:.2?}", began.elapsed());
        network.is_silent(false);
        server.answers().await;
    });
}
