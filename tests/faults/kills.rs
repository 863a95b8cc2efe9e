//! The program is killed, or told to stop, while phones hand in (F1, F12).

use super::checker::passes;
use super::phones::{Crowd, World};
use super::program::{Program, sqlite_in};
use super::{alone, amount, bound, chance::Chance};
use futures_util::StreamExt;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Kills one server after the other in turn at moments that chance chooses, and starts it again at once; goes on where no
/// kill has hit anything yet, as on a machine so slow that the phones mostly wait.
pub async fn kill_often(servers: &mut [Program], crowd: &mut Crowd, chance: &mut Chance, kills: usize) {
    for n in 0.. {
        tokio::time::sleep(Duration::from_millis(200 + chance.below(2_800))).await;
        assert!(crowd.is_busy(), "the phones are done after {n} kills");
        let server = chance.below(servers.len() as u64) as usize;
        let is_last = n + 1 >= kills && (crowd.unanswered() > 0 || n + 1 == 10 * kills);
        if is_last {
            // What is on its way now stays without an answer.
            crowd.fall_silent();
        }
        servers[server].kill();
        servers[server].launch_again();
        if is_last {
            break;
        }
    }
    for server in servers {
        server.answers().await;
    }
}

#[test]
fn no_acknowledged_round_is_lost_or_doubled_when_the_server_is_killed() {
    const KILLS: usize = 6;
    alone(|seed| async move {
        let (leagues, mut acks, mut unanswered) = (amount(1, 50), 0, 0);
        let began = Instant::now();
        for n in 0..leagues {
            let seed = seed + n as u64;
            let folder = TempDir::new().unwrap();
            let database = sqlite_in(folder.path());
            let mut servers = [Program::start(&database, folder.path()).await];
            let origin = servers[0].origin();
            let world = World::found(&origin, 32, 10, 40).await;
            let mut crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
            kill_often(&mut servers, &mut crowd, &mut Chance::new(seed, 0), KILLS).await;
            unanswered += crowd.finish().await;
            acks += passes(&world, &database, &origin, folder.path()).await;
            let (kills, took) = ((n + 1) * KILLS, began.elapsed());
            println!("F1: {kills} kills in {took:.0?}, {acks} rounds acknowledged; lost or doubled {}", bound(acks));
        }
        assert!(unanswered > 0, "no kill hit anything");
    });
}

#[test]
fn a_server_that_is_told_to_stop_ends_streams_and_loses_nothing() {
    alone(|seed| async move {
        let (stops, streams) = (amount(2, 100), amount(20, 200));
        let folder = TempDir::new().unwrap();
        let database = sqlite_in(folder.path());
        let mut server = Program::start(&database, folder.path()).await;
        let origin = server.origin();
        let world = World::found(&origin, 16, 20, amount(20, 150)).await;
        let mut crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
        let (mut chance, mut longest) = (Chance::new(seed, 0), Duration::ZERO);
        for n in 0..stops {
            let (url, token) =
                (format!("{origin}/api/v1/events/{}/board/stream", world.events[0]), world.token(&origin).await);
            let farewells = Arc::new(AtomicUsize::new(0));
            let mut watchers = Vec::new();
            for _ in 0..streams {
                let answer = reqwest::Client::new().get(&url).bearer_auth(&token).send().await.unwrap();
                assert_eq!(answer.status(), 200);
                let (mut stream, farewells) = (answer.bytes_stream(), farewells.clone());
                watchers.push(tokio::spawn(async move {
                    while let Some(Ok(bytes)) = stream.next().await {
                        let is_last = String::from_utf8_lossy(&bytes).contains("event: bye");
                        farewells.fetch_add(usize::from(is_last), Ordering::SeqCst);
                    }
                }));
            }
            tokio::time::sleep(Duration::from_millis(200 + chance.below(1_000))).await;
            assert!(crowd.is_busy(), "the phones are done after {n} stops");
            if n + 1 == stops {
                crowd.fall_silent();
            }
            let (status, took) = server.terminate().await;
            assert!(status.success(), "the server ended with {status}");
            longest = longest.max(took);
            for watcher in watchers {
                watcher.await.unwrap();
            }
            assert_eq!(farewells.load(Ordering::SeqCst), streams, "streams that were told of the end");
            server.launch_again();
            server.answers().await;
        }
        crowd.finish().await;
        let acks = passes(&world, &database, &origin, folder.path()).await;
        println!(
            "F12 (10 s asked): {stops} stops with {streams} streams, the longest {longest:.1?}; {acks} rounds acknowledged; lost or doubled {}",
            bound(acks)
        );
    });
}
