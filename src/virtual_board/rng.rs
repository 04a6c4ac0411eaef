//! Chance, made repeatable: hashes of a seed and a place, and a small generator.
//!
//! Noise that is looked at by moment is a pure function of seed and moment, so that looking costs nothing
//! and changes nothing. The mixing function is `splitmix64` (Steele, Lea, Flood 2014, doi 10.1145/2660193.2660195).

use super::numbers::{low_u32, unit};

/// Mixes a seed with two numbers that say what the chance is for.
pub fn hash(seed: u64, what: u64, which: u64) -> u64 {
    Chances::new(seed, what).hash(which)
}

/// Chances of one seed for one thing, told apart by a number.
#[derive(Debug, Clone, Copy)]
pub struct Chances(u64);

impl Chances {
    pub fn new(seed: u64, what: u64) -> Self {
        Self(mix(seed ^ what.wrapping_mul(0x9E37_79B9_7F4A_7C15)))
    }

    fn hash(self, which: u64) -> u64 {
        mix(self.0.wrapping_add(which))
    }

    /// Bell-shaped with mean 0 and standard deviation 1, never beyond ±3.47: the sum of four uniform numbers.
    pub fn bell(self, which: u64) -> f64 {
        let bits = self.hash(which);
        // Two of the four at once: no sum of them runs over into the next.
        let pairs = (bits & 0x0000_FFFF_0000_FFFF) + (bits >> 16 & 0x0000_FFFF_0000_FFFF);
        (f64::from(low_u32(pairs + (pairs >> 32))) / 65536.0 - 2.0) * 3.0_f64.sqrt()
    }
}

fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Uniform in 0 … 1.
pub fn uniform(seed: u64, what: u64, which: u64) -> f64 {
    unit(hash(seed, what, which))
}

/// See [`Chances::bell`].
pub fn bell(seed: u64, what: u64, which: u64) -> f64 {
    Chances::new(seed, what).bell(which)
}

/// A sequence of chances, for what is drawn once.
pub struct Rng {
    seed: u64,
    drawn: u64,
}

impl Rng {
    /// A sequence that depends on nothing but the seed.
    pub fn new(seed: u64) -> Self {
        Self { seed, drawn: 0 }
    }

    /// The next number between two bounds.
    pub fn between(&mut self, least: f64, most: f64) -> f64 {
        self.drawn += 1;
        least + (most - least) * uniform(self.seed, 0x5EED, self.drawn)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bell_has_the_spread_that_it_says() {
        let values: Vec<f64> = (0..20_000).map(|which| bell(7, 1, which)).collect();
        let mean = values.iter().sum::<f64>() / 20_000.0;
        let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((variance - 1.0).abs() < 0.05, "{variance}");
    }

    #[test]
    fn places_are_independent_and_repeatable() {
        assert_eq!(hash(1, 2, 3), hash(1, 2, 3));
        assert_ne!(hash(1, 2, 3), hash(1, 3, 2));
        assert_ne!(hash(1, 2, 3), hash(2, 2, 3));
    }
}
