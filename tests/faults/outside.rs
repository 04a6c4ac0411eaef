//! The guardian beside the program: the machine that the real one pumps, which may be killed or stopped.
//!
//! Must not be here: when it fires, what becomes of its bytes.

use quadjig::measure::time::Time;
use quadjig::world::guardian::machine::{Guardian, GuardianInput, GuardianOutput};
use std::collections::VecDeque;

/// See the module.
#[derive(Debug, Default)]
pub struct Outside {
    machine: Guardian,
    /// It does not run until then, and what is told it waits.
    stopped_until: Time,
    waits: VecDeque<GuardianInput>,
}

impl Outside {
    pub fn stops_until(&mut self, until: Time) {
        self.stopped_until = self.stopped_until.max(until);
    }

    pub fn runs(&self, now: Time) -> bool {
        now >= self.stopped_until
    }

    /// Takes what it is told, once it runs.
    pub fn hears(&mut self, now: Time, heard: GuardianInput) -> Vec<GuardianOutput> {
        self.waits.push_back(heard);
        self.works(now)
    }

    /// When it has something to do.
    pub fn wake(&self) -> Time {
        if self.waits.is_empty() { self.machine.due().max(self.stopped_until) } else { self.stopped_until }
    }

    /// Does what is due: first what it was told, then what time asks of it.
    pub fn works(&mut self, now: Time) -> Vec<GuardianOutput> {
        if !self.runs(now) {
            return Vec::new();
        }
        let mut deeds = Vec::new();
        while let Some(heard) = self.waits.pop_front() {
            deeds.extend(self.machine.hear(now, heard));
        }
        deeds.extend(self.machine.work(now, true));
        deeds
    }
}
