//! The session's clock: the system's boot clock from zero, which counts sleep.
//!
//! Promises: never runs backwards; a computer that slept sees the gap. Must not be here: waiting.

use crate::measure::time::Time;
use std::time::Duration;

/// See the module.
#[derive(Debug, Clone, Copy)]
pub struct Clock(Duration);

impl Clock {
    /// A clock that starts now.
    #[must_use]
    pub fn start() -> Self {
        Self(reading())
    }

    /// The present moment.
    #[must_use]
    pub fn now(&self) -> Time {
        Time(0) + reading().saturating_sub(self.0)
    }
}

/// Linux counts sleep in `CLOCK_BOOTTIME` alone (`clock_gettime(2)`).
#[cfg(any(target_os = "linux", target_os = "android", target_os = "openbsd"))]
pub(super) fn reading() -> Duration {
    read(rustix::time::ClockId::Boottime)
}

/// Apple's monotonic clock counts sleep, unlike its uptime clocks (`clock_gettime(3)`), of which the standard library's
/// is one.
#[cfg(target_vendor = "apple")]
pub(super) fn reading() -> Duration {
    read(rustix::time::ClockId::Monotonic)
}

#[cfg(any(target_os = "linux", target_os = "android", target_os = "openbsd", target_vendor = "apple"))]
fn read(clock: rustix::time::ClockId) -> Duration {
    Duration::try_from(rustix::time::clock_gettime(clock)).unwrap_or_default()
}

/// Elsewhere the standard library's, whatever it counts.
#[cfg(not(any(target_os = "linux", target_os = "android", target_os = "openbsd", target_vendor = "apple")))]
pub(super) fn reading() -> Duration {
    static BEGAN: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
    BEGAN.get_or_init(std::time::Instant::now).elapsed()
}
