//! The stabiliser: what it adds to each motor's pulse.
//!
//! A tilt pushes the motors apart while self-level is on; and without propellers nothing answers it, so it
//! winds up about each axis, as its gyro drifts there (*common practice*).

use super::attitude::Attitude;
use super::config::StabiliserConfig;
use super::frame::{Frame, MOST};
use std::time::Duration;

/// How far to the right and to the rear the motor of each place sits.
pub type Arms = Vec<[f64; 2]>;

/// Those of a frame.
pub fn arms(frame: Frame) -> Arms {
    let arms = frame.places().iter().map(|place| place.bearing.to_radians().sin_cos());
    // The outermost motors of each axis have the whole of it, as a mixer is commonly scaled (*common practice*).
    let widest =
        arms.clone().fold([0.0_f64; 2], |[right, rear], (sin, cos)| [right.max(sin.abs()), rear.max(cos.abs())]);
    arms.map(|(sin, cos)| [sin / widest[0], -cos / widest[1]].map(|share| (share * 1e9).round() / 1e9)).collect()
}

/// What it adds at each place of the frame after `turning`, µs.
pub fn push(config: StabiliserConfig, arms: &Arms, seen: Attitude, self_level: bool, turning: Duration) -> [f64; MOST] {
    let wound = config.wind_up.map(|rate| rate * turning.as_secs_f64());
    let mut pushes = [0.0; MOST];
    for (place, [right, rear]) in arms.iter().enumerate() {
        // A craft that leans right needs more lift on the right; nose up, more at the rear.
        let lean = if self_level { seen.roll * right + seen.pitch * rear } else { 0.0 };
        // About the upright axis those that turn one way are set against those that turn the other, which are every
        // second one.
        let turns = if place.is_multiple_of(2) { 1.0 } else { -1.0 };
        let drift = wound[0] * right + wound[1] * rear + wound[2] * turns;
        pushes[place] = (config.per_degree * lean + drift).clamp(-config.most, config.most);
    }
    pushes
}
