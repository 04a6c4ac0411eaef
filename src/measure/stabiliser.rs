//! Whether the board's stabiliser pushes the motors away from idle, and why.
//!
//! Promises: one rule says that it does, and the same figures say why; a side is named only where the attitude shows
//! it. Must not disarm or advise on timing.

use super::level::Level;
use super::robust;
use std::time::Duration;

/// A motor whose median over [`WINDOW`] is within this of idle is at idle, µs.
pub const AT_IDLE: f64 = 10.0;
/// So long an output has to be away from idle.
pub const WINDOW: Duration = Duration::from_millis(250);
/// Under this an attitude is level, radians (1°): a flat table is not better (*common practice*).
pub const LEVEL: f64 = 0.017_453_292_519_943_295;
/// Fewest moments that tell anything.
pub const FEWEST_SAMPLES: usize = 3;

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
    /// It answers a tilt that the attitude shows.
    Tilt {
        /// Spread of the outputs, µs.
        spread: f64,
        /// Sides to raise; never empty.
        raise: Vec<Side>,
    },
    /// It winds up: the motors grew apart from a start together, though the craft is level.
    WindUp {
        /// Spread as the outputs left rest, µs.
        first: f64,
        /// Spread now, which may have come to its bound, µs.
        last: f64,
        /// Growth, µs a second.
        rate: f64,
    },
    /// It pushes from the start, though the attitude says level: level calibration, or the turn of the board, is to be
    /// doubted.
    Steady {
        /// Spread of the outputs, µs.
        spread: f64,
    },
    /// All outputs are away from idle together: the throttle is not down, or idle is not what was thought.
    Offset {
        /// Median of all outputs less idle, µs.
        by: f64,
    },
}

/// Whether a motor is driven away from idle: its median over the window is. `outputs` holds for every motor its
/// commanded pulses in µs. Fewer than [`FEWEST_SAMPLES`] moments show nothing.
#[must_use]
pub fn pushes(outputs: &[Vec<f64>], idle: f64) -> bool {
    medians(outputs).is_some_and(|medians| medians.iter().any(|pulse| is_away(*pulse, idle)))
}

/// Whether a pulse is not idle. Where none of a window's is away, no median of them is.
#[must_use]
pub fn is_away(pulse: f64, idle: f64) -> bool {
    (pulse - idle).abs() > AT_IDLE
}

/// Why outputs are away from idle, by what they were as they left rest, what they are in the last window, and how long
/// lies between. `None` where [`pushes`] does not say that they are.
#[must_use]
pub fn why(first: &[Vec<f64>], last: &[Vec<f64>], between: Duration, idle: f64, level: Level) -> Option<Push> {
    let now = medians(last).filter(|_| pushes(last, idle))?;
    let spread = robust::range(&now);
    if spread <= AT_IDLE {
        return Some(Push::Offset { by: robust::median(&now)? - idle });
    }
    let raise = low_sides(level);
    if !raise.is_empty() {
        return Some(Push::Tilt { spread, raise });
    }
    let first = medians(first).map_or(0.0, |medians| robust::range(&medians));
    let grown = spread - first;
    if grown <= first {
        return Some(Push::Steady { spread });
    }
    Some(Push::WindUp { first, last: spread, rate: grown / between.as_secs_f64().max(0.05) })
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

/// Of each motor; `None` where one has too few moments.
fn medians(outputs: &[Vec<f64>]) -> Option<Vec<f64>> {
    let all = outputs.iter().map(|motor| (motor.len() >= FEWEST_SAMPLES).then(|| robust::median(motor)).flatten());
    all.collect::<Option<Vec<f64>>>().filter(|all| !all.is_empty())
}
