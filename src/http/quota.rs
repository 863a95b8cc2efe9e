//! How much an account may ask: a bucket of requests that fills up again. Every answer says how full it is, in the header
//! fields of draft-ietf-httpapi-ratelimit-headers-10.

use crate::accounts::throttle::Network;
use crate::domain::ids::AccountId;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use jiff::Timestamp;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// After how many seconds somebody who has too many streams may try again.
const STREAM_WAIT_S: u32 = 10;
/// How many of those who ask are remembered.
const MOST_ASKERS: usize = 100_000;

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
    /// Streams that are open at once.
    pub streams: u32,
}

impl Default for Allowance {
    /// 600 reads and 60 writes a minute, with ten minutes of writes at once: an organizer keys in a whole night. A board on
    /// sixteen screens.
    fn default() -> Self {
        Self { reads: 600.0, reads_per_minute: 600.0, writes: 600.0, writes_per_minute: 60.0, streams: 16 }
    }
}

/// The largest whole number of a structured field (RFC 9651, 3.3.1).
const MOST_IN_A_FIELD: f64 = 999_999_999_999_999.0;

#[derive(Clone, Copy)]
struct Bucket {
    left: f64,
    at: Timestamp,
}

/// How full an account's bucket is after a request.
#[derive(Clone, Copy, Debug)]
pub struct Standing {
    name: &'static str,
    most: f64,
    per_minute: f64,
    left: f64,
}

impl Standing {
    /// Seconds until another request may be made than those that are left.
    fn wait_s(self) -> f64 {
        ((self.left.floor() + 1.0 - self.left) / self.per_minute * 60.0).ceil().max(1.0)
    }

    /// Says it in an answer.
    pub fn show(self, headers: &mut HeaderMap) {
        let Self { name, most, per_minute, left } = self;
        let [most, left, wait_s, window_s] = [most, left.floor(), self.wait_s(), (most / per_minute * 60.0).ceil()]
            .map(|number| number.clamp(0.0, MOST_IN_A_FIELD));
        let fields = [
            ("ratelimit-policy", format!("\"{name}\";q={most};w={window_s}")),
            ("ratelimit", format!("\"{name}\";r={left};t={wait_s}")),
        ];
        for (name, value) in fields {
            if let Ok(value) = HeaderValue::from_str(&value) {
                headers.insert(HeaderName::from_static(name), value);
            }
        }
    }
}

/// Whose requests are counted together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Asker {
    Account(AccountId),
    /// Everybody without an account who comes from one network.
    Visitors(Network),
}

/// The buckets of all who ask.
pub struct Quota {
    allowance: Allowance,
    buckets: Mutex<HashMap<(Asker, bool), Bucket>>,
    streams: Arc<Mutex<HashMap<AccountId, u32>>>,
}

/// A stream that counts as open until this is dropped.
pub struct OpenStream {
    account: AccountId,
    streams: Arc<Mutex<HashMap<AccountId, u32>>>,
}

impl Drop for OpenStream {
    fn drop(&mut self) {
        let mut streams = self.streams.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(open) = streams.get_mut(&self.account) {
            *open -= 1;
            if *open == 0 {
                streams.remove(&self.account);
            }
        }
    }
}

impl Quota {
    /// Starts with full buckets.
    pub fn new(allowance: Allowance) -> Self {
        Self { allowance, buckets: Mutex::default(), streams: Arc::default() }
    }

    /// Counts a stream of an account for as long as what is returned is kept.
    ///
    /// # Errors
    /// 429 where the account has as many open as it may.
    pub fn open_stream(&self, account: AccountId) -> Result<OpenStream, Problem> {
        let mut streams = self.streams.lock().unwrap_or_else(PoisonError::into_inner);
        let open = streams.get(&account).copied().unwrap_or(0);
        let most = self.allowance.streams;
        if open >= most {
            let detail = format!("this account has {most} live boards open, as many as it may; close one");
            let problem = Problem::new(Kind::QuotaExceeded, detail);
            return Err(problem.with(header::RETRY_AFTER, STREAM_WAIT_S.to_string()));
        }
        streams.insert(account, open + 1);
        Ok(OpenStream { account, streams: Arc::clone(&self.streams) })
    }

    /// Takes one request out of a bucket, if there is one in it. Refused is whoever finds it empty: 429 with the seconds to
    /// wait.
    pub fn take(&self, asker: Asker, is_write: bool, now: Timestamp) -> (Standing, Result<(), Problem>) {
        let Allowance { reads, reads_per_minute, writes, writes_per_minute, .. } = self.allowance;
        let (name, most, per_minute) =
            if is_write { ("write", writes, writes_per_minute) } else { ("read", reads, reads_per_minute) };
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MOST_ASKERS {
            buckets.clear();
        }
        let bucket = buckets.entry((asker, is_write)).or_insert(Bucket { left: most, at: now });
        let minutes = now.duration_since(bucket.at).as_secs_f64().max(0.0) / 60.0;
        bucket.left = (bucket.left + minutes * per_minute).min(most);
        bucket.at = now;
        let may = bucket.left >= 1.0;
        if may {
            bucket.left -= 1.0;
        }
        let standing = Standing { name, most, per_minute, left: bucket.left };
        (standing, if may { Ok(()) } else { Err(too_much(asker, standing.wait_s())) })
    }
}

fn too_much(asker: Asker, wait_s: f64) -> Problem {
    let whose = match asker {
        Asker::Account(_) => "account",
        Asker::Visitors(_) => "network",
    };
    let detail = format!("too many requests from this {whose}; try again in {wait_s} s");
    Problem::new(Kind::QuotaExceeded, detail).with(header::RETRY_AFTER, wait_s.to_string())
}
