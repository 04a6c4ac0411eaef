//! How long an answer takes: smoothed, with how much that varies, as a patience for the next.
//!
//! The figures are those of RFC 6298, section 2, with a floor of our own, since an answer that comes after its
//! repeat costs one message only. Knows no message and no clock.

use std::time::Duration;

/// Beyond the usual time at least this long is waited: what a computer's own threads and buffers take.
const FLOOR: u64 = 8_000;

/// Times from requests to answers, µs.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct RoundTrip {
    usual: Option<u64>,
    varies: u64,
    /// The last few, the newest first.
    last: [Option<u64>; 8],
}

impl RoundTrip {
    /// Takes one answer's time; only of requests that were sent once.
    pub(super) fn note(&mut self, took: Duration) {
        let took = micros(took);
        self.last.rotate_right(1);
        self.last[0] = Some(took);
        match &mut self.usual {
            None => {
                self.usual = Some(took);
                self.varies = took / 2;
            }
            Some(usual) => {
                self.varies = (3 * self.varies + usual.abs_diff(took)) / 4;
                *usual = (7 * *usual + took) / 8;
            }
        }
    }

    /// The least of the last few.
    pub(super) fn least(&self) -> Duration {
        Duration::from_micros(self.last.into_iter().flatten().min().unwrap_or(0))
    }

    /// The usual time, once one is known.
    pub(super) fn usual(&self) -> Option<Duration> {
        self.usual.map(Duration::from_micros)
    }

    /// How long an answer is waited for before it counts as lost; `unknown` while nothing was heard.
    pub(super) fn patience(&self, unknown: Duration) -> Duration {
        self.usual.map_or(unknown, |usual| Duration::from_micros(usual + (4 * self.varies).max(FLOOR)))
    }
}

/// Whole microseconds.
pub(super) fn micros(time: Duration) -> u64 {
    u64::try_from(time.as_micros()).unwrap_or(u64::MAX)
}
