//! The stop: sent at once, again and again, until everything is seen at rest.
//!
//! It overtakes everything queued and needs no clearance. An acknowledgement confirms nothing; only
//! the armed flag off, the arm switch out of its band, outputs at rest and, where measured, speeds at
//! zero for one second do.
//! Must not be here: what makes a stop (see `watch` and `session`).

use super::facts::Facts;
use super::guards::{self, ARMED_AGE, STREAM_AGE};
use super::live::{Live, at_rest};
use super::mode::Stopping;
use crate::measure::time::Time;
use std::time::Duration;

/// How often the bytes go out at first.
pub const QUICK: Duration = Duration::from_millis(20);
/// And after the first second.
const SLOW: Duration = Duration::from_millis(100);
/// From when the large words stand, and a forced disarm may be tried.
pub const WARN_AFTER: Duration = Duration::from_millis(300);
/// How long everything must be seen at rest.
const REST: Duration = Duration::from_secs(1);
/// When a stop that was never confirmed is given up as unconfirmed.
const GIVE_UP: Duration = Duration::from_secs(60);

/// What to do at this moment of a stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopWork {
    /// Nothing now.
    Wait,
    /// Send the stop bytes again; forced where `true`.
    Send {
        /// As the second try only.
        force: bool,
    },
    /// Show the large words.
    Warn,
    /// Say that the arm switch is still on: disarmed by command is not switched off.
    SwitchOff,
    /// Everything was seen at rest for a second.
    Confirmed,
    /// It could not be confirmed.
    Unconfirmed,
}

impl Stopping {
    /// A stop that begins now.
    #[must_use]
    pub fn begin(reason: String, now: Time, ours: bool) -> Self {
        Self { reason, since: now, next: now, rest_since: None, warned: false, told: false, ours, lost: false }
    }

    /// When this stop has something to do next.
    #[must_use]
    pub fn wake(&self) -> Time {
        self.next
    }

    /// One thing to do now; asked again until it says [`StopWork::Wait`].
    pub fn work(&mut self, live: &Live, facts: Option<&Facts>, now: Time) -> StopWork {
        let rest = at_rest_now(live, now);
        let switch_off = facts.is_none_or(|facts| guards::arm_switch_off(live, facts, now).is_ok());
        if rest && switch_off && coasted(live, now) {
            self.rest_since.get_or_insert(now);
        } else {
            self.rest_since = None;
        }
        if self.rest_since.is_some_and(|since| now.since(since) >= REST) {
            return StopWork::Confirmed;
        }
        let age = now.since(self.since);
        if !rest && !self.warned && age >= WARN_AFTER {
            self.warned = true;
            return StopWork::Warn;
        }
        if rest && !switch_off && !self.told && age >= WARN_AFTER {
            self.told = true;
            return StopWork::SwitchOff;
        }
        if age >= GIVE_UP || (self.lost && age >= Duration::from_secs(3)) {
            return StopWork::Unconfirmed;
        }
        if now < self.next {
            return StopWork::Wait;
        }
        self.next = now + if age < Duration::from_secs(1) { QUICK } else { SLOW };
        if self.lost {
            return StopWork::Wait;
        }
        StopWork::Send { force: self.ours && !rest && age >= WARN_AFTER }
    }
}

/// Flag off and outputs at rest; motors may still coast.
fn at_rest_now(live: &Live, now: Time) -> bool {
    live.armed.fresh(now, ARMED_AGE) == Some(false)
        && live.outputs.fresh(now, STREAM_AGE).is_some_and(|outputs| at_rest(&outputs))
}

fn coasted(live: &Live, now: Time) -> bool {
    live.speeds.fresh(now, Duration::from_secs(1)).is_none_or(|s| s.iter().flatten().all(|rpm| *rpm < 1.0))
}
