//! A wire that hits bytes: some are dropped, doubled, or have a bit turned, each direction by itself.
//!
//! Promises: the same seed hits the same bytes, however they are cut into portions; without a fault nothing is
//! touched. Knows no message and no line.

use super::rng::{hash, uniform};
use std::borrow::Cow;

/// Shares of bytes that are hit on their way, each 0 … 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ByteFaults {
    /// Share that never arrives.
    pub dropped: f64,
    /// Share that arrives twice.
    pub doubled: f64,
    /// Share that arrives with one bit turned.
    pub corrupted: f64,
}

/// Directions of the wire; the numbers are what their chances are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// From the board.
    Out = 0x6F,
    /// To the board.
    In = 0x69,
}

/// The faults of one direction.
#[derive(Clone)]
pub struct Noise {
    faults: ByteFaults,
    seed: u64,
    way: Direction,
    passed: u64,
}

impl Noise {
    pub fn new(faults: ByteFaults, seed: u64, way: Direction) -> Self {
        Self { faults, seed, way, passed: 0 }
    }

    /// What arrives of some bytes.
    pub fn pass<'b>(&mut self, bytes: impl Into<Cow<'b, [u8]>>) -> Cow<'b, [u8]> {
        let bytes = bytes.into();
        let ByteFaults { dropped, doubled, corrupted } = self.faults;
        if dropped + doubled + corrupted <= 0.0 {
            return bytes;
        }
        let mut arrived = Vec::with_capacity(bytes.len());
        for byte in bytes.iter() {
            self.passed += 1;
            let chance = uniform(self.seed, self.way as u64, self.passed);
            if chance < dropped {
                continue;
            }
            if chance < dropped + doubled {
                arrived.extend([*byte, *byte]);
            } else if chance < dropped + doubled + corrupted {
                let bit = hash(self.seed, self.way as u64 + 1, self.passed) % 8;
                arrived.push(byte ^ (1 << bit));
            } else {
                arrived.push(*byte);
            }
        }
        arrived.into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_hit_as_often_as_told_and_alike_in_any_portions() {
        let faults = ByteFaults { dropped: 0.02, doubled: 0.01, corrupted: 0.03 };
        let sent = vec![0x55; 100_000];
        let whole = Noise::new(faults, 7, Direction::Out).pass(&sent).into_owned();
        let mut noise = Noise::new(faults, 7, Direction::Out);
        let portions: Vec<u8> = sent.chunks(333).flat_map(|part| noise.pass(part).into_owned()).collect();
        assert_eq!(whole, portions);
        let turned: Vec<u8> = whole.iter().copied().filter(|byte| *byte != 0x55).collect();
        let bits = [1, 2, 4, 8, 16, 32, 64, 128];
        assert!(turned.iter().all(|byte| bits.contains(&(byte ^ 0x55))));
        // Standard deviations of 100,000 draws are 44, 31 and 54.
        assert!((2800..3200).contains(&turned.len()), "{}", turned.len());
        assert!((98_700..99_300).contains(&whole.len()), "{}", whole.len());
        let inward = Noise::new(faults, 7, Direction::In).pass(&sent).into_owned();
        assert_ne!(whole, inward, "each direction by itself");
        assert_eq!(Noise::new(ByteFaults::default(), 7, Direction::Out).pass(&sent), &sent[..]);
    }
}
