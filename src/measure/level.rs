//! How the craft stands, by the board's attitude.
//!
//! Promises: the median over half a second, so that a knock on the bench is no tilt. Must not judge what is level enough
//! for a step.

use super::robust;
use super::time::Time;
use std::f64::consts::{PI, TAU};
use std::time::Duration;
use thiserror::Error;

/// How far back samples count.
pub const WINDOW: Duration = Duration::from_millis(500);
/// Fewest samples in the window.
pub const FEWEST_SAMPLES: usize = 3;

/// Attitude at one moment, radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AttitudeSample {
    /// When it was heard.
    pub at: Time,
    /// Right side down positive.
    pub roll: f64,
    /// Nose up positive.
    pub pitch: f64,
}

/// Median attitude, radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Right side down positive.
    pub roll: f64,
    /// Nose up positive.
    pub pitch: f64,
    /// Samples in the window.
    pub samples: usize,
}

/// Attitude can't be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum LevelError {
    /// Too few samples in the window.
    #[error("only {heard} attitude messages came in half a second and {needed} are needed; check the link")]
    TooFew {
        /// Samples in the window.
        heard: usize,
        /// Samples needed.
        needed: usize,
    },
}

/// Median roll and pitch over the half second before `now`.
///
/// # Errors
/// Fewer than [`FEWEST_SAMPLES`] finite samples in the window.
pub fn level(samples: &[AttitudeSample], now: Time) -> Result<Level, LevelError> {
    let from = now - WINDOW;
    let inside = |s: &&AttitudeSample| s.at >= from && s.at <= now && s.roll.is_finite() && s.pitch.is_finite();
    // A craft on its back stands at the seam of the angle, and is not level.
    let rolls: Vec<f64> = samples.iter().filter(inside).map(|s| s.roll).collect();
    let pitches: Vec<f64> = samples.iter().filter(inside).map(|s| s.pitch).collect();
    let too_few = LevelError::TooFew { heard: rolls.len(), needed: FEWEST_SAMPLES };
    if rolls.len() < FEWEST_SAMPLES {
        return Err(too_few);
    }
    let (Some(roll), Some(pitch)) = (middle(&rolls), middle(&pitches)) else { return Err(too_few) };
    Ok(Level { roll, pitch, samples: rolls.len() })
}

/// Median on the circle, radians: of the distances from the first, the short way round, so that the seam at half a turn
/// is no place of its own. Right where the angles lie within half a turn.
fn middle(angles: &[f64]) -> Option<f64> {
    let first = *angles.first()?;
    let off: Vec<f64> = angles.iter().map(|angle| wrapped(angle - first)).collect();
    robust::median(&off).map(|off| wrapped(first + off))
}

fn wrapped(angle: f64) -> f64 {
    (angle + PI).rem_euclid(TAU) - PI
}
