//! The judgement of a moment: who is there, what is at rest, whether what is seen may go on, the stop, the hold.
//!
//! Promises: bytes of a stop are the first order of whatever makes one. Must not be here: what each of them is judged by
//! (see `contact`, `watch`, `stop`, `authority`).

use super::contact::{ASK_AGAIN, Attested};
use super::craft::Facts;
use super::phase::{Happening, Phase};
use super::questions::SILENCE_OVER;
use super::signals::{Channels, Pack};
use super::start::{Start, Tested};
use super::stop::{self, Stop, StopWork};
use super::watch::{self, View};
use super::{Authority, Doubt, Ended, Interlock, Order, RENEW, guards, rhythm};
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, Placement, StartedBy, Tone, UiEvent};
use std::time::Duration;

/// A switch is heard as much later at most than what it did.
const HEARD_LATE: Duration = Duration::from_millis(500);

/// The judgement of a moment.
impl Interlock {
    /// Judges: who is there, what is at rest, whether what is seen may go on, the stop under way, the hold.
    pub fn judge(&mut self) {
        if self.looks_only {
            return self.note_rest();
        }
        self.mind_the_guardian();
        self.judge_contact();
        self.note_rest();
        self.mind_the_battery();
        self.judge_signals();
        self.note_obeyed();
        self.note_armed();
        self.work_stop();
        self.judge_hold();
    }

    /// What the guardian did by itself, or did not, stops.
    fn mind_the_guardian(&mut self) {
        let overdue = self.guardian.overdue(self.now);
        let reason = if self.guardian.fired() {
            "this program stood still"
        } else if self.held.is_some() && self.guardian.gone() {
            "the guardian process of this program is gone"
        } else if overdue {
            "the guardian process of this program did not answer"
        } else {
            return;
        };
        // Fired and heard of after the stop was seen to its end: it is only told to let go.
        if self.phase.any_key_stops() {
            self.stop(reason);
        }
    }

    pub(super) fn judge_contact(&mut self) {
        let now = self.now;
        let expected = self.restart.is_some() || self.phase == Phase::Storing;
        let Some(contact) = &mut self.contact else {
            // Whoever is on the wire of a stop, or answered so that it proves nothing, is asked who it is, and nothing else.
            let asks = self.phase == Phase::Stopping || self.asked.is_half_answered(now);
            if asks && self.wire.is_some() && now >= self.ask_at {
                self.ask();
            }
            return;
        };
        if now.since(contact.heard) > SILENCE_OVER && !expected {
            return self.end_contact(Ended::Silent);
        }
        let late = self.signals.armed.last().is_some_and(|flag| now.since(flag.at) > self.signals.flag_limit());
        if late && !expected {
            contact.becomes_doubtful(now, Doubt::Silence);
        }
        let unsure = contact.doubt().is_some() || contact.is_unproved(now);
        // Asked anew for its time alone, once nothing else is on its way that could be taken for the answer.
        let unmeasured = contact.is_unmeasured() && self.asked.are_over(now, contact.patience());
        if (unsure || unmeasured || contact.has_not_answered_again()) && now >= self.ask_at {
            self.ask();
        }
        // One that was lost on the way is not waited for until it is too old: nothing is believed the longer for it.
        if !unsure && !expected && self.signals.flag_is_late(now) && now >= self.ask_flag_at {
            self.ask_flag_at = now + rhythm::ASK_AGAIN;
            self.signals.flag_is_asked(now);
            self.orders.push(Order::ArmedFlag);
        }
    }

    pub(super) fn ask(&mut self) {
        self.ask_at = self.now + ASK_AGAIN;
        self.orders.push(Order::Identify);
    }

    pub(super) fn note_rest(&mut self) {
        let now = self.now;
        let speeds = self.craft.as_ref().map_or(0, Facts::speeds_told);
        let Some(contact) = &mut self.contact else { return };
        let rests = contact.note_rest(&self.signals, speeds, now);
        self.signs_of_life |= contact.seen_at_rest;
        if rests {
            contact.rested = true;
            if matches!(self.phase, Phase::Still | Phase::Latched) && !self.plug_in_invited {
                self.warrant = None;
            }
        }
        let unpowered = watch::unpowered(&self.signals, self.craft.as_ref(), now);
        self.heat.note(&self.signals, unpowered, now);
    }

