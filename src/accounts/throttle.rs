//! The brake on guessing passwords.
//!
//! Three counters, all in memory, all about *failed* sign-ins:
//!
//! - **(account, network)**: from the fifth failure on, a wait of 1 s that doubles to 15 minutes.
//! - **account**, over all networks: makes those waits longer for networks that failed on this account themselves. A
//!   network that never did is always let through once, so nobody can lock a holder out from elsewhere.
//! - **network**: how many *different* accounts failed from there, and have not signed in since. From the twentieth on,
//!   an account that has not failed there yet has to wait, again 1 s doubling to 15 minutes. A venue where sixty
//!   people sign in, some at their second try, never comes near; one person's typing errors count once.
//!
//! Nothing is ever locked: every wait ends, and a success forgets the failures of that account there. A success says
//! nothing about the *other* accounts of its network, so signing in to an account of one's own in between does not help.
//!
//! An attempt is charged when it is let through and not when it has failed, because guesses that are sent all at once
//! would otherwise all be let through before the first one fails. Attempts that never got a verdict are given back
//! by [`Throttle::abandoned`].
//!
//! The account key is whatever the caller signs in by, normalized, *whether or not such an account exists*. Memory is
//! bounded: each counter forgets what was touched longest ago. After a restart all is forgotten.

use jiff::{SignedDuration, Timestamp};
use sha2::{Digest, Sha256};
use std::{
    collections::{BTreeMap, HashMap},
    hash::Hash,
    net::{IpAddr, Ipv4Addr},
};

/// From which failure on a wait follows.
pub const FREE_FAILURES: u32 = 5;
/// From how many failed accounts on a network has to wait before trying another one.
pub const FREE_ACCOUNTS: u32 = 20;
/// The longest wait.
pub const LONGEST_WAIT: SignedDuration = SignedDuration::from_mins(15);
/// After which time without an attempt the failures of an account are forgotten.
pub const ACCOUNT_MEMORY: SignedDuration = SignedDuration::from_hours(24);
/// After which time a failed account no longer counts against its network: a venue has a new crowd each hour.
pub const NETWORK_MEMORY: SignedDuration = SignedDuration::from_hours(1);

/// Where an attempt comes from: one IPv4 address, or one IPv6 /64, which is what one subscriber holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Network {
    /// An address.
    V4(Ipv4Addr),
    /// The first 64 bits.
    V6(u64),
}

/// Returns the network of an address. An IPv4 address written as IPv6 (`::ffff:192.0.2.1`) is an IPv4 address.
pub fn network_of(address: IpAddr) -> Network {
    match address.to_canonical() {
        IpAddr::V4(address) => Network::V4(address),
        IpAddr::V6(address) => Network::V6((u128::from(address) >> 64) as u64),
    }
}

/// In how many seconds to try again: 1 to 900.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("too many failed sign-ins: try again in {0} s")]
pub struct RetryAfter(pub u32);

/// Returns the wait after the given failure: none below `free`, then 1 s doubling to [`LONGEST_WAIT`].
///
/// # Examples
/// ```
/// use evenfield::accounts::throttle::{FREE_FAILURES, wait_after};
/// let waits: Vec<i64> = (4..8).map(|failures| wait_after(failures, FREE_FAILURES).as_secs()).collect();
/// assert_eq!(waits, [0, 1, 2, 4]);
/// ```
pub fn wait_after(failures: u32, free: u32) -> SignedDuration {
    match failures.checked_sub(free) {
        None => SignedDuration::ZERO,
        Some(doublings) => LONGEST_WAIT.min(SignedDuration::from_secs(1 << doublings.min(10))),
    }
}

/// The counters. The caller shares them behind a mutex; no method blocks.
#[derive(Debug)]
pub struct Throttle {
    pairs: Remembered<(Account, Network), Failures>,
    accounts: Remembered<Account, Failures>,
    networks: Remembered<Network, Spray>,
}

/// A digest, so that a long key takes no more room than a short one.
type Account = [u8; 16];

#[derive(Clone, Copy, Debug)]
struct Failures {
    count: u32,
    last_at: Timestamp,
}

#[derive(Clone, Debug)]
struct Spray {
    failed: Vec<(Account, Timestamp)>,
    last_at: Timestamp,
}

