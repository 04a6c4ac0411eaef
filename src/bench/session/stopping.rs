//! What makes a session stop, the stop itself, and the dead man's hold meanwhile.
//!
//! The bytes of a stop leave before anything else. Must not be here: what confirms one (see `stop`),
//! what the watch judges (see `watch`).

use crate::bench::session::context::PORT;
use crate::bench::session::{After, Session};
use crate::interlock::guards::ARMED_AGE;
use crate::interlock::signals::Pack;
use crate::interlock::state::{Mode, Stopping};
use crate::interlock::stop::{QUICK, StopWork};
use crate::interlock::watch;
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::Effect;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, StartedBy, Tone, UiEvent};
use std::time::Duration;

/// The writer sends the stop by itself when we were silent for this long.
const HOLD: Duration = Duration::from_millis(200);
/// A board that is not heard for this long may be another when it is heard again.
const SILENT: Duration = Duration::from_secs(3);
/// How long a board that comes back into a stop may take to say who it is, before the stop is sent to it all the same.
const SAYS_WHO: Duration = Duration::from_millis(500);
/// How often the hold is renewed at most.
const RENEW: Duration = Duration::from_millis(40);

impl Session {
    /// Judges, and stops where the watch says so.
    pub(in crate::bench) fn judge(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        if self.looks_only {
            return;
        }
        self.mind_the_guardian(now, act);
        self.mind_the_battery(now, act);
        self.mind_the_silence(now, act);
        let latched = self.latched_and_rested(now);
        let verdict = {
            let live = self.bench.live.borrow();
            let facts = self.bench.facts.borrow();
            let mut mode = self.bench.mode.borrow_mut();
            // A session that goes on sits at its prompt for long: what starts then is stopped as anywhere else.
            let mut still = Mode::Still;
            let mode = if latched { &mut still } else { &mut *mode };
            watch::judge(&live, facts.as_ref(), mode, self.bench.attested_out.get(), now)
        };
        if let Err(reason) = verdict {
            self.stop(reason, true, now, act);
        }
        self.note_armed(now);
    }

    /// Latched, on the session's own board, which was seen at rest since: a start from now on is a new one.
    fn latched_and_rested(&mut self, now: Time) -> bool {
        if !self.goes_on() || !matches!(*self.bench.mode(), Mode::Latched) || !self.bench.ours.get() {
            self.latched_rest = false;
            return false;
        }
        self.latched_rest |= self.bench.look(|live| live.seen_still && watch::at_rest_now(live, now));
        self.latched_rest
    }

    /// A board that falls silent on a port that stays may come back as another, or without its battery having been
    /// out: what was attested is void, and it is asked again who it is before anything is written.
    fn mind_the_silence(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let resting = matches!(*self.bench.mode(), Mode::Still | Mode::Latched);
        let known = self.bench.ours.get() && self.bench.link_up.get() && now >= self.bench.restart_expected_until.get();
        if !self.goes_on() || !resting || !known {
            return;
        }
        let heard = self.bench.look(|live| live.armed.last().map(|sign| sign.at));
        if heard.is_none_or(|at| now.since(at.max(self.awake)) <= SILENT) {
            return;
        }
        self.bench.ours.set(false);
        self.bench.props_attested.set(None);
        self.bench.attested_out.set(false);
        self.bench.set_mode(Mode::Latched);
        let text = "The board has fallen silent. It is asked again who it is before anything is written.";
        act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
    }

    /// An armed flag with the battery out turns nothing, but is said, and nothing is written meanwhile.
    pub(in crate::bench) fn note_armed(&mut self, now: Time) {
        let armed = matches!(*self.bench.mode(), Mode::Still | Mode::SwitchesWorked)
            && self.bench.pack() == Pack::Out
            && self.bench.look(|live| live.armed.fresh(now, ARMED_AGE)) == Some(true);
        if std::mem::replace(&mut self.armed_noted, armed) == armed {
            return;
        }
        let text = if armed {
            "The board is armed, with the battery out. Nothing is written until it is off."
        } else {
            "The board is not armed any more."
        };
        self.bench.line(Tone::Warning, text);
    }

