//! What the receiver said at one moment.
//!
//! Promises: pulses as the board reported them, in µs, unused channels told from used ones.
//! Must not hold what a channel means.

use super::time::Time;

/// Channels that one message can carry (MAVLink `common`, `RC_CHANNELS`).
pub const CHANNELS: usize = 18;
/// Their numbers.
pub const CHANNEL_NUMBERS: std::ops::RangeInclusive<i64> = 1..=18;

/// Receiver channels at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChannelFrame {
    /// When it was heard.
    pub at: Time,
    /// Pulse widths in µs by channel from 0; `None` where unused.
    pub pulses: [Option<u16>; CHANNELS],
}

impl ChannelFrame {
    /// Pulse in µs of a channel counted from 1; `None` where there is none.
    #[must_use]
    pub fn pulse(&self, channel: u32) -> Option<u16> {
        let index = usize::try_from(channel).ok()?.checked_sub(1)?;
        self.pulses.get(index).copied().flatten()
    }
}

/// The pulses of one channel (from 1) in µs, where the frames have it.
#[must_use]
pub fn pulses_of(frames: &[ChannelFrame], channel: u32) -> Vec<f64> {
    frames.iter().filter_map(|f| f.pulse(channel)).map(f64::from).collect()
}