impl Spray {
    fn recent(&self, now: Timestamp) -> impl Iterator<Item = &(Account, Timestamp)> {
        self.failed.iter().filter(move |(_, at)| now.duration_since(*at) < NETWORK_MEMORY)
    }
}

impl Default for Throttle {
    fn default() -> Self {
        Self::new(100_000)
    }
}

impl Throttle {
    /// Creates empty counters, each for at most `capacity` entries of roughly 100 bytes; of networks a tenth, as one
    /// may hold a hundred accounts.
    pub fn new(capacity: usize) -> Self {
        Self {
            pairs: Remembered::new(capacity),
            accounts: Remembered::new(capacity),
            networks: Remembered::new(capacity / 10),
        }
    }

    /// Tells whether an attempt would be let through, without charging it.
    pub fn peek(&self, account_key: &str, network: Network, now: Timestamp) -> Result<(), RetryAfter> {
        let account = digest(account_key);
        let wait = self.account_wait(account, network, now).max(self.network_wait(account, network, now));
        if wait.is_positive() { Err(retry_after(wait)) } else { Ok(()) }
    }

    /// Lets an attempt through and charges it, or tells how long to wait. A refused attempt changes nothing.
    ///
    /// After an `Ok`, exactly one of [`Self::succeeded`], [`Self::failed`] and [`Self::abandoned`] follows.
    pub fn check(&mut self, account_key: &str, network: Network, now: Timestamp) -> Result<(), RetryAfter> {
        self.peek(account_key, network, now)?;
        let account = digest(account_key);
        charge(&mut self.pairs, (account, network), now);
        charge(&mut self.accounts, account, now);
        if let Some(spray) = self.networks.get_mut(&network)
            && !spray.failed.iter().any(|(failed, _)| *failed == account)
        {
            spray.last_at = now; // the next new account waits from here, also before this one has failed
        }
        Ok(())
    }

    /// Records that the password was wrong, or that there is no such account.
    pub fn failed(&mut self, account_key: &str, network: Network, now: Timestamp) {
        let account = digest(account_key);
        let fresh = Failures { count: 1, last_at: now };
        self.pairs.touch((account, network), fresh).last_at = now;
        self.accounts.touch(account, fresh).last_at = now;
        let spray = self.networks.touch(network, Spray { failed: Vec::new(), last_at: now });
        spray.failed.retain(|(failed, at)| *failed != account && now.duration_since(*at) < NETWORK_MEMORY);
        spray.failed.push((account, now));
        spray.last_at = now;
    }

    /// Records a sign-in: this account's failures are forgotten, here and over all networks.
    pub fn succeeded(&mut self, account_key: &str, network: Network, now: Timestamp) {
        let account = digest(account_key);
        self.pairs.forget(&(account, network));
        self.accounts.forget(&account);
        if let Some(spray) = self.networks.get_mut(&network) {
            spray.failed.retain(|(failed, at)| *failed != account && now.duration_since(*at) < NETWORK_MEMORY);
            if spray.failed.is_empty() {
                self.networks.forget(&network);
            }
        }
    }

    /// Gives an attempt back that got no verdict, such as one that met a busy server.
    pub fn abandoned(&mut self, account_key: &str, network: Network) {
        let account = digest(account_key);
        give_back(&mut self.pairs, &(account, network));
        give_back(&mut self.accounts, &account);
    }

    /// # Formula
    /// ```text
    /// wait = wait_after(max(p, min(a, 4 + 3p)))    p: failures of this account from this network   a: from all
    /// ```
    /// Without failures of its own (p = 0) a network never waits for others'. With few it waits a little for them
    /// (p = 1: at most 4 s), with four as long as the account's count says. evenfield estimate: a holder who mistypes
    /// once while others attack the account should not wait 15 minutes.
    fn account_wait(&self, account: Account, network: Network, now: Timestamp) -> SignedDuration {
        let Some(pair) = self.pairs.get(&(account, network)).filter(|pair| pair.is_recent(now)) else {
            return SignedDuration::ZERO;
        };
        let all = self.accounts.get(&account).filter(|all| all.is_recent(now)).map_or(0, |all| all.count);
        let own = pair.count;
        let count = own.max(all.min(own.saturating_mul(3).saturating_add(FREE_FAILURES - 1)));
        // From this network's own last attempt: others must not be able to prolong its wait.
        left(wait_after(if own == 0 { 0 } else { count }, FREE_FAILURES), pair.last_at, now)
    }

