//! The strip under whatever is asked: what the asked switch, stick, attitude or motor does now, as values.
//!
//! Promises: nothing here decides anything, and a strip that is never drawn costs nobody anything. Must not be here:
//! layout, and what is asked.

use crate::language::recipe::Switch;
use crate::language::units::Pulse;
use std::time::Duration;

/// See the module.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Strip {
    /// What is seen now, what matters most first.
    pub now: Vec<Now>,
    /// How long it may still take.
    pub time: Option<TimeLeft>,
}

/// So much of a time that is no longer in all is told in tenths of a second.
pub const SHORT: Duration = Duration::from_secs(10);

/// How long something may still take, of how long in all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "named after what they are")]
pub struct TimeLeft {
    pub left: Duration,
    pub whole: Duration,
}

/// One thing that is seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Now {
    /// A switch; no pulse: its channel is not heard.
    Switch {
        /// Which.
        switch: Switch,
        /// Its channel's pulse.
        pulse: Option<Pulse>,
        /// The position that it rests in, if it rests in one.
        position: Option<u32>,
        /// The position that is asked for, if one is.
        asked: Option<u32>,
    },
    /// The throttle stick; no pulse: its channel is not heard.
    Throttle {
        /// Its channel's pulse.
        pulse: Option<Pulse>,
        /// Low, as the guard has it.
        low: bool,
    },
    /// The channel that moved most since something was asked.
    Moves {
        /// From 1.
        channel: u32,
        /// Now.
        pulse: Pulse,
        /// Least and most since then.
        between: (Pulse, Pulse),
    },
    /// What is still missing of a gesture.
    Missing(&'static str),
    /// Roll and pitch in tenths of a degree.
    Attitude(i32, i32),
    /// The pack in hundredths of a volt; `None`: not told.
    Pack(Option<u32>),
    /// Whether the radio is heard.
    Radio(bool),
    /// Armed, as the board says.
    Armed(bool),
    /// A motor of a start.
    Motor {
        /// Where it sits.
        corner: String,
        /// Its speed in rpm, where it is told.
        rpm: Option<u32>,
        /// Its output in µs.
        output: u16,
        /// Its speeds of late in rpm, the oldest first.
        trace: Vec<u32>,
    },
}
