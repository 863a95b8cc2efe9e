//! How a server starts that refuses nobody for how often it asks, on a free port of this machine.

use evenfield::http::quota::Allowance;
use evenfield::league::Clock;
use evenfield::startup::Options;
use evenfield::storage::Store;

/// An allowance that nobody uses up.
pub fn plenty() -> Allowance {
    let plenty = 1e12;
    Allowance { reads: plenty, reads_per_minute: plenty, writes: plenty, writes_per_minute: plenty, streams: u32::MAX }
}

/// Everything else as the program has it where nothing is said.
pub fn options(database: Store, clock: Clock) -> Options {
    Options {
        database,
        signing_key: None,
        journal_key: None,
        listen: ([127, 0, 0, 1], 0).into(),
        is_throwaway: false,
        behind_proxy: false,
        trusted_proxies: Vec::new(),
        registration: None,
        allowance: plenty(),
        connections: Default::default(),
        lasting_acts: None,
        backups: None,
        keeps_pages: true,
        clock,
    }
}
