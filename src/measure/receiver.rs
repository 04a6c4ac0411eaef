//! Conversions of receiver values to pulse widths.
//!
//! Promises: the published formulas, unrounded. Must not clip: what comes in out of range goes out of range.

/// Pulse width in µs of a CRSF channel value.
///
/// Source: `tbs-fpv/tbs-crsf-spec`, crsf.md, channel frame: µs = (x − 992) · 5/8 + 1500.
#[must_use]
pub fn crsf_to_micros(value: u16) -> f64 {
    (f64::from(value) - 992.0) * 0.625 + 1500.0
}

/// CRSF channel value of a pulse width in µs, unrounded: (µs − 1500) · 8/5 + 992. Source as [`crsf_to_micros`].
#[must_use]
pub fn micros_to_crsf(micros: f64) -> f64 {
    (micros - 1500.0) * 1.6 + 992.0
}

/// Share of full travel of a pulse, 0 at 1000 µs and 1 at 2000 µs.
///
/// Source: MAVLink `common`, `RC_CHANNELS`; the standard says that it is not guaranteed.
#[must_use]
pub fn share_of_travel(micros: f64) -> f64 {
    (micros - 1000.0) / 1000.0
}
