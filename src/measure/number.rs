//! Conversions between counts, grid steps and floating numbers, in one place.
//!
//! Promises: exact for every count a session can hold (under 2^53). Must not hold anything but conversions.

/// A count as a float.
#[expect(clippy::cast_precision_loss, reason = "counts of samples stay far under 2^53")]
pub(super) fn count(n: usize) -> f64 {
    n as f64
}

/// A number of microseconds as a float.
#[expect(clippy::cast_precision_loss, reason = "a session's microseconds stay far under 2^53")]
pub(super) fn micros(n: u64) -> f64 {
    n as f64
}

/// Nearest whole number; saturates at the ends of `i32`, 0 for what is not a number.
#[expect(clippy::cast_possible_truncation, reason = "a float-to-int cast saturates, which is the promise")]
pub(super) fn whole(x: f64) -> i32 {
    x.round() as i32
}

/// A difference of microseconds as a float.
#[expect(clippy::cast_precision_loss, reason = "a session's microseconds stay far under 2^53")]
pub(super) fn signed(n: i64) -> f64 {
    n as f64
}

/// Nearest whole number of microseconds; saturates, 0 for what is not a number.
#[expect(clippy::cast_possible_truncation, reason = "a float-to-int cast saturates, which is the promise")]
pub(super) fn rounded(x: f64) -> i64 {
    x.round() as i64
}
