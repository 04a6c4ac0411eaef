//! What must not be, judged by what was read, typed and truly is: code that shares nothing with the interlock.
//!
//! Where the page leaves a choice, it is the milder one: it never calls wrong what is right. Must not be here: the world.

use super::craft::{Craft, Frame};
use quadjig::board::signals::LinkEvent;
use quadjig::measure::time::Time;
use std::time::Duration;

const fn ms(millis: u64) -> Duration {
    Duration::from_millis(millis)
}

/// Ours has not been heard for so long: nothing that acts leaves, and nothing goes on. The flag's limit at 10 Hz, half a
/// round trip, and a tick.
const UNHEARD: Duration = ms(700);
/// The same before the flag's rhythm is known.
const UNHEARD_AT_FIRST: Duration = ms(2400);
/// A silence after which somebody else may speak, whatever its clock says.
const SILENCE: Duration = ms(550);
/// And how long it takes at most until it is known again who is there.
const SETTLED: Duration = ms(2000);
/// At rest for so long, as read at the world's tick.
const REST: Duration = ms(900);

/// What a question was about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Asked {
    Run,
    Start,
    Change,
    Worked,
    /// A change of another value.
    Other,
}

/// What is under way by its door.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Under {
    Start,
    Worked,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Judge {
    pub broken: Vec<&'static str>,
    /// Nothing has befallen anybody, and the operator does what is asked.
    pub disturbed: bool,
    /// Ours said who it is on this opening.
    met: bool,
    /// A frame of another was read since.
    strange: bool,
    /// Ours spoke after a silence, and has not said who it is since.
    unproved: bool,
    /// The program did not run for a while, and ours has not said who it is since.
    held_up: bool,
    /// When the stop under way began.
    stop_began: Time,
    /// The last change that a door let through is a store and nothing else.
    only_stores: bool,
    /// The last silence of ours, frame of another, or halt of the program.
    unsettled: Time,
    heard: Time,
    armed: bool,
    raised: bool,
    switch: bool,
    throttle: bool,
    pack: Option<bool>,
    rest_since: Option<Time>,
    rested: bool,
    started: bool,
    warrant: Option<Time>,
    warrant_started: bool,
    props: bool,
    props_at: Time,
    out_since: Option<Time>,
    said_out: bool,
    pub under: Option<Under>,
    stopping: bool,
    latched: bool,
    unexpected: Option<Time>,
    /// Work on it has begun: before that nothing of ours is stopped.
    working: bool,
    runs: u8,
    /// A stop has to leave by then.
    owed: Option<Time>,
    /// How often ours had restarted when a restart was announced; a wire that went and came shows one as well.
    announced: Option<(u8, bool)>,
}

impl Judge {
    pub fn breaks(&mut self, what: &'static str) {
        if !self.broken.contains(&what) {
            self.broken.push(what);
        }
    }

    fn need(&mut self, holds: bool, what: &'static str) {
        if !holds {
            self.breaks(what);
        }
    }

    /// The contact is over, whoever says so.
    fn over(&mut self, now: Time) {
        (self.met, self.rested, self.started, self.rest_since) = (false, false, false, None);
        // An announced restart keeps what was said, for the same id.
        if self.announced.is_none() {
            (self.props, self.said_out, self.working) = (false, false, false);
        }
        if self.warrant == Some(Time::NEVER) {
            self.warrant = Some(now + Duration::from_secs(30));
        }
    }

    pub fn lost(&mut self, now: Time) {
        self.over(now);
        if let Some((_, wire)) = &mut self.announced {
            *wire = true;
        }
        (self.strange, self.unproved, self.unexpected, self.pack) = (false, false, None, None);
    }

    /// The program did not run for so long.
    pub fn slept(&mut self, now: Time, long: Duration) {
        if long > Duration::from_secs(2) {
            self.over(now);
        }
        self.held_up |= long > ms(250);
        self.unsettled = now;
    }

