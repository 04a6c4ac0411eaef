//! Channels and outputs on one time, the rates at which a link carries them, and what limits they can show.
//!
//! Must not be here: what is measured from the one to the other.

use crate::bench::session::context::SessionContext;
use crate::board::signals::Stream;
use crate::interlock::signals::{Channels, at_rest};
use crate::measure::alignment::{self, Aligned};
use crate::measure::intervals::{self, IntervalError};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;
use std::time::Duration;

/// So much from before the cause is looked at.
pub const BEFORE: Duration = Duration::from_millis(200);
/// So long what waits in buffers may take to come after streams were asked for.
const SETTLES: Duration = Duration::from_secs(1);
/// Over this long it is judged how quick a link is.
const OF_LATE: Duration = Duration::from_secs(3);

/// Channels and outputs on one time.
pub type ToldBoth = Aligned<Channels, [u16; 8]>;

impl SessionContext {
    /// Channels and outputs later than that, on one time.
    #[must_use]
    pub fn told_since(&self, after: Time) -> ToldBoth {
        let timings = self.timings();
        alignment::align(&timings.channels(), &timings.outputs(), after, self.round_trip())
    }

    /// The same by arrivals, for what is held against a message that carries no time.
    #[must_use]
    pub fn came_since(&self, after: Time) -> ToldBoth {
        let timings = self.timings();
        alignment::by_arrival(&timings.channels(), &timings.outputs(), after, self.round_trip())
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

    /// Has streams asked for at a rate that the link carries, where it does not carry the usual one: what does not fit
    /// waits, and makes everything old. A console is polled, and fits by itself.
    ///
    /// # Errors
    /// A stream is refused.
    pub async fn fit_streams(&self) -> Result<(), Fault> {
        while let Some((come, asked)) = self.carried() {
            if self.halve_rates().is_none() {
                return Ok(());
            }
            let (_, rate) = self.rates().find(|(stream, _)| *stream == Stream::Outputs).unwrap_or((Stream::Outputs, 0));
            let least = (intervals::PERIODS * 1000).div_ceil(rate.max(1));
            self.line(
                Tone::Warning,
                format!(
                    "This link carries {come} of {asked} outputs a second, so they are asked for {rate} times a second: \
                     times come out wider, and no limit under {least} ms can be shown. A faster link shows more."
                ),
            );
            self.start_streams().await?;
            self.sleep(OF_LATE + 2 * SETTLES).await;
        }
        Ok(())
    }

    /// How many outputs a second came of late, and were asked for, where that is far fewer.
    fn carried(&self) -> Option<(usize, usize)> {
        let since = self.now() - OF_LATE;
        let (_, asked) = self.rates().find(|(stream, _)| *stream == Stream::Outputs)?;
        let timings = self.timings().outputs();
        // Before they came for so long, or from a console, nothing is known.
        let known = self.streams_for() > OF_LATE + SETTLES && timings.last().is_some_and(|told| told.board.is_some());
        let seconds = usize::try_from(OF_LATE.as_secs()).unwrap_or(1);
        let come = timings.iter().filter(|told| told.came > since).count() / seconds;
        let asked = usize::try_from(asked).unwrap_or(0);
        (known && come * 10 < asked * 9).then_some((come, asked))
    }

    /// Whether the link can show a limit, by the slower of the two streams and by how far they may be apart.
    ///
    /// # Errors
    /// It can't; the error says which it can.
    pub async fn can_show(&self, within: Duration) -> Result<(), IntervalError> {
        // A silence from before the streams were asked for, as of a restart, tells nothing of the link.
        let settled = |bench: &Self| (bench.streams_for() >= 2 * SETTLES).then_some(());
        self.until(self.now() + 2 * SETTLES, settled).await;
        let told = self.told_since(self.now() - self.streams_for().saturating_sub(SETTLES).min(OF_LATE));
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
