//! Counts how often figures were worked out of rounds that come in together, and how long that took.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Derivations since the server started.
#[derive(Default)]
pub struct Derivations {
    count: AtomicU64,
    nanos: AtomicU64,
}

impl Derivations {
    /// Returns how many there were, and how long they took in all.
    pub fn all(&self) -> (u64, Duration) {
        let count = |of: &AtomicU64| of.load(Ordering::Relaxed);
        (count(&self.count), Duration::from_nanos(count(&self.nanos)))
    }

    /// Counts one derivation and the time that it took.
    pub fn add(&self, took: Duration) {
        self.count.fetch_add(1, Ordering::Relaxed);
        self.nanos.fetch_add(took.as_nanos() as u64, Ordering::Relaxed);
    }
}
