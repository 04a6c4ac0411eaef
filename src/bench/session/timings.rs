//! The channels and outputs of late as they came, for times that are measured from the one to the other.
//!
//! Promises: arrivals and the board's own times, nothing put right. Must not be here: whether anything is fresh (see the
//! interlock), and what is measured.

use crate::board::signals::LinkEvent;
use crate::interlock::signals::Channels;
use crate::measure::time::Time;
use crate::measure::told::Told;
use std::collections::VecDeque;

/// So many of each are kept: ten seconds of fifty a second, and more.
const KEPT: usize = 1024;

/// See the module.
#[derive(Debug, Default)]
pub struct Timings {
    channels: VecDeque<Told<Channels>>,
    outputs: VecDeque<Told<[u16; 8]>>,
}

impl Timings {
    pub(super) fn take(&mut self, came: Time, event: &LinkEvent) {
        match event {
            LinkEvent::Channels { count, pulses, board_time } => {
                let value = Channels { count: *count, pulses: *pulses };
                push(&mut self.channels, Told { came, board: *board_time, value });
            }
            LinkEvent::Outputs { pulses, board_time } => {
                push(&mut self.outputs, Told { came, board: *board_time, value: *pulses });
            }
            _ => {}
        }
    }

    /// Channels of late.
    #[must_use]
    pub fn channels(&self) -> Vec<Told<Channels>> {
        self.channels.iter().copied().collect()
    }

    /// Outputs of late.
    #[must_use]
    pub fn outputs(&self) -> Vec<Told<[u16; 8]>> {
        self.outputs.iter().copied().collect()
    }
}

fn push<T>(all: &mut VecDeque<Told<T>>, told: Told<T>) {
    if all.len() == KEPT {
        all.pop_front();
    }
    all.push_back(told);
}
