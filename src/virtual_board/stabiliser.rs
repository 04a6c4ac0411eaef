//! The stabiliser: what it adds to each motor's pulse.
//!
//! A tilt pushes the motors apart while self-level is on; and without propellers nothing answers it, so it
//! slowly winds up (*common practice*).

use super::attitude::Attitude;
use super::config::StabiliserConfig;
use super::corner::Corner;
use std::time::Duration;

/// What it adds at each corner after `turning`, µs.
pub fn push(config: StabiliserConfig, seen: Attitude, self_level: bool, turning: Duration) -> [f64; 4] {
    let wound = config.wind_up * turning.as_secs_f64();
    Corner::ALL.map(|corner| {
        // A craft that leans right needs more lift on the right; nose up, more at the rear.
        let lean = if self_level { seen.roll * corner.right() + seen.pitch * corner.rear() } else { 0.0 };
        // Wound up about the upright axis, where the gyro's drift meets no resistance on a bench.
        let drift = corner.right() * corner.rear();
        (config.per_degree * lean + wound * drift).clamp(-config.most, config.most)
    })
}