    fn network_wait(&self, account: Account, network: Network, now: Timestamp) -> SignedDuration {
        let Some(spray) = self.networks.get(&network) else { return SignedDuration::ZERO };
        let mut failed = 0;
        for (known, _) in spray.recent(now) {
            if *known == account {
                return SignedDuration::ZERO; // no *further* account; its own failures are counted above
            }
            failed += 1;
        }
        left(wait_after(failed, FREE_ACCOUNTS), spray.last_at, now)
    }
}

impl Failures {
    fn is_recent(&self, now: Timestamp) -> bool {
        now.duration_since(self.last_at) < ACCOUNT_MEMORY
    }
}

fn charge<K: Copy + Eq + Hash>(counters: &mut Remembered<K, Failures>, key: K, now: Timestamp) {
    let failures = counters.touch(key, Failures { count: 0, last_at: now });
    if !failures.is_recent(now) {
        failures.count = 0;
    }
    *failures = Failures { count: failures.count.saturating_add(1), last_at: now };
}

fn give_back<K: Copy + Eq + Hash>(counters: &mut Remembered<K, Failures>, key: &K) {
    if let Some(failures) = counters.get_mut(key) {
        failures.count = failures.count.saturating_sub(1);
        if failures.count == 0 {
            counters.forget(key);
        }
    }
}

/// What is left of a wait. After a clock was set back the wait counts as over, so that it cannot last an hour.
fn left(wait: SignedDuration, since: Timestamp, now: Timestamp) -> SignedDuration {
    let passed = now.duration_since(since);
    if passed < -LONGEST_WAIT { SignedDuration::ZERO } else { (wait - passed).min(wait) }
}

/// Rounds up, so that an attempt after exactly that time is let through.
fn retry_after(wait: SignedDuration) -> RetryAfter {
    let seconds = wait.as_secs() + i64::from(wait.subsec_nanos() > 0);
    RetryAfter(u32::try_from(seconds.clamp(1, LONGEST_WAIT.as_secs())).unwrap_or(u32::MAX))
}

fn digest(account_key: &str) -> Account {
    let digest: [u8; 32] = Sha256::digest(account_key).into();
    let mut account = Account::default();
    account.copy_from_slice(&digest[..16]);
    account
}

/// A map that forgets what was touched longest ago once it is full.
#[derive(Debug)]
struct Remembered<K, V> {
    values: HashMap<K, (u64, V)>,
    order: BTreeMap<u64, K>,
    next: u64,
    capacity: usize,
}

impl<K: Copy + Eq + Hash, V> Remembered<K, V> {
    fn new(capacity: usize) -> Self {
        Self { values: HashMap::new(), order: BTreeMap::new(), next: 0, capacity: capacity.max(1) }
    }

    fn get(&self, key: &K) -> Option<&V> {
        self.values.get(key).map(|(_, value)| value)
    }

    fn get_mut(&mut self, key: &K) -> Option<&mut V> {
        self.values.get_mut(key).map(|(_, value)| value)
    }

    /// Returns the value, made of `fresh` if there is none, as the last one to be forgotten.
    fn touch(&mut self, key: K, fresh: V) -> &mut V {
        if !self.values.contains_key(&key)
            && self.values.len() >= self.capacity
            && let Some((_, oldest)) = self.order.pop_first()
        {
            self.values.remove(&oldest);
        }
        let turn = self.next;
        self.next += 1;
        let (touched, value) = self.values.entry(key).or_insert((turn, fresh));
        self.order.remove(touched);
        self.order.insert(turn, key);
        *touched = turn;
        value
    }

