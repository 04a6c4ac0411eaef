//! The receiver: frames from the radio, and what it does when they stay away.
//!
//! The board hears pulses, or that there are none. A receiver that holds gives the board no way to know.

use super::config::{OnLoss, ReceiverConfig};
use super::radio::{CHANNELS, Radio};
use super::rng::uniform;
use crate::measure::time::Time;

const MISSING: u64 = 0x72;

/// The receiver as the board hears it.
#[derive(Clone)]
pub struct Receiver {
    pub config: ReceiverConfig,
    /// When the next frame is due.
    pub next: Time,
    frames: u64,
    last: [u16; CHANNELS],
    bound: bool,
    silent_since: Option<Time>,
    back_since: Option<Time>,
    lost: bool,
    seed: u64,
}

impl Receiver {
    pub fn new(config: ReceiverConfig, seed: u64) -> Self {
        Self {
            config,
            next: Time::NEVER,
            frames: 0,
            last: [0; CHANNELS],
            bound: false,
            silent_since: None,
            back_since: None,
            lost: false,
            seed,
        }
    }

    /// Whether it has power.
    pub fn powered(&self) -> bool {
        self.next < Time::NEVER
    }

    /// Power comes or goes. With power it must find its radio anew.
    pub fn power(&mut self, on: bool, now: Time) {
        self.next = if on { now + self.config.frame } else { Time::NEVER };
        self.bound = false;
        self.silent_since = None;
        self.back_since = None;
        self.lost = false;
    }

    /// One frame time is over.
    pub fn frame(&mut self, now: Time, radio: &Radio) {
        self.frames += 1;
        self.next = now + self.config.frame;
        let heard =
            radio.on && (self.config.missing <= 0.0 || uniform(self.seed, MISSING, self.frames) >= self.config.missing);
        if !heard {
            let since = *self.silent_since.get_or_insert(now);
            if now.since(since) >= self.config.notices_after {
                self.lost = true;
                self.back_since = None;
            }
            return;
        }
        self.silent_since = None;
        if self.lost && self.bound {
            let since = *self.back_since.get_or_insert(now);
            if now.since(since) < self.config.returns_after {
                return;
            }
        }
        self.lost = false;
        self.bound = true;
        self.last = radio.channels(now, self.frames);
    }

    /// The pulses that the board hears, µs; `None`: it is told that there is no radio.
    pub fn heard(&self) -> Option<[u16; CHANNELS]> {
        match &self.config.on_loss {
            _ if !self.bound => None,
            OnLoss::Flagged if self.lost => None,
            OnLoss::Fixed(pulses) if self.lost => {
                let mut last = self.last;
                for (place, pulse) in last.iter_mut().zip(pulses) {
                    if let Some(pulse) = pulse {
                        *place = *pulse;
                    }
                }
                Some(last)
            }
            _ => Some(self.last),
        }
    }
}
