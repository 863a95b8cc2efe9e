//! How much an account may ask: a bucket of requests that fills up again.

use super::problem::Problem;
use crate::domain::ids::AccountId;
use actix_web::http::StatusCode;
use actix_web::http::header;
use jiff::Timestamp;
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// How many accounts are remembered.
const MOST_ACCOUNTS: usize = 100_000;

/// What an account may ask: so many at once, and so many a minute in the long run.
#[derive(Clone, Copy, Debug)]
pub struct Allowance {
    /// Reads at once.
    pub reads: f64,
    /// Reads a minute.
    pub reads_per_minute: f64,
    /// Writes at once.
    pub writes: f64,
    /// Writes a minute.
    pub writes_per_minute: f64,
}

impl Default for Allowance {
    /// 600 reads and 60 writes a minute, with ten minutes of writes at once: an organizer keys in a whole night.
    fn default() -> Self {
        Self { reads: 600.0, reads_per_minute: 600.0, writes: 600.0, writes_per_minute: 60.0 }
    }
}

#[derive(Clone, Copy)]
struct Bucket {
    left: f64,
    at: Timestamp,
}

/// The buckets of all accounts.
pub struct Quota {
    allowance: Allowance,
    buckets: Mutex<HashMap<(AccountId, bool), Bucket>>,
}

impl Quota {
    /// Starts with full buckets.
    pub fn new(allowance: Allowance) -> Self {
        Self { allowance, buckets: Mutex::new(HashMap::new()) }
    }

    /// Takes one request out of an account's bucket.
    ///
    /// # Errors
    /// 429 with the seconds to wait, when it is empty.
    pub fn take(&self, account: AccountId, is_write: bool, now: Timestamp) -> Result<(), Problem> {
        let Allowance { reads, reads_per_minute, writes, writes_per_minute } = self.allowance;
        let (most, per_minute) = if is_write { (writes, writes_per_minute) } else { (reads, reads_per_minute) };
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MOST_ACCOUNTS {
            buckets.clear();
        }
        let bucket = buckets.entry((account, is_write)).or_insert(Bucket { left: most, at: now });
        let minutes = now.duration_since(bucket.at).as_secs_f64().max(0.0) / 60.0;
        bucket.left = (bucket.left + minutes * per_minute).min(most);
        bucket.at = now;
        if bucket.left < 1.0 {
            let wait = ((1.0 - bucket.left) / per_minute * 60.0).ceil().max(1.0);
            let detail = format!("this account has asked too much; wait {wait} s");
            return Err(Problem::new(StatusCode::TOO_MANY_REQUESTS, "quota-exceeded", detail)
                .with(header::RETRY_AFTER, wait.to_string()));
        }
        bucket.left -= 1.0;
        Ok(())
    }
}