    fn forget(&mut self, key: &K) {
        if let Some((touched, _)) = self.values.remove(key) {
            self.order.remove(&touched);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HOME: Network = Network::V4(Ipv4Addr::new(192, 0, 2, 1));
    const AWAY: Network = Network::V4(Ipv4Addr::new(198, 51, 100, 7));

    fn at(seconds: i64) -> Timestamp {
        Timestamp::from_second(1_790_000_000 + seconds).unwrap()
    }

    fn network(index: u32) -> Network {
        Network::V4(Ipv4Addr::from(0x0a00_0000 + index))
    }

    /// Tries a wrong password; tells whether it was let through to be hashed.
    fn guess(throttle: &mut Throttle, account: &str, network: Network, now: Timestamp) -> Result<(), RetryAfter> {
        throttle.check(account, network, now)?;
        throttle.failed(account, network, now);
        Ok(())
    }

    /// Guesses as fast as the throttle allows.
    fn fail(throttle: &mut Throttle, account: &str, network: Network, times: u32, mut now: Timestamp) -> Timestamp {
        for _ in 0..times {
            if let Err(RetryAfter(seconds)) = throttle.peek(account, network, now) {
                now += SignedDuration::from_secs(seconds.into());
            }
            guess(throttle, account, network, now).unwrap();
        }
        now
    }

    #[test]
    fn from_the_fifth_failure_on_waits_double_to_15_minutes() {
        let mut throttle = Throttle::default();
        let mut now = at(0);
        let mut waits = Vec::new();
        for _ in 0..18 {
            guess(&mut throttle, "ann", HOME, now).unwrap();
            let wait = throttle.peek("ann", HOME, now).err().map_or(0, |RetryAfter(seconds)| seconds);
            waits.push(wait);
            now += SignedDuration::from_secs(wait.into());
        }
        assert_eq!(waits, [0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900, 900]);
    }

    #[test]
    fn a_wait_ends_exactly_when_it_said() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", HOME, 8, at(0));
        assert_eq!(throttle.peek("ann", HOME, now), Err(RetryAfter(8)));
        let later = |millis| now + SignedDuration::from_millis(millis);
        assert_eq!(throttle.peek("ann", HOME, later(7_001)), Err(RetryAfter(1)));
        assert_eq!(throttle.peek("ann", HOME, later(7_999)), Err(RetryAfter(1)));
        assert_eq!(throttle.peek("ann", HOME, later(8_000)), Ok(()));
    }

    #[test]
    fn a_refused_attempt_prolongs_nothing() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", HOME, 10, at(0));
        for _ in 0..1_000 {
            assert_eq!(throttle.check("ann", HOME, now), Err(RetryAfter(32)));
        }
        assert_eq!(throttle.check("ann", HOME, now + SignedDuration::from_secs(32)), Ok(()));
    }

