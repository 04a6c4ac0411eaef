//! How the craft stands, and how the board sees it: turned as it is mounted, trimmed, with a little noise.

use super::config::Mounted;
use super::rng::bell;
use crate::measure::time::Time;

const NOISE: u64 = 0x41;

/// An angle within half a turn either way, as ATTITUDE gives it (`common.xml`: −π … +π).
pub fn half_turn(degrees: f64) -> f64 {
    (degrees + 180.0).rem_euclid(360.0) - 180.0
}

/// How the craft really stands, degrees: right side down, nose up, clockwise positive.
#[derive(Debug, Clone, Copy)]
pub struct Attitude {
    pub roll: f64,
    pub pitch: f64,
    pub heading: f64,
}

impl Attitude {
    /// As a board sees it that sits so in the frame, was told that it sits turned by `told` degrees, and takes off its
    /// level trims, or adds them.
    pub fn seen(self, mounted: Mounted, told: f64, trims: [f64; 2]) -> Self {
        let off = mounted.turned - told;
        let (sin, cos) = off.to_radians().sin_cos();
        let (roll, pitch) = (self.roll + mounted.out_of_level[0], self.pitch + mounted.out_of_level[1]);
        let trims = if mounted.adds_trims { trims } else { trims.map(|trim| -trim) };
        Self {
            roll: roll * cos + pitch * sin + trims[0],
            pitch: pitch * cos - roll * sin + trims[1],
            heading: self.heading + off,
        }
    }

    /// With the sensor's noise of a moment, 0.04° (chosen).
    pub fn noisy(self, now: Time, seed: u64) -> Self {
        let noise = |axis| 0.04 * bell(seed ^ axis, NOISE, now.0 / 4000);
        Self { roll: self.roll + noise(1), pitch: self.pitch + noise(2), heading: self.heading + noise(3) }.wrapped()
    }

    /// The same stand as a board tells it: a nose that goes up past the vertical comes down behind, the craft turned over.
    fn wrapped(self) -> Self {
        let pitch = half_turn(self.pitch);
        if pitch.abs() <= 90.0 {
            return Self { roll: half_turn(self.roll), pitch, heading: self.heading };
        }
        let pitch = 180.0_f64.copysign(pitch) - pitch;
        Self { roll: half_turn(self.roll + 180.0), pitch, heading: self.heading + 180.0 }
    }
}
