//! How the craft stands, and how the board sees it: turned as it is mounted, trimmed, with a little noise.

use super::rng::bell;
use crate::measure::time::Time;

const NOISE: u64 = 0x41;

/// How the craft really stands, degrees: right side down, nose up, clockwise positive.
#[derive(Debug, Clone, Copy)]
pub struct Attitude {
    pub roll: f64,
    pub pitch: f64,
    pub heading: f64,
}

impl Attitude {
    /// As a board sees it that sits turned by `off` degrees more than it was told, less its level trims.
    pub fn seen(self, off: f64, trims: [f64; 2]) -> Self {
        let (sin, cos) = off.to_radians().sin_cos();
        Self {
            roll: self.roll * cos + self.pitch * sin - trims[0],
            pitch: self.pitch * cos - self.roll * sin - trims[1],
            heading: self.heading + off,
        }
    }

    /// With the sensor's noise of a moment.
    pub fn noisy(self, now: Time, seed: u64) -> Self {
        let noise = |axis| 0.04 * bell(seed ^ axis, NOISE, now.0 / 4000);
        Self { roll: self.roll + noise(1), pitch: self.pitch + noise(2), heading: self.heading + noise(3) }
    }
}
