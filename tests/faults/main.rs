//! What an acknowledgement is worth: the real program is killed, cut off, traced, backed up, stopped and left without room
//! on its disk while phones hand in rounds. Phones sync what they mean to send and what was answered to files of their own; a checker that shares no
//! code with the server compares these with what is stored (F1, F4, F5, F6, F12, F13, F15).
//!
//! `EVENFIELD_FAULTS=full` runs the full amounts, `EVENFIELD_FAULTS_SEED` repeats a run as far as the machine's timing
//! lets it.

#![cfg(target_os = "linux")]
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod backups;
mod chance;
mod checker;
mod database_file;
mod full_disk;
mod kills;
mod logs;
mod network;
mod one_client;
mod passwords;
mod phones;
mod postgres;
mod private;
mod program;
mod proxy;
mod silence;
#[path = "../support/store.rs"]
mod store;
mod syncs;

use std::future::Future;
use std::sync::{Mutex, PoisonError};

/// Runs one fault at a time: each is timed, and starts programs of its own.
fn alone<F: Future<Output = ()>>(fault: impl FnOnce(u64) -> F) {
    static TURN: Mutex<()> = Mutex::new(());
    let _turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    let seed = chance::seed();
    println!("seed {seed}");
    tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap().block_on(fault(seed));
}

/// Returns how much of a fault is tried.
fn amount(short: usize, full: usize) -> usize {
    match std::env::var("EVENFIELD_FAULTS").as_deref() {
        Ok("full") => full,
        Ok(other) => panic!("EVENFIELD_FAULTS is `full` or not set, not {other:?}"),
        Err(_) => short,
    }
}

/// Says what none of so many trials bounds, by the rule of three (common practice, no source).
fn bound(trials: usize) -> String {
    format!("0 of {trials}: with 95 % at most {:.4} %", (300.0 / trials as f64).min(100.0))
}