    #[test]
    fn a_success_resets() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", HOME, 12, at(0)) + LONGEST_WAIT;
        throttle.check("ann", HOME, now).unwrap();
        throttle.succeeded("ann", HOME, now);
        for _ in 0..4 {
            guess(&mut throttle, "ann", HOME, now).unwrap();
        }
        assert_eq!(throttle.check("ann", HOME, now), Ok(()));
    }

    #[test]
    fn the_right_password_from_another_network_is_let_through_at_any_time() {
        let mut throttle = Throttle::default();
        let mut now = at(0);
        for index in 0..200 {
            now = fail(&mut throttle, "ann", network(index), 3, now);
            assert_eq!(throttle.peek("ann", HOME, now), Ok(()));
        }
        throttle.check("ann", HOME, now).unwrap();
        throttle.succeeded("ann", HOME, now);
        assert_eq!(throttle.peek("ann", HOME, now), Ok(()));
    }

    #[test]
    fn guesses_from_many_networks_slow_each_of_them_sooner() {
        let mut throttle = Throttle::default();
        for index in 0..50 {
            guess(&mut throttle, "ann", network(index), at(0)).unwrap();
        }
        assert_eq!(throttle.peek("ann", network(0), at(0)), Err(RetryAfter(4)));
        guess(&mut throttle, "ann", network(0), at(4)).unwrap();
        assert_eq!(throttle.peek("ann", network(0), at(4)), Err(RetryAfter(32)));
        guess(&mut throttle, "ann", network(0), at(36)).unwrap();
        assert_eq!(throttle.peek("ann", network(0), at(36)), Err(RetryAfter(256)));
        guess(&mut throttle, "ann", network(0), at(292)).unwrap();
        assert_eq!(throttle.peek("ann", network(0), at(292)), Err(RetryAfter(900)));
    }

    #[test]
    fn nobody_elsewhere_can_prolong_a_networks_wait() {
        let mut throttle = Throttle::default();
        fail(&mut throttle, "ann", AWAY, 14, at(0));
        guess(&mut throttle, "ann", HOME, at(1_000)).unwrap();
        for second in 1_000..1_004 {
            guess(&mut throttle, "ann", network(second as u32), at(second)).unwrap();
            assert!(throttle.peek("ann", HOME, at(second)).is_err());
        }
        assert_eq!(throttle.peek("ann", HOME, at(1_004)), Ok(()));
    }

    #[test]
    fn a_success_elsewhere_does_not_free_the_network_that_failed() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", AWAY, 12, at(0));
        throttle.check("ann", HOME, now).unwrap();
        throttle.succeeded("ann", HOME, now);
        assert_eq!(throttle.peek("ann", AWAY, now), Err(RetryAfter(128)));
    }

    #[test]
    fn two_hundred_guesses_sent_at_once_are_not_all_let_through() {
        let mut throttle = Throttle::default();
        let through = (0..200).filter(|_| throttle.check("ann", HOME, at(0)).is_ok()).count();
        assert_eq!(through, 5);
    }

    #[test]
    fn an_attempt_without_a_verdict_is_given_back() {
        let mut throttle = Throttle::default();
        for _ in 0..100 {
            throttle.check("ann", HOME, at(0)).unwrap();
            throttle.abandoned("ann", HOME);
        }
        assert_eq!(throttle.peek("ann", HOME, at(0)), Ok(()));
        assert!(throttle.pairs.values.is_empty() && throttle.accounts.order.is_empty());
        throttle.abandoned("nobody", AWAY);
    }

    #[test]
    fn failures_are_forgotten_after_a_day() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", HOME, 20, at(0)) + ACCOUNT_MEMORY;
        for _ in 0..5 {
            guess(&mut throttle, "ann", HOME, now).unwrap();
        }
        assert_eq!(throttle.peek("ann", HOME, now), Err(RetryAfter(1)));
    }

    #[test]
    fn a_clock_set_back_by_an_hour_does_not_lock_anybody_out() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", HOME, 20, at(0));
        assert_eq!(throttle.peek("ann", HOME, now - SignedDuration::from_hours(1)), Ok(()));
        assert_eq!(throttle.peek("ann", HOME, now - SignedDuration::from_secs(60)), Err(RetryAfter(900)));
    }

    #[test]
    fn sixty_people_of_a_venue_sign_in_at_once() {
        let mut throttle = Throttle::default();
        for index in 0..60 {
            throttle.check(&format!("member {index}"), HOME, at(index / 10)).unwrap();
        }
        for index in 0..60 {
            throttle.succeeded(&format!("member {index}"), HOME, at(7));
        }
        assert!(throttle.networks.values.is_empty());
    }

    #[test]
    fn sixty_people_of_a_venue_who_each_mistype_twice_sign_in_within_a_minute() {
        let mut throttle = Throttle::default();
        for index in 0..60 {
            let member = format!("member {index}");
            guess(&mut throttle, &member, HOME, at(index)).unwrap();
            guess(&mut throttle, &member, HOME, at(index)).unwrap();
            throttle.check(&member, HOME, at(index)).unwrap();
            throttle.succeeded(&member, HOME, at(index));
        }
    }

    #[test]
    fn one_persons_failures_never_stop_the_others_of_a_venue() {
        let mut throttle = Throttle::default();
        let now = fail(&mut throttle, "ann", HOME, 30, at(0));
        assert_eq!(throttle.check("bob", HOME, now), Ok(()));
    }

    #[test]
    fn a_spray_over_100_accounts_is_stopped_before_the_30th() {
        let mut throttle = Throttle::default();
        let through = |throttle: &mut Throttle, now| {
            (0..100).filter(|index| guess(throttle, &format!("account {index}"), HOME, now).is_ok()).count()
        };
        assert_eq!(through(&mut throttle, at(0)), 20);
        let mut throttle = Throttle::default();
        let (mut tried, mut second) = (0, 0);
        while second < 600 {
            tried += usize::from(guess(&mut throttle, &format!("account {tried}"), HOME, at(second)).is_ok());
            second += i64::from(throttle.peek(&format!("account {tried}"), HOME, at(second)).is_err());
        }
        assert!((20..30).contains(&tried), "{tried} accounts in ten minutes");
    }

    #[test]
    fn a_spray_goes_no_faster_by_signing_in_to_an_account_of_ones_own() {
        let mut throttle = Throttle::default();
        let mut tried = 0;
        for index in 0..100 {
            tried += u32::from(guess(&mut throttle, &format!("account {index}"), HOME, at(0)).is_ok());
            if throttle.check("mine", HOME, at(0)).is_ok() {
                throttle.succeeded("mine", HOME, at(0));
            }
        }
        assert!(tried < 30, "{tried}");
    }

    #[test]
    fn new_accounts_that_are_tried_at_once_after_a_spray_wait_for_each_other() {
        let mut throttle = Throttle::default();
        for index in 0..20 {
            guess(&mut throttle, &format!("account {index}"), HOME, at(0)).unwrap();
        }
        let through =
            (20..100).filter(|index| throttle.check(&format!("account {index}"), HOME, at(1)).is_ok()).count();
        assert_eq!(through, 1);
    }

    #[test]
    fn after_a_spray_a_known_typist_gets_in_and_an_hour_later_everybody() {
        let mut throttle = Throttle::default();
        for index in 0..20 {
            guess(&mut throttle, &format!("account {index}"), HOME, at(0)).unwrap();
        }
        assert_eq!(throttle.peek("account 3", HOME, at(0)), Ok(()));
        assert_eq!(throttle.peek("ann", HOME, at(0)), Err(RetryAfter(1)));
        assert_eq!(throttle.peek("ann", AWAY, at(0)), Ok(()));
        let spray = throttle.networks.get(&HOME).unwrap();
        assert_eq!(spray.recent(at(3_600)).count(), 0);
    }

    #[test]
    fn memory_is_bounded_and_the_oldest_goes_first() {
        let mut throttle = Throttle::new(50);
        for index in 0..1_000 {
            let key = format!("{index}{}", "x".repeat(10_000));
            guess(&mut throttle, &key, network(index), at(0)).unwrap();
            guess(&mut throttle, "kept", HOME, at(0)).ok();
            throttle.failed("kept", HOME, at(0));
        }
        assert_eq!((throttle.pairs.values.len(), throttle.pairs.order.len()), (50, 50));
        assert_eq!((throttle.accounts.values.len(), throttle.accounts.order.len()), (50, 50));
        assert_eq!((throttle.networks.values.len(), throttle.networks.order.len()), (5, 5));
        assert!(throttle.peek("kept", HOME, at(0)).is_err());
    }

    #[test]
    fn a_network_is_an_ipv4_address_or_an_ipv6_64() {
        let of = |text: &str| network_of(text.parse().unwrap());
        assert_eq!(of("2001:db8:1:2::1"), of("2001:db8:1:2:ffff:ffff:ffff:ffff"));
        assert_ne!(of("2001:db8:1:2::1"), of("2001:db8:1:3::1"));
        assert_ne!(of("192.0.2.1"), of("192.0.2.2"));
        assert_eq!(of("::ffff:192.0.2.1"), of("192.0.2.1"));
    }

    proptest! {
        #[test]
        fn of_200_guesses_at_most_20_are_let_through_in_10_minutes(
            mut instants in prop::collection::vec(0_i64..600_000, 200), slow in 0_i64..2_000,
        ) {
            instants.sort_unstable();
            let mut throttle = Throttle::default();
            let mut through = 0;
            for millis in instants {
                let now = at(0) + SignedDuration::from_millis(millis);
                if throttle.check("ann", HOME, now).is_ok() {
                    through += 1;
                    throttle.failed("ann", HOME, now + SignedDuration::from_millis(slow));
                }
            }
            prop_assert!(through <= 20, "{through}");
        }

        #[test]
        fn whatever_others_do_every_wait_ends_within_15_minutes(
            acts in prop::collection::vec((0_usize..4, 0_u32..4, 0_i64..100, 0_u8..3), 1..200),
        ) {
            let mut throttle = Throttle::new(8);
            let mut second = 0;
            for (account, from, pause, verdict) in acts {
                second += pause;
                let (key, from, now) = (account.to_string(), network(from), at(second));
                match throttle.check(&key, from, now) {
                    Err(RetryAfter(seconds)) => prop_assert!((1..=900).contains(&seconds)),
                    Ok(()) if verdict == 0 => throttle.succeeded(&key, from, now),
                    Ok(()) if verdict == 1 => throttle.abandoned(&key, from),
                    Ok(()) => throttle.failed(&key, from, now),
                }
                prop_assert_eq!(throttle.peek(&key, from, now + LONGEST_WAIT), Ok(()));
                prop_assert_eq!(throttle.pairs.values.len(), throttle.pairs.order.len());
            }
        }
    }
}
