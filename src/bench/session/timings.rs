//! Channels, outputs, headings and speeds of late as they came, for what is measured of them.
//!
//! Promises: arrivals and the board's own times, nothing put right. Must not be here: whether anything is fresh (see the
//! interlock), and what is measured.

use crate::board::signals::LinkEvent;
use crate::interlock::signals::Channels;
use crate::measure::alignment::Arrival;
use crate::measure::time::Time;
use std::collections::VecDeque;

/// So many of each are kept: ten seconds of fifty a second, and more.
const KEPT: usize = 1024;

/// See the module.
#[derive(Debug, Default)]
pub struct Timings {
    channels: VecDeque<Arrival<Channels>>,
    outputs: VecDeque<Arrival<[u16; 8]>>,
    /// Where the craft headed, degrees clockwise.
    headings: VecDeque<(Time, f64)>,
    /// Speeds of the first eight motors in rpm, with their sign.
    speeds: VecDeque<(Time, [Option<f64>; 8])>,
}

impl Timings {
    pub(super) fn take(&mut self, came: Time, event: &LinkEvent) {
        match event {
            LinkEvent::Channels { count, pulses, board_time } => {
                let value = Channels { count: *count, pulses: *pulses };
                push(&mut self.channels, Arrival { came, board: *board_time, value });
            }
            LinkEvent::Outputs { pulses, board_time } => {
                push(&mut self.outputs, Arrival { came, board: *board_time, value: *pulses });
            }
            LinkEvent::Attitude { yaw, .. } => push(&mut self.headings, (came, f64::from(*yaw).to_degrees())),
            LinkEvent::Speeds { first, rpm, count } => {
                let mut all = self.speeds.back().map_or([None; 8], |(_, all)| *all);
                for (slot, speed) in all.iter_mut().skip(usize::from(*first)).zip(rpm).take(usize::from(*count)) {
                    *slot = Some(f64::from(*speed));
                }
                push(&mut self.speeds, (came, all));
            }
            _ => {}
        }
    }

    /// Speeds by motor later than that, with the last before.
    #[must_use]
    pub fn speeds(&self, after: Time) -> Vec<(Time, [Option<f64>; 8])> {
        let later = self.speeds.partition_point(|(came, _)| *came <= after);
        self.speeds.range(later.saturating_sub(1)..).copied().collect()
    }

    /// Headings later than that, degrees clockwise.
    #[must_use]
    pub fn headings(&self, after: Time) -> Vec<f64> {
        self.headings.iter().filter(|(came, _)| *came > after).map(|(_, heading)| *heading).collect()
    }

    /// Channels of late.
    #[must_use]
    pub fn channels(&self) -> Vec<Arrival<Channels>> {
        self.channels.iter().copied().collect()
    }

    /// Outputs of late.
    #[must_use]
    pub fn outputs(&self) -> Vec<Arrival<[u16; 8]>> {
        self.outputs.iter().copied().collect()
    }
}

fn push<T>(all: &mut VecDeque<T>, told: T) {
    if all.len() == KEPT {
        all.pop_front();
    }
    all.push_back(told);
}
