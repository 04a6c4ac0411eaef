//! The stop: sent at once, again and again, until everything is seen at rest.
//!
//! It overtakes everything queued and needs no clearance. An acknowledgement confirms nothing; only
//! the armed flag off, the arm switch off, outputs at rest and, where measured, speeds at zero for one
//! second do. It is not given up while anything is driven. Must not be here: what makes a stop (see
//! `watch` and `session`).

use crate::interlock::craft::Facts;
use crate::interlock::guards::{self, ARMED_AGE, STREAM_AGE};
use crate::interlock::signals::{Live, at_rest};
use crate::interlock::state::Stopping;
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use std::time::Duration;

/// How often the bytes go out at first.
pub const QUICK: Duration = Duration::from_millis(20);
/// And after the first second.
const SLOW: Duration = Duration::from_millis(100);
/// From when the large words stand, and a forced disarm may be tried.
pub const WARN_AFTER: Duration = Duration::from_millis(300);
/// How often the large words are said again.
const WARN_AGAIN: Duration = Duration::from_secs(5);
/// How long everything must be seen at rest.
const REST: Duration = Duration::from_secs(1);
/// How long the switch may stay on with everything else at rest, before the stop ends as not confirmed.
const SWITCH_WAIT: Duration = Duration::from_secs(60);
/// How long a lost wire is waited for, to go on stopping over it.
const LOST_WAIT: Duration = Duration::from_secs(30);
/// A board that nobody hears for this long is not stopped any further once nobody is at the terminal.
const SILENT: Duration = Duration::from_secs(10);
/// A speed under this is rest, rpm.
const STILL: f64 = 1.0;

/// What to do at this moment of a stop.
#[derive(Debug, Clone, PartialEq, Eq)]
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
    /// Say that the switch has to go off.
    SwitchOff(Option<Switch>),
    /// Say that the radio has to go on, for the switch to be seen off.
    RadioOn,
    /// Everything was seen at rest for a second.
    Confirmed,
    /// It could not be confirmed.
    Unconfirmed,
}

impl Stopping {
    /// A stop that begins now.
    #[must_use]
    pub fn begin(reason: String, now: Time, ours: bool, switch: Option<Switch>) -> Self {
        Self {
            reason,
            since: now,
            next: now,
            rest_since: None,
            warned: None,
            ours,
            lost: false,
            asked: None,
            switch,
            said_switch: false,
            said_radio: false,
        }
    }

    /// When this stop has something to do next.
    #[must_use]
    pub fn wake(&self) -> Time {
        self.next
    }

    /// One thing to do now; asked again until it says [`StopWork::Wait`].
    pub fn work(&mut self, live: &Live, facts: Option<&Facts>, nobody: bool, now: Time) -> StopWork {
        let driven = !driven_at_rest(live, now);
        let switch_on = facts.is_some_and(|facts| seen_on(live, facts, now));
        if driven || switch_on || !speeds_at_rest(live, facts, now) {
            self.rest_since = None;
        } else {
            self.rest_since.get_or_insert(now);
        }
        if self.rest_since.is_some_and(|since| now.since(since) >= REST) {
            return StopWork::Confirmed;
        }
        let age = now.since(self.since);
        if driven && age >= WARN_AFTER && self.warned.is_none_or(|at| now.since(at) >= WARN_AGAIN) {
            self.warned = Some(now);
            return StopWork::Warn;
        }
        if switch_on && !self.said_switch {
            self.said_switch = true;
            return StopWork::SwitchOff(self.switch.clone());
        }
        if switch_on && !driven && !self.said_radio && radio_off(live, now) {
            self.said_radio = true;
            return StopWork::RadioOn;
        }
        // Nobody is there to be told, and the board says nothing any more: the plug is out, or it is gone.
        if nobody
            && age >= SILENT
            && live.armed.fresh(now, SILENT).is_none()
            && live.outputs.fresh(now, SILENT).is_none()
        {
            return StopWork::Unconfirmed;
        }
        if (self.lost && age >= LOST_WAIT) || (!driven && age >= SWITCH_WAIT) {
            return StopWork::Unconfirmed;
        }
        if now < self.next {
            return StopWork::Wait;
        }
        self.next = now + if age < Duration::from_secs(1) { QUICK } else { SLOW };
        if self.lost {
            return StopWork::Wait;
        }
        StopWork::Send { force: self.ours && driven && age >= WARN_AFTER }
    }
}

/// The arm switch on, as heard or as last heard. Where no channels come at all, nothing is said of it.
fn seen_on(live: &Live, facts: &Facts, now: Time) -> bool {
    live.channels.fresh(now, STREAM_AGE).is_some() && guards::arm_switch_off(live, facts, now).is_err()
}

/// Flag off and outputs at rest, both heard.
fn driven_at_rest(live: &Live, now: Time) -> bool {
    live.armed.fresh(now, ARMED_AGE) == Some(false)
        && live.outputs.fresh(now, STREAM_AGE).is_some_and(|outputs| at_rest(&outputs))
}

/// The board gives channels, and none come from a radio.
fn radio_off(live: &Live, now: Time) -> bool {
    live.channels.fresh(now, STREAM_AGE).is_some_and(|channels| channels.count == 0)
}

/// Speeds at zero, where the board sends any: a stream that fell silent is not rest.
fn speeds_at_rest(live: &Live, facts: Option<&Facts>, now: Time) -> bool {
    match live.speeds.fresh(now, Duration::from_secs(1)) {
        Some(speeds) => speeds.iter().flatten().all(|rpm| *rpm < STILL),
        None => live.speeds.last().is_none() || !facts.is_some_and(|facts| facts.speeds),
    }
}