    /// Something of a craft was read.
    pub fn reads(&mut self, now: Time, who: usize, event: &LinkEvent) {
        if who != 0 {
            (self.strange, self.unsettled) = (true, now);
            if matches!(event, LinkEvent::Identity(_)) {
                self.over(now);
            }
            return;
        }
        if now.since(self.heard) > SILENCE {
            self.unproved = true;
        }
        if now.since(self.heard) > ms(150) {
            self.unsettled = now;
        }
        self.heard = now;
        match event {
            LinkEvent::Identity(_) => {
                self.met = true;
                (self.strange, self.unproved, self.held_up) = (false, false, false);
            }
            LinkEvent::Alive { armed, .. } => self.armed = *armed,
            LinkEvent::Channels { pulses, .. } => {
                self.throttle = pulses[2].is_some_and(|pulse| pulse > 1100);
                self.switch = pulses[5].is_some_and(|pulse| pulse > 1700);
            }
            LinkEvent::Outputs { pulses, .. } => self.raised = pulses.iter().any(|pulse| *pulse > 1010),
            LinkEvent::Power { millivolts, .. } => {
                let pack = millivolts.map(|mv| mv > 2500);
                self.pack = pack;
                // Out is what reads so for a second.
                self.out_since =
                    self.out_since.filter(|_| pack == Some(false)).or((pack == Some(false)).then_some(now));
                self.props &= self.out_since.is_none_or(|since| self.props_at > since || now.since(since) < ms(1200));
            }
            _ => {}
        }
        if self.armed || self.raised {
            self.rest_since = None;
            if self.under.is_none() && !self.stopping && self.pack != Some(false) {
                self.unexpected.get_or_insert(now);
            }
        } else if matches!(event, LinkEvent::Power { .. }) {
            let since = *self.rest_since.get_or_insert(now);
            self.rested |= self.met && now.since(since) >= REST;
        }
    }

    fn warranted(&self, now: Time) -> bool {
        self.warrant.is_some_and(|until| now < until)
    }

    /// A frame leaves the program.
    pub fn leaves(&mut self, now: Time, frame: Frame) {
        if frame.stops() {
            self.owed = None;
            self.need(!self.strange, "S15: a stop leaves after another craft was read");
            let may = self.rested || self.warranted(now);
            self.need(may, "law 4: a craft that was never seen at rest is stopped");
            let started = self.started || (self.warrant_started && self.warranted(now));
            self.need(
                frame != Frame::Forced || started,
                "law 4: a craft that this session started nothing of is forced",
            );
            let second = self.stopping && now.since(self.stop_began) >= ms(300);
            self.need(frame != Frame::Forced || second, "safety.md, stop: a forced disarm is the first try");
            return;
        }
        if !frame.changes() && frame != Frame::Motor {
            return;
        }
        let sure = self.met && !self.strange && !self.unproved && !self.held_up;
        let there = sure && now.since(self.heard) <= UNHEARD;
        self.need(there, "law 3: it is doubtful who is there, and something that acts leaves");
        self.need(!self.stopping && !self.latched, "S2: something that acts leaves after a stop");
        let expected = self.unexpected.is_none_or(|at| now.since(at) <= ms(50));
        self.need(expected, "S2: something that acts leaves after an unexpected start");
        if frame == Frame::Motor {
            self.need(self.runs > 0, "S8: a motor is started twice");
            self.runs = self.runs.saturating_sub(1);
        } else {
            let rests = !self.armed && !self.raised && self.rest_since.is_some_and(|at| now.since(at) >= REST);
            self.need(rests, "S1: a change leaves to a craft that is not at rest");
            self.need(frame != Frame::Band, "S1: an arm band is opened over its switch");
            let asked_for = frame == Frame::Store || !self.only_stores;
            self.need(asked_for, "S3: something leaves that its door let nothing of through");
        }
    }

    /// The door of a change that can turn motors let it through.
    pub fn changes(&mut self, now: Time, answer: Option<(Asked, Time)>) {
        self.only_stores = false;
        let answered = answer.is_some_and(|(asked, at)| asked == Asked::Change && now.since(at) <= ms(10_000));
        let out = self.pack == Some(false) || (self.said_out && self.pack.is_none());
        self.need(answered || out, "S1: a change that can turn motors without an answer, and the battery in");
    }

    /// A door let a store through, and nothing else.
    pub fn only_stores(&mut self) {
        self.only_stores = true;
    }

    /// The door of a start let it through.
    pub fn starts(&mut self, now: Time, asked: Asked, answer: Option<(Asked, Time)>) {
        let answered = answer.is_some_and(|(of, at)| of == asked && now.since(at) <= ms(10_000));
        self.need(answered, "S1: a start without an answer of its own");
        self.need(self.props, "S1: a start without the word of the propellers");
        let there = self.met && !self.strange && !self.unproved && now.since(self.heard) <= UNHEARD;
        self.need(there, "S1: a start of a craft of which it is doubtful that it is there");
        let rests = !self.armed && !self.raised && self.rest_since.is_some_and(|at| now.since(at) >= REST);
        self.need(rests && !self.switch && !self.throttle, "S1: a start of a craft that is not at rest");
        self.need(!self.stopping && !self.latched, "S2: a start after a stop");
        self.under = Some(Under::Start);
        self.begins();
        self.runs += u8::from(asked == Asked::Run);
    }

