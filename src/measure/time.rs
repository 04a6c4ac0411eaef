//! A moment on the bench's clock.

use std::ops::{Add, Sub};
use std::time::Duration;

/// Microseconds since the session began. A simulated world sets it as it likes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Time(pub u64);

impl Time {
    /// A moment that never comes.
    pub const NEVER: Self = Self(u64::MAX);

    /// How long after `earlier`; zero if it was later.
    #[must_use]
    pub fn since(self, earlier: Self) -> Duration {
        Duration::from_micros(self.0.saturating_sub(earlier.0))
    }
}

impl Add<Duration> for Time {
    type Output = Self;
    fn add(self, wait: Duration) -> Self {
        Self(self.0.saturating_add(micros(wait)))
    }
}

impl Sub<Duration> for Time {
    type Output = Self;
    fn sub(self, wait: Duration) -> Self {
        Self(self.0.saturating_sub(micros(wait)))
    }
}

/// Whole microseconds of a wait, as many as fit.
fn micros(wait: Duration) -> u64 {
    wait.as_secs().saturating_mul(1_000_000).saturating_add(u64::from(wait.subsec_micros()))
}
