//! The stop: sent at once, again and again, until everything is seen at rest.
//!
//! It overtakes everything queued and needs no clearance. An acknowledgement confirms nothing; only the armed flag off,
//! the arm switch off, outputs at rest and, where measured, speeds at zero for one second do. It is not given up while
//! anything is driven. Must not be here: what makes a stop (see `watch`), and whether it may leave (see `authority`).

use super::authority::Authority;
use super::contact::{self, Contact, REST};
use super::contact_end::Ended;
use super::craft::Facts;
use super::guards;
use super::signals::{STREAM_AGE, Signals};
use super::{Interlock, Order};
use crate::board::binding::BoundNow;
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::guardian::{QUICK, QUICK_FOR, SLOW};
use crate::seam::ui::UiEvent;
use std::time::Duration;

/// From when the large words stand, and how long plain stops leave before a forced disarm is tried.
const WARN_AFTER: Duration = Duration::from_millis(300);
/// How often the large words are said again.
const WARN_AGAIN: Duration = Duration::from_secs(5);
/// How long the switch may stay on with everything else at rest, before the stop ends as not confirmed.
const SWITCH_WAIT: Duration = Duration::from_secs(60);
/// How long a craft that is not there is waited for, to go on stopping it.
const LOST_WAIT: Duration = Duration::from_secs(30);
/// What was on its way is heard so much later than a wire went.
const HEARD_LATE: Duration = Duration::from_millis(50);
/// A board that nobody hears for this long is not stopped any further once nobody is at the terminal.
const SILENT: Duration = Duration::from_secs(10);

/// What to do at this moment of a stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum StopWork {
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

/// A stop under way.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Stop {
    /// Why.
    pub reason: String,
    /// When it began.
    pub since: Time,
    /// Nothing turned or was to turn when it began.
    pub from_rest: bool,
    /// Of the start that it ended: when it was entered, and until when it was invited.
    pub invited: Option<(Time, Time)>,
    /// A hand made it: the battery went in before it was asked for, the arm switch on once more, the throttle up before
    /// anything turned.
    pub by_hand: bool,
    /// Until when its motor may turn by itself, should it have been its cable that went.
    pub of_cable: Option<Time>,
    /// The same, once it was: the large words wait for it.
    pub without_cable: Option<Time>,
    /// When the bytes go out next.
    next: Time,
    /// When they last did so, and for how long by now; while this program did not run, none left.
    sent: Option<Time>,
    plain: Duration,
    rest_since: Option<Time>,
    /// Since when it is not known whether the craft is there.
    lost: Option<Time>,
    warned: Option<Time>,
    /// The switch that started it, if one did.
    switch: Option<Switch>,
    said_switch: bool,
    said_radio: bool,
}

/// What a stop looks at.
pub(super) struct Seen<'s> {
    pub signals: &'s Signals,
    pub craft: Option<&'s Facts>,
    /// Arm bands that were on their way when it began.
    pub bands_in_writing: &'s [BoundNow],
    /// The craft that is to be stopped is surely the one that is heard.
    pub there: bool,
    /// What may leave for it.
    pub authority: Authority,
    /// Nobody is at the terminal.
    pub nobody: bool,
    pub now: Time,
}

impl Stop {
    /// A stop that begins now.
    pub fn begin(reason: String, now: Time, switch: Option<Switch>) -> Self {
        Self { reason, since: now, next: now + QUICK, switch, ..Self::default() }
    }

    /// What left until now left for whoever was met before.
    pub fn meets_anew(&mut self) {
        (self.sent, self.plain) = (None, Duration::ZERO);
    }

    /// When it has something to do next.
    pub fn wake(&self) -> Time {
        self.next
    }

