//! Chance from a seed: the same seed gives the same draws, everywhere and for ever. For simulation only: nothing that
//! has to stay secret may come from here.

use uuid::Uuid;

/// A stream of draws.
///
/// # Source
/// SplitMix64: Steele, Lea and Flood, *Fast splittable pseudorandom number generators*, OOPSLA 2014; the constants
/// as in Vigna's public-domain code (from memory).
#[derive(Clone, Debug)]
pub struct Chance {
    state: u64,
}

/// The step of the state: 2⁶⁴ over the golden ratio, made odd.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

fn mix(state: u64) -> u64 {
    let mut z = state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Chance {
    /// Starts the stream that `path` names under `seed`: each path has draws of its own, whatever was drawn on others.
    pub fn at(seed: u64, path: &[u64]) -> Self {
        let state = path.iter().fold(mix(seed.wrapping_add(STEP)), |state, part| {
            mix(state.rotate_left(23) ^ mix(part.wrapping_add(1).wrapping_mul(STEP)))
        });
        Self { state }
    }

    /// Draws 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(STEP);
        mix(self.state)
    }

    /// Draws a number from 0 (included) to 1 (excluded).
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Draws a number evenly between two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Draws yes with that probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.share() < probability
    }

    /// Draws a whole number below `n`; 0 where `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// Draws a standard normal deviate.
    ///
    /// # Source
    /// Box and Muller, *A note on the generation of random normal deviates*, Ann. Math. Stat. 29 (1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.share()).cos()
    }

    /// Draws an id (UUID version 8).
    pub fn id(&mut self) -> Uuid {
        let bytes = (u128::from(self.bits()) << 64) | u128::from(self.bits());
        uuid::Builder::from_custom_bytes(bytes.to_be_bytes()).into_uuid()
    }

    /// Puts a list in a random order (Fisher and Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_path_gives_the_same_draws_and_another_path_others() {
        let first = |seed, path: &[u64]| Chance::at(seed, path).bits();
        assert_eq!(first(1, &[2, 3]), first(1, &[2, 3]));
        let others = [first(1, &[2, 3]), first(1, &[3, 2]), first(2, &[2, 3]), first(1, &[2]), first(1, &[2, 3, 0])];
        for (n, one) in others.iter().enumerate() {
            assert!(!others[..n].contains(one), "draw {n}");
        }
    }

    #[test]
    fn the_normal_deviates_have_mean_0_and_spread_1() {
        let mut chance = Chance::at(7, &[]);
        let draws: Vec<f64> = (0..20_000).map(|_| chance.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|x| x * x).sum::<f64>() / 20_000.0;
        // four standard errors: 4 / sqrt(20000) and 4 · sqrt(2 / 20000)
        assert!(mean.abs() < 0.029, "{mean}");
        assert!((variance - 1.0).abs() < 0.04, "{variance}");
    }

    #[test]
    fn ids_are_whole_and_of_their_version() {
        let id = Chance::at(7, &[1]).id();
        assert_eq!((id.get_version_num(), id.to_string().len()), (8, 36));
    }
}
