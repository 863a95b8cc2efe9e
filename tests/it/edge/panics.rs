//! A panic in the server's own code costs the act that met it, and nothing else.

use crate::support::harness::*;
use evenfield::storage::{Scope, StorageError};
use std::time::{Duration, Instant};

#[tokio::test]
async fn a_change_that_panics_is_undone_alone_and_the_writer_goes_on() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let leagues = &api.server.app.leagues;
    // Panics before, between and after others that share its commit.
    let failing = (0..3).map(|_| {
        leagues.writer.change(Scope::Nothing, |_| {
            Box::pin(async { if true { panic!("a test panics on purpose") } else { Ok::<(), StorageError>(()) } })
        })
    });
    let round = round(&night.ann);
    let (failed, stored) = futures_util::future::join(
        futures_util::future::join_all(failing),
        api.hand_in(&night.event, &cast.ann, &round),
    )
    .await;
    for outcome in failed {
        assert!(matches!(outcome, Err(StorageError::Panicked)), "{outcome:?}");
    }
    assert_eq!(stored.status, 201, "{stored}");
    api.hand_in(&night.event, &cast.ben, &crate::support::harness::round(&night.ben)).await;
    assert_eq!(api.rounds(&night.event, &cast.olga).await, 2);
    api.outside("GET", "/readyz").expect(200).await;
}

#[tokio::test]
async fn a_task_that_panics_makes_the_server_unready_until_it_runs_again() {
    let api = own();
    let (panics, told) = tokio::sync::watch::channel(true);
    api.server.app.leagues.writer.tasks().keep_running("a test's own", move || {
        let mut told = told.clone();
        async move {
            assert!(!*told.borrow_and_update(), "a test panics on purpose");
            let _ = told.changed().await;
        }
    });
    until(&api, 503).await;
    let failures = async |api: &Api| -> u64 {
        let measures = api.outside("GET", "/metrics").expect(200).await.text();
        let count = measures.lines().find_map(|line| line.strip_prefix("evenfield_task_failures_total "));
        count.expect("a measure").parse().expect("a number")
    };
    assert!(failures(&api).await > 0);
    panics.send(false).expect("the task goes on");
    until(&api, 200).await;
}

/// Waits until `/readyz` says so.
async fn until(api: &Api, status: u16) {
    let began = Instant::now();
    while api.outside("GET", "/readyz").once().await.status != status {
        assert!(began.elapsed() < Duration::from_secs(300), "/readyz does not come to {status}");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}