    /// A battery that goes out takes the attestation of taken-off propellers with it, and none goes in uninvited.
    pub(in crate::bench) fn mind_the_battery(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let pack = self.bench.look(|live| live.pack(now));
        if pack == Pack::Unknown {
            return;
        }
        let was = std::mem::replace(&mut self.pack, pack);
        if was == Pack::In && pack == Pack::Out {
            self.bench.props_attested.set(None);
        }
        let went_in = pack == Pack::In && (was == Pack::Out || self.bench.attested_out.get());
        if went_in
            && !self.bench.battery_invited.get()
            && matches!(*self.bench.mode(), Mode::Still | Mode::SwitchesWorked)
        {
            self.stop("the battery went in without being asked for".to_owned(), true, now, act);
        }
    }

    /// Stops: bytes first, then everything else. `ours`: a start that this session invited or saw begin.
    pub(in crate::bench) fn stop(&mut self, reason: String, ours: bool, now: Time, act: &mut dyn FnMut(Effect)) {
        if matches!(*self.bench.mode(), Mode::Stopping(_)) {
            return;
        }
        if self.bench.look(|live| live.seen_still)
            && let Some(bytes) = self.link.stop_bytes(false)
        {
            act(Effect::Stop(PORT, bytes));
        }
        let switch = match &*self.bench.mode() {
            Mode::Turning(turning) => match &turning.step.by {
                StartedBy::Switch { switch, .. } => Some(switch.clone()),
                _ => None,
            },
            _ => None,
        };
        let mut stopping = Stopping::begin(reason.clone(), now, ours, switch);
        stopping.next = now + QUICK;
        self.bench.set_mode(Mode::Stopping(Box::new(stopping)));
        self.script = None;
        // The question that ends a deafness of ours stays: without its answer nothing would be believed again.
        let fresh = self.fresh_answer;
        self.bench.requests.borrow_mut().retain(|(ticket, _)| Some(*ticket) == fresh);
        // From here on a lost wire is one, planned restart or not.
        self.bench.restart_expected_until.set(Time(0));
        self.bench.effects.borrow_mut().clear();
        if self.bench.prompt.borrow_mut().take().is_some() {
            act(Effect::Asked(false));
        }
        let reached = self.bench.link_up.get();
        act(Effect::Show(UiEvent::StopSent { reason, reached }));
    }

    pub(in crate::bench) fn work_stop(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        loop {
            let work = {
                let live = self.bench.live.borrow();
                let facts = self.bench.facts.borrow();
                match &mut *self.bench.mode.borrow_mut() {
                    Mode::Stopping(stop) => stop.work(&live, facts.as_ref(), self.bench.terminal_gone.get(), now),
                    _ => return,
                }
            };
            match work {
                StopWork::Wait => return,
                StopWork::Send { .. } | StopWork::Confirmed if !self.stops_ours(now) => return,
                StopWork::Send { force } => {
                    if self.bench.look(|live| live.seen_still)
                        && let Some(bytes) = self.link.stop_bytes(force)
                    {
                        act(Effect::Stop(PORT, bytes));
                    }
                }
                StopWork::SwitchOff(switch) => act(Effect::Show(switch_off(switch))),
                StopWork::RadioOn => act(Effect::Show(radio_on())),
                StopWork::Warn => act(Effect::Show(UiEvent::PullTheBattery)),
                StopWork::Confirmed => return self.stop_ended(true, act),
                StopWork::Unconfirmed => return self.stop_ended(false, act),
            }
        }
    }

