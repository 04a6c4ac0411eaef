//! What steps are about: an idle search, sticks, a bound function, each with nothing left open.
//!
//! Values only. Must not be here: the steps themselves (see `step`).

use crate::board::convert::IdleScale;
use crate::board::value::SettingName;
use crate::language::recipe::{Function, Switch};
use crate::language::units::{Angle, Pulse};
use std::time::Duration;

/// What sticks shall give.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SticksAsked {
    /// Let go, and how near.
    pub centre: (Pulse, Pulse),
    /// Lower end, upper end, how near.
    pub ends: (Pulse, Pulse, Pulse),
    /// The board's channels of roll, pitch, throttle and yaw, where it says.
    pub channels: [Option<u32>; 4],
}

/// An idle search with nothing left open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdlePlan {
    /// The board's own name of the idle.
    pub name: SettingName,
    /// How the board counts it; every pulse below is one that it can hold.
    pub scale: IdleScale,
    /// Values tried, ascending.
    pub values: Vec<Pulse>,
    /// Starts that prove a value.
    pub starts: u32,
    /// How long each start turns.
    pub dwell: Duration,
    /// Added to the value found.
    pub margin: Pulse,
    /// The most that may stay on the board, margin included.
    pub at_most: Pulse,
    /// How level the craft must be.
    pub level: Angle,
    /// What was on the board before.
    pub before: Pulse,
    /// Whether a change of the idle takes a restart.
    pub restart: bool,
    /// What starts and stops it.
    pub arm: BoundFunction,
}

/// A function bound to a switch, as the plan left it: for proofs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoundFunction {
    /// Which function.
    pub function: Function,
    /// On which switch.
    pub switch: Switch,
    /// On in exactly these positions.
    pub positions: Vec<u32>,
    /// Where the switch is; `None` until a find before it has run.
    pub at: Option<SwitchAt>,
}

impl BoundFunction {
    /// The position that turns every function off: where a switch rests at power-up.
    pub const OFF: u32 = 0;
}

/// Where a switch is on the receiver's channels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SwitchAt {
    /// Channel from 1.
    pub channel: u32,
    /// Rest pulse of each position, position 0 first.
    pub rests: Vec<Pulse>,
}
