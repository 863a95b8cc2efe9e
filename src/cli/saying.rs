//! What commands say on the way, and how they write counts.

use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

/// When something that takes long first says so, and how often again.
const FIRST_WORD: Duration = Duration::from_secs(2);
const NEXT_WORDS: Duration = Duration::from_secs(10);

/// Says what takes long, after two seconds and then every ten, until what is returned is dropped.
#[must_use]
pub fn telling(doing: impl Into<String>) -> mpsc::Sender<()> {
    let (working, ended) = mpsc::channel();
    let doing = doing.into();
    thread::spawn(move || {
        let mut wait = FIRST_WORD;
        while ended.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
            crate::log::say(format_args!("{doing} …"));
            wait = NEXT_WORDS;
        }
    });
    working
}

/// Writes a count with its noun: `1 league`, `2 rounds`.
pub fn counted(count: i64, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}