    /// Whether the board on the wire is the one that is to be stopped: one that came back is asked first.
    fn stops_ours(&self, now: Time) -> bool {
        let Mode::Stopping(stop) = &mut *self.bench.mode.borrow_mut() else { return true };
        let Some(asked) = stop.asked else { return true };
        match self.bench.look(|live| live.identity.as_ref().map(|identity| identity.id.clone())) {
            Some(id) if Some(&id) == self.bench.board_id.borrow().as_ref() => {
                stop.asked = None;
                true
            }
            // Another board: nothing is sent to it, and its rest shows nothing.
            Some(_) => {
                stop.lost = true;
                stop.rest_since = None;
                false
            }
            None => now.since(asked) >= SAYS_WHO,
        }
    }

    pub(in crate::bench) fn stop_ended(&mut self, confirmed: bool, act: &mut dyn FnMut(Effect)) {
        let reason = match &*self.bench.mode() {
            Mode::Stopping(stop) => stop.reason.clone(),
            _ => String::new(),
        };
        self.bench.set_mode(Mode::Latched);
        if confirmed {
            act(Effect::Show(UiEvent::StopConfirmed));
        } else {
            act(Effect::Show(UiEvent::PullTheBattery));
        }
        self.end_script(Fault::Stopped { reason, confirmed });
    }

    /// Ends the script with a fault; what the closing still has to write down runs after it.
    pub(in crate::bench) fn end_script(&mut self, fault: Fault) {
        self.script = None;
        if self.bench.mode().any_key_stops() {
            return;
        }
        self.bench.set_mode(Mode::Latched);
        if self.goes_on() {
            // Nothing that the script began is repeated by itself. Its last question is asked anew where it mattered.
            self.link.reset();
            self.bench.requests.borrow_mut().clear();
            if self.fresh_answer.take().is_some() {
                self.ask_afresh();
            }
        }
        if self.bench.prompt.borrow_mut().take().is_some() {
            self.bench.act(Effect::Asked(false));
        }
        match std::mem::replace(&mut self.after, After::Ends) {
            After::Closes(closing) => {
                self.script = Some(closing(fault.clone()));
                self.stopped = Some(fault);
            }
            After::GoesOn(mut next) => {
                self.script = Some(next(fault));
                self.after = After::GoesOn(next);
            }
            After::Ends => self.ended = Some(Err(self.stopped.take().unwrap_or(fault))),
        }
    }

    /// Renews the dead man's hold while a start or its stop is under way, and takes it back after.
    pub(in crate::bench) fn hold(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        if !self.bench.mode().any_key_stops() || !self.bench.link_up.get() {
            self.release(act);
            return;
        }
        if self.holding && now < self.renew_at {
            return;
        }
        if let Some(bytes) = self.link.held_stop_bytes() {
            self.holding = true;
            self.renew_at = now + RENEW;
            act(Effect::Hold(PORT, bytes, now + HOLD));
            self.guard(now, act);
        }
    }

    pub(in crate::bench) fn release(&mut self, act: &mut dyn FnMut(Effect)) {
        if std::mem::take(&mut self.holding) {
            act(Effect::Release(PORT));
            self.unguard(act);
        }
    }
}

/// A switch that was on when the radio was last heard is seen off only over the radio.
fn radio_on() -> UiEvent {
    let sentence = "With the switch at position 0, switch the radio on: only so can the switch be seen off.";
    UiEvent::Invite(Gesture::Radio { on: true }, sentence.to_owned(), Duration::from_secs(60))
}

/// The words, and the gesture where the switch is known.
fn switch_off(switch: Option<Switch>) -> UiEvent {
    match switch {
        Some(switch) => {
            let sentence = format!("Switch {} to position 0: it is still on.", switch.0);
            UiEvent::Invite(Gesture::SwitchTo { switch, position: 0 }, sentence, Duration::from_secs(60))
        }
        None => UiEvent::Line(Tone::Warning, "Switch off: the arm switch is still on.".to_owned()),
    }
}
