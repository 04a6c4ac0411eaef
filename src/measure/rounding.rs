//! Figures of bounds as they are shown: rounded away from what is claimed.
//!
//! Promises: what is shown of a lower bound is never above it, of an upper one never below. Must not know what is bounded.

use std::time::Duration;

/// A lower bound, to so many decimals.
#[must_use]
pub fn down(bound: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (bound * scale).floor() / scale
}

/// An upper bound, to so many decimals.
#[must_use]
pub fn up(bound: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (bound * scale).ceil() / scale
}

/// An upper bound of a time in whole milliseconds.
#[must_use]
pub fn millis_up(bound: Duration) -> u128 {
    bound.as_micros().div_ceil(1000)
}
