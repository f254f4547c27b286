//! Seeded random choices, the same on each machine.

use crate::keys::{GOLDEN, mix};

/// A stream of numbers from a seed (Steele, Lea and Flood, "Fast Splittable Pseudorandom Number Generators", 2014).
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// The stream of `seed`.
    #[must_use]
    pub fn new(seed: u64) -> Random {
        Random(mix(seed.wrapping_add(GOLDEN)))
    }

    /// The stream number `index` of `seed`, independent of its neighbours.
    #[must_use]
    pub fn stream(seed: u64, index: u64) -> Random {
        Random::new(mix(seed) ^ index.wrapping_mul(GOLDEN))
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(GOLDEN);
        mix(self.0)
    }

    /// A number below `limit`, which must not be 0.
    pub fn below(&mut self, limit: u64) -> u64 {
        // The high half of the product; its bias is below 2^-32 for the small limits used here.
        ((u128::from(self.bits()) * u128::from(limit)) >> 64) as u64
    }

    /// Whether something of probability `per_million` happens.
    pub fn happens(&mut self, per_million: u32) -> bool {
        self.below(1_000_000) < u64::from(per_million)
    }

    /// One of several.
    ///
    /// # Panics
    ///
    /// When there is nothing to choose from.
    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len() as u64) as usize]
    }

    /// An index, each as likely as its weight; 0 when all weights are 0.
    pub fn weighted(&mut self, weights: &[u64]) -> usize {
        let total: u64 = weights.iter().sum();
        let mut left = if total == 0 { 0 } else { self.below(total) };
        for (index, &weight) in weights.iter().enumerate() {
            if left < weight {
                return index;
            }
            left -= weight;
        }
        0
    }
}
