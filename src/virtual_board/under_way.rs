//! What a board has under way: deeds that are owed, long work, a list.
//!
//! Must not be here: how it goes on with them (see `deeds`, `parameters`).

use super::wire::Sender;
use crate::measure::time::Time;
use std::time::Duration;

/// Something acknowledged that is still to be done.
#[derive(Debug, Clone, Copy)]
pub enum Owed {
    /// A setting, by place, and its value.
    Write(usize, f64),
    Store,
    Restart,
    Disarm,
    Run {
        output: usize,
        pulse: u16,
        lasts: Duration,
    },
}

/// What takes a while.
#[derive(Debug, Clone, Default)]
pub struct Longer {
    /// Storing: for whom, how many words have been said of it, when the next is due.
    pub storing: Option<(Sender, u8, Time)>,
    /// Signs of life of the others so far, and when the next is due.
    pub beats: (u8, Time),
}

impl Longer {
    pub fn wake(&self) -> Time {
        self.storing.map_or(Time::NEVER, |(_, _, at)| at).min(self.beats.1)
    }

    /// The board restarts: what it was at is lost.
    pub fn restart(&mut self) {
        self.storing = None;
    }
}

/// A list on its way.
#[derive(Clone)]
pub struct Listing {
    pub next: usize,
    pub at: Time,
}

impl Listing {
    pub fn new(now: Time) -> Self {
        Self { next: 0, at: now }
    }
}