    /// A battery that goes out takes the attestation of taken-off propellers with it; none goes in uninvited; and what
    /// contradicts a typed word voids it.
    pub(super) fn mind_the_battery(&mut self) {
        let now = self.now;
        if self.waits_for_who_it_is() {
            return;
        }
        let pack = self.signals.pack(now);
        let was = self.pack;
        if pack != Pack::Unknown {
            self.pack = pack;
        }
        if was == Pack::In && pack == Pack::Out {
            self.attested(|attested| attested.props_off = None);
        }
        let at_rest = matches!(self.phase, Phase::Still | Phase::SwitchesWorked | Phase::Storing | Phase::Latched);
        if was == Pack::Out && pack == Pack::In && !self.plug_in_invited && at_rest {
            self.attested(Attested::battery_unsaid);
            self.stop("the battery went in before it was asked for");
            return self.stop.iter_mut().for_each(|stop| stop.by_hand = true);
        }
        let Some(contact) = self.contact.as_ref().filter(|contact| contact.attested.battery_out) else { return };
        let view = View { signals: &self.signals, craft: self.craft.as_ref(), contact, now };
        let Some(what) = watch::contradiction(&view) else { return };
        if self.asks_whose_it_is() {
            return;
        }
        let plugged_in = self.pack == Pack::In && at_rest;
        self.attested(Attested::battery_unsaid);
        let text = format!("The battery is not out, whatever was typed: {what}.");
        self.orders.push(Order::Say(UiEvent::Line(Tone::Warning, text)));
        if !self.plug_in_invited && self.phase != Phase::Stopping {
            self.stop(format!("{what} although the battery was said to be out"));
            self.stop.iter_mut().for_each(|stop| stop.by_hand = plugged_in);
        }
    }

    pub(super) fn judge_signals(&mut self) {
        let Some(contact) = &self.contact else { return };
        let view = View { signals: &self.signals, craft: self.craft.as_ref(), contact, now: self.now };
        let watched = self.phase == Phase::Latched && contact.rested && self.is_session_craft_there();
        let hot = self.phase == Phase::Turning && self.heat.too_long(self.now);
        let verdict = match self.phase {
            _ if hot => Err("the motors have turned for 10 s without a pause".to_owned()),
            _ if self.waits_for_who_it_is() => Ok(()),
            Phase::Latched if watched => view.still(),
            phase => view.judge(phase, self.start.as_mut()),
        };
        match verdict {
            Err(_) if self.asks_whose_it_is() => {}
            Err(reason) => {
                // Only what was seen may be a hand at the switch: a key, a signal or a procedure that broke off is none.
                let from_rest = matches!(self.phase, Phase::Still | Phase::Invited | Phase::Latched);
                let breaks = self.start.as_ref().map(|start| start.breaks).unwrap_or_default();
                let by_hand = self.phase == Phase::Invited && self.is_throttle_up() && !breaks.throttle;
                let invited = self.start.as_ref().map(|start| (start.entered, start.invited_until));
                self.write_warrant();
                self.stop(reason);
                if let Some(stop) = &mut self.stop {
                    (stop.from_rest, stop.by_hand, stop.invited) = (from_rest, by_hand, invited);
                }
            }
            Ok(()) if self.phase == Phase::Invited && self.start.as_ref().is_some_and(Start::has_begun) => {
                let _begun = self.happens(Happening::Begin);
            }
            Ok(()) => {}
        }
    }

    /// An armed flag with the battery out turns nothing, but is said, and nothing is written meanwhile.
    pub(super) fn note_armed(&mut self) {
        let armed = matches!(self.phase, Phase::Still | Phase::SwitchesWorked)
            && watch::unpowered(&self.signals, self.craft.as_ref(), self.now)
            && self.signals.flag(self.now) == Some(true);
        if std::mem::replace(&mut self.armed_noted, armed) == armed {
            return;
        }
        let off = self.signals.flag(self.now) == Some(false);
        let text = match (armed, off) {
            (true, _) => "The board is armed, with the battery out. Nothing is written until it is off.",
            (false, true) => "The board is not armed any more.",
            (false, false) => return,
        };
        self.orders.push(Order::Say(UiEvent::Line(Tone::Warning, text.to_owned())));
    }