    /// One thing to do now; asked again until it says [`StopWork::Wait`].
    pub fn work(&mut self, seen: &Seen<'_>) -> StopWork {
        let (signals, now) = (seen.signals, seen.now);
        let driven = !(seen.there && contact::undriven(signals, now));
        let switch_on = seen.craft.is_some_and(|craft| seen_on(signals, craft, seen.bands_in_writing, now));
        let speeds = contact::speeds_at_rest(signals, seen.craft.map_or(0, Facts::speeds_told), now);
        if driven || switch_on || !speeds {
            self.rest_since = None;
        } else {
            self.rest_since.get_or_insert(now);
        }
        if self.rest_since.is_some_and(|since| now.since(since) >= REST) {
            return StopWork::Confirmed;
        }
        let age = now.since(self.since);
        self.lost = if seen.there { None } else { self.lost.or(Some(now)) };
        let lost = self.lost.is_some_and(|since| now.since(since) >= LOST_WAIT);
        let waits = self.without_cable.is_some_and(|until| now < until);
        if driven && !waits && age >= WARN_AFTER && self.warned.is_none_or(|at| now.since(at) >= WARN_AGAIN) {
            self.warned = Some(now);
            return StopWork::Warn;
        }
        if switch_on && !std::mem::replace(&mut self.said_switch, true) {
            return StopWork::SwitchOff(self.switch.clone());
        }
        if switch_on && !driven && radio_off(signals, now) && !std::mem::replace(&mut self.said_radio, true) {
            return StopWork::RadioOn;
        }
        // Nobody is there to be told, and the board says nothing any more: the plug is out, or it is gone.
        let silent = signals.armed.fresh(now, SILENT).is_none() && signals.outputs.fresh(now, SILENT).is_none();
        let given_up = seen.nobody && age >= SILENT && silent;
        if given_up || lost || (!driven && age >= SWITCH_WAIT) {
            return StopWork::Unconfirmed;
        }
        if now < self.next {
            return StopWork::Wait;
        }
        self.next = now + if self.plain < QUICK_FOR { QUICK } else { SLOW };
        if seen.authority == Authority::Nothing {
            return StopWork::Wait;
        }
        self.plain += self.sent.replace(now).map_or(Duration::ZERO, |last| now.since(last).min(SLOW));
        StopWork::Send { force: seen.authority == Authority::Forced && driven && self.plain >= WARN_AFTER }
    }
}

/// What is said of the plugs.
impl Interlock {
    /// The contact is over while something may turn: the large words at once; but where the cable went as it was confirmed
    /// to, first what is looked for, and until when. The guardian, whose wire it is too, may have missed it first: nothing
    /// was heard since then.
    pub(super) fn says_what_to_pull(&mut self, why: &Ended, was: Option<&Contact>) {
        let heard = was.map_or(self.now, |was| was.heard);
        let stop = self.stop.as_mut().filter(|stop| *why == Ended::WireLost && heard <= stop.since + HEARD_LATE);
        if let Some(stop) = stop {
            stop.without_cable = stop.of_cable.filter(|until| self.now < *until);
        }
        match self.without_cable_until() {
            Some(until) => self.orders.push(Order::Say(UiEvent::CableOut(until.since(self.now)))),
            None => self.pull_the_plugs(),
        }
    }

    /// Until when a motor may turn whose cable went as it was to.
    #[must_use]
    pub fn without_cable_until(&self) -> Option<Time> {
        self.stop.as_ref().and_then(|stop| stop.without_cable)
    }

    /// The large words, for all that may feed a motor.
    pub(super) fn pull_the_plugs(&mut self) {
        self.orders.push(Order::Say(UiEvent::PullTheBattery));
        let cable_out = self.wire.is_none() && self.without_cable_until().is_some();
        if !cable_out && self.craft.as_ref().is_some_and(|craft| craft.usb_feeds_motors) {
            self.orders.push(Order::Say(UiEvent::PullTheUsbCable));
        }
    }
}

/// A switch on that arms or has the motors sound, as heard or as last heard: where stops keep a console from telling its
/// channels, a craft that arms again between two of them looks at rest. Where no channels ever came, nothing is said of it.
fn seen_on(signals: &Signals, craft: &Facts, in_writing: &[BoundNow], now: Time) -> bool {
    let fresh = signals.channels.fresh(now, STREAM_AGE);
    let bands = [&craft.arm_bands, &craft.sounding_bands, in_writing];
    if fresh.or(signals.last_heard).is_some_and(|heard| bands.iter().any(|bands| heard.turn_on(bands))) {
        return true;
    }
    let off = guards::arm_switch_off(signals, craft, now).and_then(|()| guards::motors_silent(signals, craft, now));
    fresh.is_some() && off.is_err()
}

/// The board gives channels, and none come from a radio.
fn radio_off(signals: &Signals, now: Time) -> bool {
    signals.channels.fresh(now, STREAM_AGE).is_some_and(|channels| channels.count == 0)
}
