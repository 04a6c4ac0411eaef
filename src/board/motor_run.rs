//! One motor run by command: what it may ask of a board, over whichever link, from the table of ceilings.
//!
//! Promises: nothing else can be made, so no link sends more; the gate judges finished frames by the same bounds. Must
//! not be here: whether a motor may turn now.

use crate::language::ceilings::{MOTORS, PULSE, REST, TURNING};
use std::time::Duration;

/// A motor run inside of its bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BoundedRun {
    motor: u8,
    pulse: u16,
    lease: Duration,
}

/// A motor run outside of its bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "a motor run takes a motor from {} to {}, a pulse from {REST} to {PULSE} and a limit from 1 to {} ms, not motor {motor}, \
     {pulse} us, {lease_ms} ms",
    MOTORS.start(),
    MOTORS.end(),
    TURNING.as_millis()
)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub struct OutOfBounds {
    pub motor: u8,
    pub pulse: u16,
    pub lease_ms: u32,
}

impl BoundedRun {
    /// A motor from 1, at a pulse width in µs, ended by the board itself after so many milliseconds.
    ///
    /// # Errors
    /// Outside of the bounds.
    pub fn new(motor: u8, pulse: u16, lease_ms: u32) -> Result<Self, OutOfBounds> {
        let lease = Duration::from_millis(lease_ms.into());
        if fits(motor.into(), pulse.into(), lease.as_secs_f64()) {
            Ok(Self { motor, pulse, lease })
        } else {
            Err(OutOfBounds { motor, pulse, lease_ms })
        }
    }

    /// Which motor, from 1.
    #[must_use]
    pub fn motor(self) -> u8 {
        self.motor
    }

    /// The pulse width in µs.
    #[must_use]
    pub fn pulse(self) -> u16 {
        self.pulse
    }

    /// When the board ends it.
    #[must_use]
    pub fn lease(self) -> Duration {
        self.lease
    }
}

/// Whether numbers out of a frame (motor from 1, µs, seconds) are inside of the bounds; what is not finite is not.
#[must_use]
pub fn fits(motor: f64, pulse: f64, lease: f64) -> bool {
    (f64::from(*MOTORS.start())..=f64::from(*MOTORS.end())).contains(&motor)
        && (f64::from(REST.0)..=f64::from(PULSE.0)).contains(&pulse)
        && lease > 0.0
        && lease <= TURNING.as_secs_f64()
}