    /// Stops: bytes first, then everything else.
    pub fn stop(&mut self, reason: impl Into<String>) {
        if self.phase == Phase::Stopping || self.looks_only {
            return;
        }
        if self.happens(Happening::Stop).is_ok() {
            if self.authority() > Authority::Nothing {
                self.orders.push(Order::Stop { force: false });
            }
            self.begin_stop(reason.into());
        }
    }

    pub(super) fn begin_stop(&mut self, reason: String) {
        // Whoever's doing it was: a test that a stop ended was not passed, and is made again before anything else turns.
        if let Some(test) = self.start.as_ref().and_then(|start| Tested::of(&start.step)) {
            self.tested(test, false);
        }
        let of_cable = self.start.as_ref().and_then(|start| start.without_cable_until(self.now));
        let switch = match self.start.take().map(|start| start.step.by) {
            Some(StartedBy::Switch { switch, .. } | StartedBy::Sound { switch, .. }) => Some(switch),
            Some(StartedBy::Command | StartedBy::Change { .. } | StartedBy::WorkedSwitch) | None => None,
        };
        if let Some(contact) = &mut self.contact {
            contact.is_disturbed(self.now);
        }
        self.revoke();
        // From here on a lost wire is one, planned restart or not.
        self.restart = None;
        self.plug_in_invited = false;
        let mut stop = Stop::begin(reason.clone(), self.now, switch);
        stop.of_cable = of_cable;
        self.stop = Some(stop);
        self.orders.push(Order::StopBegan);
        self.orders.push(Order::Say(UiEvent::StopBegins { reason, delivery: self.delivery() }));
        // A wire that is away, as in a restart, is looked for, to stop what comes back.
        self.reopen();
    }

    pub(super) fn work_stop(&mut self) {
        if self.stop.is_none() {
            return;
        }
        let authority = self.authority();
        if self.went_on_uninvited() {
            self.stop.iter_mut().for_each(|stop| stop.by_hand = true);
        }
        loop {
            let there = self.contact.as_ref().is_some_and(|contact| !contact.is_unproved(self.now));
            let Some(stop) = self.stop.as_mut() else { return };
            let seen = stop::Seen {
                signals: &self.signals,
                craft: self.craft.as_ref(),
                bands_in_writing: &self.bands_in_writing,
                there,
                authority,
                nobody: self.terminal_gone,
                now: self.now,
            };
            match stop.work(&seen) {
                StopWork::Wait => return,
                StopWork::Send { force } => self.orders.push(Order::Stop { force }),
                StopWork::SwitchOff(switch) => self.orders.push(Order::Say(switch_off(switch))),
                StopWork::RadioOn => self.orders.push(Order::Say(radio_on())),
                StopWork::Warn => self.pull_the_plugs(),
                StopWork::Confirmed => return self.stop_ends(true),
                StopWork::Unconfirmed => return self.stop_ends(false),
            }
        }
    }

    /// The operator leaves a stop that cannot be confirmed; `false`: it has only just begun.
    pub fn leaves_stop(&mut self, after: Duration) -> bool {
        let long = self.stop.as_ref().is_some_and(|stop| self.now.since(stop.since) > after);
        if long {
            self.stop_ends(false);
        }
        long
    }

    pub(super) fn stop_ends(&mut self, confirmed: bool) {
        if !confirmed && self.stop.is_some() {
            self.pull_the_plugs();
        }
        let Some(stop) = self.stop.take() else { return };
        let _as_the_table_says = self.happens(Happening::StopEnded);
        let rested = confirmed || self.rests();
        if let Some(contact) = &mut self.contact {
            contact.rested = rested;
        }
        self.attested(Attested::battery_unsaid);
        if confirmed {
            self.orders.push(Order::Say(UiEvent::StopConfirmed));
        }
        if !rested {
            self.leave_to_the_guardian();
        }
        // In a start its switch was asked on: there only what `went_on_uninvited` saw was the hand's.
        let by_hand = stop.by_hand || stop.from_rest && stop.invited.is_none() && self.switch_was_on(stop.since);
        self.orders.push(Order::Ends(Fault::Stopped { reason: stop.reason, confirmed, by_hand }));
    }

