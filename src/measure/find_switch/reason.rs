//! Why a search for a switch ended without an answer.
//!
//! Promises: each reason carries what a sentence needs, and its own sentence says what to do next.
//! Must not hold how the reasons are found.

use crate::measure::rounding;
use thiserror::Error;

/// No answer, and why.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NotFound {
    /// The hands-off window is too short.
    #[error(
        "the hands-off window lasted {lasted_ms} ms and has to last {needed_ms} ms; keep your hands off a little longer"
    )]
    QuietTooShort {
        /// Milliseconds from its first to its last frame.
        lasted_ms: u64,
        /// Milliseconds needed.
        needed_ms: u64,
    },
    /// Too little was heard from the receiver.
    #[error(
        "only {heard} receiver messages were heard where {needed} are needed; check that the radio is on and the receiver bound"
    )]
    TooFewFrames {
        /// Messages heard in the poorer of the two windows.
        heard: usize,
        /// Messages needed.
        needed: usize,
    },
    /// The receiver messages come too seldom to tell a dwell from a passage.
    #[error(
        "receiver messages come every {period_ms:.0} ms; to tell a jump from a movement they have to come at least every {most_ms:.0} ms"
    )]
    TooSlow {
        /// Median time between messages.
        period_ms: f64,
        /// Longest that will do.
        most_ms: f64,
    },
    /// A hole in the receiver messages, long enough to hide a position.
    #[error(
        "no receiver message came for {gap_ms} ms while the switch was worked; check the link and work the switch again"
    )]
    Gap {
        /// The longest hole.
        gap_ms: u64,
    },
    /// No channel moved.
    #[error(
        "no channel moved; check that the radio is on, that the switch is assigned to a channel in the radio, and that the receiver has its link{}",
        excluded_note(.excluded_moved)
    )]
    NothingMoved {
        /// Channels that moved but were not to be looked at.
        excluded_moved: Vec<u32>,
    },
    /// The channel moved while hands were to be off.
    #[error(
        "channel {channel} moved by {range:.0} µs in the hands-off window; begin again and work the switch only when asked"
    )]
    NotQuiet {
        /// Channel from 1.
        channel: u32,
        /// Its range in µs.
        range: f64,
    },
    /// Several channels moved like switches and can't be told apart.
    #[error("channels {} moved and can't be told apart; work one switch alone, or take the mix off in the radio", list(.channels))]
    Several {
        /// The channels, from 1.
        channels: Vec<u32>,
    },
    /// What moved, moved like a stick.
    #[error("channel {} moved like a stick, not in jumps; work the switch and leave the sticks alone", list(.channels))]
    StickLike {
        /// The channels, from 1.
        channels: Vec<u32>,
    },
    /// A pulse was passed without a dwell.
    #[error(
        "channel {channel} was near {pulse:.0} µs for only a moment; stay in every position for about half a second"
    )]
    PassedTooQuickly {
        /// Channel from 1.
        channel: u32,
        /// Where it was seen, in µs.
        pulse: f64,
    },
    /// Positions that were seen a single time.
    #[error("channel {channel} rested only once at {} µs; go through all positions at least twice", pulses(.rests))]
    SeenOnce {
        /// Channel from 1.
        channel: u32,
        /// Their rest pulses in µs.
        rests: Vec<f64>,
    },
    /// The switch began between its ends.
    #[error(
        "channel {channel} started at {start:.0} µs, between {low:.0} and {high:.0} µs; start and end with the switch at position 0, at one end of its travel"
    )]
    StartedInTheMiddle {
        /// Channel from 1.
        channel: u32,
        /// Rest pulse at the start in µs.
        start: f64,
        /// Lowest rest pulse in µs.
        low: f64,
        /// Highest rest pulse in µs.
        high: f64,
    },
    /// The switch did not end where it began.
    #[error(
        "channel {channel} started at {start:.0} µs and ended at {end:.0} µs; start and end with the switch at position 0"
    )]
    EndedElsewhere {
        /// Channel from 1.
        channel: u32,
        /// Rest pulse at the start in µs.
        start: f64,
        /// Last pulse in µs.
        end: f64,
    },
    /// Two rests so close that they can't be positions of their own.
    #[error(
        "channel {channel} rests at places only {:.0} µs apart, and positions have to be more than {:.0} µs apart; widen the travel of this channel in the radio",
        rounding::down(*.apart, 0),
        rounding::up(*.needed, 0)
    )]
    TooClose {
        /// Channel from 1.
        channel: u32,
        /// Least distance of two rests in µs.
        apart: f64,
        /// Distance that has to be exceeded, in µs.
        needed: f64,
    },
    /// More positions than a switch has.
    #[error("channel {channel} rests in {count} places; a switch has 2 to 6 positions")]
    TooMany {
        /// Channel from 1.
        channel: u32,
        /// Places seen.
        count: usize,
    },
    /// Another number of positions than the recipe says.
    #[error("channel {channel} has {} positions ({} µs) and the recipe says {expected}; go through every position, or put the recipe right", .rests.len(), pulses(.rests))]
    CountDiffers {
        /// Channel from 1.
        channel: u32,
        /// Rest pulses found in µs, position 0 first.
        rests: Vec<f64>,
        /// What the recipe says.
        expected: usize,
    },
}

fn excluded_note(channels: &[u32]) -> String {
    if channels.is_empty() {
        String::new()
    } else {
        format!(" (moved, but known as something else: channel {})", list(channels))
    }
}

fn list(channels: &[u32]) -> String {
    let words: Vec<String> = channels.iter().map(u32::to_string).collect();
    words.join(", ")
}

fn pulses(rests: &[f64]) -> String {
    let words: Vec<String> = rests.iter().map(|r| format!("{r:.0}")).collect();
    words.join(", ")
}
