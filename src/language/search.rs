//! An idle search: what it means where clauses were left out, and which values it tries.
//!
//! Promises: one place for the defaults of the language; values run from the start to the limit
//! minus the margin. Must not be here: limits of a board (a sheet may only lower these).

use super::ceilings;
use super::units::Pulse;
use std::time::Duration;

/// Left out, `at most` is the start plus this, in µs.
pub const SPAN: Pulse = Pulse(200);

/// Left out, `then add` is the larger of one step and this, in µs.
pub const MARGIN: Pulse = Pulse(20);

/// Left out, `for` is this, and so long turns a start of `test idle`.
pub const DWELL: Duration = Duration::from_secs(2);

/// Left out, `in … starts` is this, in a search and in `test idle`.
pub const STARTS: u32 = 3;

/// The idle search as written; what was left out is `None` and filled by [`IdleSearch::at_most`] and its kin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdleSearch {
    /// First value tried.
    pub start: Pulse,
    /// From one value to the next.
    pub step: Pulse,
    /// Whether the operator's keys step it, at the bench prompt only; else it ends when all motors spin.
    pub by_hand: bool,
    /// The highest value that may stay on the board, margin included.
    pub at_most: Option<Pulse>,
    /// How long each start turns.
    pub dwell: Option<Duration>,
    /// How many starts prove a value.
    pub starts: Option<u32>,
    /// The margin added at the end.
    pub then_add: Option<Pulse>,
}

impl IdleSearch {
    /// The highest value that may stay on the board, margin included, under the built-in ceiling.
    #[must_use]
    pub fn limit(&self) -> Pulse {
        self.at_most.unwrap_or(Pulse(self.start.0.saturating_add(SPAN.0))).min(ceilings::PULSE)
    }

    /// What is added to the value that was proved.
    #[must_use]
    pub fn margin(&self) -> Pulse {
        self.then_add.unwrap_or(self.step.max(MARGIN))
    }

    /// How long each start turns.
    #[must_use]
    pub fn dwell_time(&self) -> Duration {
        self.dwell.unwrap_or(DWELL)
    }

    /// How many starts prove a value.
    #[must_use]
    pub fn start_count(&self) -> u32 {
        self.starts.unwrap_or(STARTS)
    }

    /// How many values a search under this limit would try at most; 0 where the step does not go
    /// up or nothing is left between start and limit.
    #[must_use]
    pub fn value_count(&self, limit: Pulse) -> i64 {
        let room = i64::from(limit.0) - i64::from(self.margin().0) - i64::from(self.start.0);
        if self.step.0 <= 0 || room < 0 { 0 } else { room / i64::from(self.step.0) + 1 }
    }

    /// The values that a search under this limit tries, in order: from the start by the step up to the limit
    /// minus the margin.
    pub fn values(&self, limit: Pulse) -> impl Iterator<Item = Pulse> + use<> {
        let Self { start, step, .. } = *self;
        let count = i32::try_from(self.value_count(limit)).unwrap_or(i32::MAX);
        (0..count).map(move |index| Pulse(start.0.saturating_add(step.0.saturating_mul(index))))
    }
}
