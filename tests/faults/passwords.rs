//! Hashing passwords takes memory, and no more than the hashes that run at once need (S2).

use super::program::{Program, sqlite_in};
use super::{alone, amount};
use futures_util::StreamExt;
use futures_util::stream::FuturesUnordered;
use serde_json::json;
use std::collections::BTreeMap;
use std::time::Duration;
use tempfile::TempDir;

/// The memory of one hash, in KiB.
const ONE_HASH: u64 = 19_456;
/// How many sign-ins are tried at once.
const AT_ONCE: usize = 500;

/// Tries to sign in with wrong passwords, each attempt to another account and from another network; returns how often
/// each status was answered.
async fn wrong_sign_ins(client: &reqwest::Client, origin: &str, turn: usize) -> BTreeMap<u16, usize> {
    let attempts = (0..AT_ONCE).map(|n| {
        let body = json!({ "email": format!("reader{turn}x{n}@example.org"), "password": "not one that anybody has" });
        let from = format!("10.{turn}.{}.{}", n / 250, n % 250 + 1);
        let call = client.post(format!("{origin}/api/v1/sessions")).header("x-forwarded-for", from).json(&body);
        async move { call.send().await.map_or(0, |answer| answer.status().as_u16()) }
    });
    let mut statuses = BTreeMap::new();
    let mut attempts: FuturesUnordered<_> = attempts.collect();
    while let Some(status) = attempts.next().await {
        *statuses.entry(status).or_default() += 1;
    }
    statuses
}

#[test]
fn five_hundred_wrong_sign_ins_at_once_take_the_memory_of_as_many_hashes_as_there_are_cores() {
    alone(|_| async move {
        let folder = TempDir::new().unwrap();
        let around = ["env", "EVENFIELD_BEHIND_PROXY=true"];
        let mut server = Program::launch(&sqlite_in(folder.path()), folder.path(), &around);
        server.answers().await;
        let client = reqwest::Client::builder().timeout(Duration::from_secs(120)).build().unwrap();
        let before = server.resident_kib();
        let cores = std::thread::available_parallelism().unwrap().get() as u64;
        let most = before + cores * ONE_HASH * 12 / 10;
        for turn in 0..amount(4, 20) {
            let statuses = wrong_sign_ins(&client, &server.origin(), turn).await;
            let after = server.resident_kib();
            println!("S2: {before} KiB, then {after} KiB after {AT_ONCE} wrong sign-ins at once: {statuses:?}");
            assert!(statuses.keys().all(|status| matches!(status, 401 | 503)), "{statuses:?}");
            assert!(statuses[&401] >= 64, "as many as may wait are answered: {statuses:?}");
            assert!(after <= most, "memory rose from {before} to {after} KiB; {cores} hashes at once need {most} KiB");
        }
    });
}
