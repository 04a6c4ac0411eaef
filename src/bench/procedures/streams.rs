//! Channels and outputs on one time, and what limits they can show.
//!
//! Must not be here: what is measured from the one to the other.

use crate::bench::session::context::SessionContext;
use crate::interlock::signals::{Channels, at_rest};
use crate::measure::intervals::{self, IntervalError};
use crate::measure::time::Time;
use crate::measure::told::{self, Aligned};
use std::time::Duration;

/// So much from before the cause is looked at.
pub const BEFORE: Duration = Duration::from_millis(200);
/// Over this long it is judged how quick a link is.
const OF_LATE: Duration = Duration::from_secs(3);

/// Channels and outputs on one time.
pub type ToldBoth = Aligned<Channels, [u16; 8]>;

impl SessionContext {
    /// Channels and outputs later than that, on one time.
    #[must_use]
    pub fn told_since(&self, after: Time) -> ToldBoth {
        let timings = self.timings();
        told::align(&timings.channels(), &timings.outputs(), after, self.round_trip())
    }

    /// The same by arrivals, for what is held against a message that carries no time.
    #[must_use]
    pub fn came_since(&self, after: Time) -> ToldBoth {
        let timings = self.timings();
        told::by_arrival(&timings.channels(), &timings.outputs(), after, self.round_trip())
    }

    fn round_trip(&self) -> Duration {
        self.interlock().round_trip().unwrap_or_default()
    }

    /// Usual time between two messages with speeds, of late.
    #[must_use]
    pub fn speeds_every(&self) -> Option<Duration> {
        let speeds = self.timings().speeds(self.now() - OF_LATE);
        intervals::period(&speeds.iter().map(|(at, _)| *at).collect::<Vec<Time>>())
    }

    /// Whether the link can show a limit, by the slower of the two streams and by how far they may be apart.
    ///
    /// # Errors
    /// It can't; the error says which it can.
    pub fn can_show(&self, within: Duration) -> Result<(), IntervalError> {
        let told = self.told_since(self.now() - OF_LATE);
        let times = |times: &mut dyn Iterator<Item = Time>| intervals::period(&times.collect::<Vec<Time>>());
        let channels = times(&mut told.first.iter().map(|(at, _)| *at));
        let outputs = times(&mut told.second.iter().map(|(at, _)| *at));
        let slower = channels.zip(outputs).map(|(channels, outputs)| channels.max(outputs));
        intervals::check_limit(within, slower.unwrap_or(OF_LATE), told.doubt)
    }
}

/// Whether the outputs drive anything.
#[must_use]
pub fn driven(outputs: &[(Time, [u16; 8])]) -> Vec<(Time, bool)> {
    outputs.iter().map(|(at, pulses)| (*at, !at_rest(pulses))).collect()
}
