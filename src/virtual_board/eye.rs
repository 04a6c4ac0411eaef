//! What an eye that looks at the motors sees: which turned since it looked last, and which of them only after a while.
//!
//! Promises: no more than a person sees who looks on. Must not be here: what is answered, and by whom.

use super::frame::MOST;
use super::motor::{Motor, Phase};
use crate::measure::time::Time;
use std::time::Duration;

/// Whoever looks on sees that a motor began this much after it was driven: what takes less may pass for at once (*common
/// practice*: half again what a person takes to react to what moves).
const SEEN_LATE: Duration = Duration::from_millis(300);

/// Of each place of the frame.
#[derive(Clone, Default)]
pub struct Eye {
    /// It turned since somebody looked.
    turned: [bool; MOST],
    /// It did so late.
    late: [bool; MOST],
    /// Since when it is driven.
    driven: [Option<Time>; MOST],
    /// It is turning.
    turns: [bool; MOST],
}

impl Eye {
    /// Watches a motor. One that twitches before it catches, or comes to a stop and twitches again, does not turn.
    pub fn watches(&mut self, now: Time, place: usize, motor: &Motor) {
        if motor.phase() == Phase::Still {
            (self.driven[place], self.turns[place]) = (None, false);
            return;
        }
        let driven = *self.driven[place].get_or_insert(now);
        let turns = motor.phase() == Phase::Turning && !motor.twitches(now);
        self.late[place] |= turns && !self.turns[place] && now.since(driven) >= SEEN_LATE;
        self.turned[place] |= turns;
        self.turns[place] = turns;
    }

    /// Which turned since this was asked last, and which of these late.
    pub fn looks(&mut self) -> ([bool; MOST], [bool; MOST]) {
        (std::mem::take(&mut self.turned), std::mem::take(&mut self.late))
    }
}
