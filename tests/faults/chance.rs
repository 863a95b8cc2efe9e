//! Chance that a seed repeats.

use std::time::{SystemTime, UNIX_EPOCH};

/// A stream of numbers.
pub struct Chance(u64);

impl Chance {
    /// Starts the stream of a seed and a number beside it: each phone has its own.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut chance = Self(seed ^ stream.wrapping_mul(0xd134_2543_de82_ef95));
        chance.next();
        chance
    }

    /// The next number, by splitmix64 (from memory).
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A whole number below a bound.
    pub fn below(&mut self, bound: u64) -> u64 {
        self.next() % bound
    }

    /// A UUID.
    pub fn id(&mut self) -> String {
        uuid::Builder::from_random_bytes(((u128::from(self.next()) << 64) | u128::from(self.next())).to_be_bytes())
            .into_uuid()
            .to_string()
    }
}

/// The seed that was asked for, or one by the time of day.
pub fn seed() -> u64 {
    match std::env::var("EVENFIELD_FAULTS_SEED") {
        Ok(seed) => seed.parse().expect("EVENFIELD_FAULTS_SEED is a whole number"),
        Err(_) => SystemTime::now().duration_since(UNIX_EPOCH).unwrap().subsec_nanos().into(),
    }
}