    /// Switches that could start something are worked.
    pub fn works(&mut self, now: Time, answer: Option<(Asked, Time)>) {
        let answered = answer.is_some_and(|(of, at)| of == Asked::Worked && now.since(at) <= ms(10_000));
        self.need(answered || self.pack == Some(false), "S1: switches are worked without an answer");
        self.under = Some(Under::Worked);
        self.begins();
    }

    fn begins(&mut self) {
        self.started = true;
        (self.warrant, self.warrant_started) = (Some(Time::NEVER), true);
    }

    pub fn rests_again(&mut self) {
        self.under = None;
    }

    pub fn restart_begins(&mut self, now: Time, restarts: u8) {
        self.announced = Some((restarts, false));
        if self.warrant != Some(Time::NEVER) {
            (self.warrant, self.warrant_started) = (Some(now + Duration::from_secs(60)), self.started);
        }
    }

    /// What the program says showed the restart.
    pub fn restart_ends(&mut self, seen: bool, restarts: u8) {
        let Some((before, wire)) = self.announced.take() else { return };
        self.need(!seen || wire || restarts > before, "S11: a restart is said to be shown that was none");
    }

    /// The craft was seen at rest again, and may be worked on.
    pub fn works_on(&mut self) {
        (self.stopping, self.latched, self.unexpected, self.announced) = (false, false, None, None);
        self.working = true;
        self.need(self.rested, "law 6: a craft that was never seen at rest is worked on");
    }

    pub fn props_said(&mut self, now: Time) {
        (self.props, self.props_at) = (self.met, now);
    }

    pub fn out_said(&mut self) {
        self.said_out = self.met;
    }

    /// A stop begins: `calm` worlds have none.
    pub fn stop_begins(&mut self, now: Time) {
        self.stop_began = now;
        if self.unexpected.is_some() || self.under.is_some() {
            self.begins();
        }
        let asked_for = self.disturbed || self.under.is_some() || self.unexpected.is_some();
        self.need(asked_for, "L4: a stop that nothing asked for");
        (self.stopping, self.under, self.announced) = (true, None, None);
    }

    pub fn latches(&mut self) {
        (self.latched, self.under, self.announced) = (true, None, None);
    }

    pub fn stop_ends(&mut self, confirmed: bool, ours: &Craft, now: Time) {
        (self.stopping, self.latched) = (false, true);
        self.said_out = false;
        let rests = ours.at_rest(now) && self.rest_since.is_some_and(|since| now.since(since) >= REST);
        self.need(!confirmed || rests, "S11: a stop is said to be confirmed, and it was not at rest for a second");
    }

    /// Whether a stop would reach ours now, as far as anything that was read tells.
    pub fn reached(&self, now: Time) -> bool {
        let settled = now.since(self.unsettled) >= SETTLED && now.since(self.heard) <= ms(100);
        settled && self.met && self.rested && !self.strange && !self.unproved
    }

    /// A stop has to leave by then, if what is under way could be stopped.
    pub fn owes(&mut self, now: Time, by: Time) {
        if self.under.is_some() && self.reached(now) {
            self.owed = self.owed.or(Some(by));
        }
    }

    /// Something outside the program stops.
    pub fn stopped_outside(&mut self) {
        self.owed = None;
    }

    /// Something began that nobody asked for.
    pub fn owes_for_an_unexpected_start(&mut self, now: Time) {
        if self.unexpected.is_some() && self.working && !self.stopping && !self.latched && self.reached(now) {
            self.owed = self.owed.or(Some(now));
        }
    }

    /// No stop is overdue.
    pub fn owed_in_time(&mut self, now: Time) {
        self.need(self.owed.is_none_or(|by| now < by), "S9: a stop was asked for, and none left in time");
    }

    /// How things stand, after everything of a moment was done.
    pub fn stands(&mut self, now: Time, could_turn: bool) {
        self.owed_in_time(now);
        let unheard = self.under.is_some() && !self.stopping && now.since(self.heard) > UNHEARD + ms(200);
        self.need(!unheard, "law 3: what was started goes on unheard");
        self.need(could_turn || self.pack == Some(false), "section 3: nothing could turn, and nobody measured it");
    }

    /// Guards that hold, against what was read: disarmed, switch off, outputs at rest, propellers, battery out.
    pub fn guards(&mut self, now: Time, hold: [bool; 6]) {
        let fresh = now.since(self.heard) <= UNHEARD;
        let so = [
            !self.armed && now.since(self.heard) <= UNHEARD_AT_FIRST,
            !self.switch && fresh,
            !self.raised && fresh,
            self.props,
            self.pack == Some(false) || self.said_out,
            !self.throttle && fresh,
        ];
        // Between two of them everything is what it was when it was read last; another's is nobody's.
        let wrong = hold.iter().zip(so).any(|(holds, so)| *holds && !so);
        self.need(!wrong || self.strange, "law 5: a guard holds that does not");
    }
}