    /// Whether the arm switch has been seen on since shortly before then.
    fn switch_was_on(&self, since: Time) -> bool {
        self.signals.channels.since(since - HEARD_LATE).any(|sample| self.is_switch_on(&sample.value))
    }

    /// Whether the arm switch went on about when the stop began, and nobody had asked for that: once more in this start, or
    /// after its invitation was over. It is heard a little later than what it did.
    fn went_on_uninvited(&self) -> bool {
        let Some((stop, (entered, until))) = self.stop.as_ref().and_then(|stop| Some((stop, stop.invited?))) else {
            return false;
        };
        let (mut rises, mut was_on, mut last) = (0, false, entered);
        for sample in self.signals.channels.since(entered).take_while(|sample| sample.at <= stop.since + HEARD_LATE) {
            let on = self.is_switch_on(&sample.value);
            if on && !was_on {
                (rises, last) = (rises + 1, sample.at);
            }
            was_on = on;
        }
        let just_now = stop.since.since(last) <= self.signals.flag_limit() + HEARD_LATE;
        rises > 0 && just_now && (rises > 1 || last > until)
    }

    pub(super) fn is_switch_on(&self, channels: &Channels) -> bool {
        self.craft.as_ref().is_some_and(|craft| channels.turn_on(&craft.arm_bands))
    }

    fn is_throttle_up(&self) -> bool {
        self.craft.as_ref().is_some_and(|craft| guards::throttle_low(&self.signals, craft, self.now).is_err())
    }

    /// Not seen at rest: what holds the stop is neither renewed nor released, so that it fires, for its time.
    fn leave_to_the_guardian(&mut self) {
        let lasts = self.guardian.fires_for();
        self.left_until = Some(self.now + lasts);
        if self.guardian.goes_on(self.now) && self.authority() > Authority::Nothing {
            let text = format!(
                "Nobody saw the motors at rest: the guardian process goes on sending the stop for {} s, whether this \
                 program runs or not.",
                lasts.as_secs()
            );
            self.orders.push(Order::Say(UiEvent::Line(Tone::Warning, text)));
        }
    }

    /// A stop was left before anything was seen at rest, and what holds its bytes goes on with it.
    #[must_use]
    pub fn is_left_to_its_guardian(&self) -> bool {
        let rested = self.contact.as_ref().is_some_and(|contact| contact.rested);
        self.phase == Phase::Latched && !rested && self.left_until.is_some_and(|until| self.now < until)
    }

    /// The hold follows the table of who may be stopped, while anything could be under way.
    pub fn judge_hold(&mut self) {
        if self.held.is_none() && !self.phase.any_key_stops() {
            return;
        }
        let may = self.authority() > Authority::Nothing;
        let wanted = may && self.phase.any_key_stops();
        match (wanted, self.held) {
            (false, Some(_)) if may && self.is_left_to_its_guardian() => {}
            (true, Some(renew)) if self.now < renew => {}
            (true, _) => {
                self.held = Some(self.now + RENEW);
                self.orders.push(Order::Hold);
            }
            (false, Some(_)) => {
                self.held = None;
                self.orders.push(Order::Release);
            }
            (false, None) => {}
        }
    }
}

/// A switch that was on when the radio was last heard is seen off only over the radio.
fn radio_on() -> UiEvent {
    let sentence = "With the switch at position 0, switch the radio on: only so can the switch be seen off.";
    UiEvent::Invite(Gesture::Radio { on: true }, sentence.to_owned(), Duration::from_secs(60), Placement::Printed)
}

/// The words, and the gesture where the switch is known.
fn switch_off(switch: Option<Switch>) -> UiEvent {
    match switch {
        Some(switch) => {
            let sentence = format!("Switch {} to position 0: it is still on.", switch.0);
            UiEvent::Invite(
                Gesture::SwitchTo { switch, position: 0 },
                sentence,
                Duration::from_secs(60),
                Placement::Printed,
            )
        }
        None => UiEvent::Line(Tone::Warning, "Switch off: the arm switch is still on.".to_owned()),
    }
}
