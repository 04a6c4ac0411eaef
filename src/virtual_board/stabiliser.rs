//! The stabiliser: what it adds to each motor's pulse.
//!
//! A tilt pushes the motors apart while self-level is on; and without propellers nothing answers it, so it
//! slowly winds up (*common practice*).

use super::attitude::Attitude;
use super::config::StabiliserConfig;
use super::frame::{Frame, MOST};
use std::time::Duration;

/// What it adds at each place of the frame after `turning`, µs.
pub fn push(
    config: StabiliserConfig,
    frame: Frame,
    seen: Attitude,
    self_level: bool,
    turning: Duration,
) -> [f64; MOST] {
    let wound = config.wind_up * turning.as_secs_f64();
    let arms = frame.places().iter().map(|place| place.bearing.to_radians().sin_cos());
    // The outermost motors of each axis have the whole of it, as a mixer is commonly scaled (*common practice*).
    let widest =
        arms.clone().fold([0.0_f64; 2], |[right, rear], (sin, cos)| [right.max(sin.abs()), rear.max(cos.abs())]);
    let mut pushes = [0.0; MOST];
    for (place, (sin, cos)) in arms.enumerate() {
        let [right, rear] = [sin / widest[0], -cos / widest[1]].map(|share| (share * 1e9).round() / 1e9);
        // A craft that leans right needs more lift on the right; nose up, more at the rear.
        let lean = if self_level { seen.roll * right + seen.pitch * rear } else { 0.0 };
        // Wound up about the upright axis, where the gyro's drift meets no resistance on a bench: those that turn one way
        // against those that turn the other, which are every second one.
        let drift = if place.is_multiple_of(2) { 1.0 } else { -1.0 };
        pushes[place] = (config.per_degree * lean + wound * drift).clamp(-config.most, config.most);
    }
    pushes
}
