//! Whether the board's stabiliser pushes the motors away from idle, and why.
//!
//! Promises: wind-up and tilt are told apart by growth and attitude, with figures. Must not disarm or advise on timing.

use super::level::Level;
use super::robust;
use thiserror::Error;

/// An output within the larger of this and [`IDLE_SIGMAS`] σ of idle is at idle, µs.
pub const AT_IDLE: f64 = 10.0;
/// See [`AT_IDLE`].
pub const IDLE_SIGMAS: f64 = 3.0;
/// Under this an attitude is level, radians (1°): a flat table is not better (*common practice*).
pub const LEVEL: f64 = 0.017_453_292_519_943_295;
/// Fewest moments to look at: three in each third.
pub const FEWEST_SAMPLES: usize = 9;

/// Which side is low, hence to be raised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The left side.
    Left,
    /// The right side.
    Right,
    /// The nose.
    Front,
    /// The rear.
    Rear,
}

/// What the stabiliser does.
#[derive(Debug, Clone, PartialEq)]
pub enum Push {
    /// Nothing: every output is at idle.
    Even {
        /// Largest distance of a motor's median from idle, µs.
        farthest: f64,
    },
    /// It winds up: the motors grow apart though the craft is level.
    WindUp {
        /// Spread of the outputs in the first third of the time, µs.
        first: f64,
        /// Spread in the last third, µs.
        last: f64,
    },
    /// It answers a tilt.
    Tilt {
        /// Spread of the outputs over the whole time, µs.
        spread: f64,
        /// Sides to raise, by attitude; empty where the attitude says level (then its calibration is to be doubted).
        raise: Vec<Side>,
    },
    /// All outputs are away from idle together: the throttle is not down, or idle is not what was thought.
    Offset {
        /// Median of all outputs less idle, µs.
        by: f64,
    },
}

/// The outputs can't be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum PushError {
    /// Too few moments, or none with a pulse for every motor.
    #[error("only {heard} messages with motor outputs came and {needed} are needed; check the link")]
    TooFew {
        /// Moments heard.
        heard: usize,
        /// Moments needed.
        needed: usize,
    },
}

/// Judges motor outputs around idle.
///
/// `outputs` holds for every motor its commanded pulses in µs, in the same moments; `sigma` is the robust standard
/// deviation of an output at idle in µs, 0 where unknown.
///
/// # Errors
/// No motor, or fewer than [`FEWEST_SAMPLES`] moments.
pub fn push(outputs: &[Vec<f64>], idle: f64, sigma: f64, level: Level) -> Result<Push, PushError> {
    let heard = outputs.iter().map(Vec::len).min().unwrap_or(0);
    let too_few = PushError::TooFew { heard, needed: FEWEST_SAMPLES };
    if heard < FEWEST_SAMPLES {
        return Err(too_few);
    }
    let allowed = f64::max(AT_IDLE, IDLE_SIGMAS * sigma);
    let third = heard / 3;
    let medians = |from: usize, to: usize| -> Vec<f64> {
        outputs.iter().filter_map(|motor| robust::median(&motor[from..to])).collect()
    };
    let whole = medians(0, heard);
    if whole.len() < outputs.len() {
        return Err(too_few);
    }
    let last_third = medians(heard - third, heard);
    let farthest = whole.iter().chain(&last_third).map(|pulse| (pulse - idle).abs()).fold(0.0, f64::max);
    if farthest <= allowed {
        return Ok(Push::Even { farthest });
    }
    let (first, last) = (range(&medians(0, third)), range(&last_third));
    let spread = range(&whole);
    if spread.max(last) <= allowed {
        return Ok(Push::Offset { by: robust::median(&whole).unwrap_or(idle) - idle });
    }
    // Half of the allowance: two spreads are compared, and either may lean towards the other.
    if last - first > allowed / 2.0 && level.tilt() < LEVEL {
        return Ok(Push::WindUp { first, last });
    }
    Ok(Push::Tilt { spread, raise: low_sides(level) })
}

/// The sides that are low by an attitude, beyond [`LEVEL`].
#[must_use]
pub fn low_sides(level: Level) -> Vec<Side> {
    let mut sides = Vec::new();
    if level.roll.abs() >= LEVEL {
        sides.push(if level.roll > 0.0 { Side::Right } else { Side::Left });
    }
    if level.pitch.abs() >= LEVEL {
        sides.push(if level.pitch > 0.0 { Side::Rear } else { Side::Front });
    }
    sides
}

fn range(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low
}
