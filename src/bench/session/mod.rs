//! One session with one craft: takes an event, feeds the link, judges, and only then polls the script.
//!
//! Order within an event: bytes become signals, the watch judges (a stop leaves first), the script
//! is polled once, its effects and requests leave. Must not be here: procedures, words for people
//! beyond those of a stop.

pub mod context;
pub mod event_loop;
mod gate;
mod guardian;
mod keyboard;
pub mod prompt;
mod stopping;

use crate::bench::operations::settings::RATES;
use crate::bench::session::context::{PORT, SessionContext};
use crate::bench::session::prompt::Prompt;
use crate::board::signals::{Link, LinkEvent, Request, Ticket};
use crate::interlock::guardian::Guardian;
use crate::interlock::signals::Pack;
use crate::interlock::state::Mode;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::UiEvent;
use crate::seam::{Effect, Event};
use std::future::Future;
use std::pin::Pin;
use std::rc::Rc;
use std::task::{Context, Poll, Waker};
use std::time::Duration;

/// How often the watch judges at least while anything may turn.
const WATCH: Duration = Duration::from_millis(20);
/// How often it judges otherwise.
const QUIET: Duration = Duration::from_millis(100);
/// Our own sign of life.
const HEARTBEAT: Duration = Duration::from_secs(1);
/// After a gap of our own longer than this, what was buffered is not fresh any more.
const OWN_GAP: Duration = Duration::from_millis(100);

/// A script: the linear course of a command.
pub type Script = Pin<Box<dyn Future<Output = Result<(), Fault>>>>;

/// What becomes of a session whose script was ended from outside: by a stop, a lost wire, the operator.
enum After {
    /// It ends.
    Ends,
    /// This is still run, once, to write down how it ended.
    Closes(Box<dyn FnOnce(Fault) -> Script>),
    /// It goes on with another script, latched: nothing resumes by itself.
    GoesOn(Box<dyn FnMut(Fault) -> Script>),
}

/// See the module.
pub struct Session {
    link: Box<dyn Link>,
    bench: Rc<SessionContext>,
    script: Option<Script>,
    after: After,
    ended: Option<Result<(), Fault>>,
    stopped: Option<Fault>,
    heartbeat: Time,
    last_event: Time,
    asked_for: Time,
    holding: bool,
    renew_at: Time,
    pack: Pack,
    armed_noted: bool,
    /// Since when this process has not slept through its wires.
    awake: Time,
    /// In a latched session that goes on: the board was seen at rest since.
    latched_rest: bool,
    fresh_answer: Option<Ticket>,
    looks_only: bool,
    /// Kept empty between events, so that its room is used again.
    heard: Vec<LinkEvent>,
}

impl Session {
    /// A session whose script runs over `link`. `looks_only`: a command that writes nothing and never
    /// sends a stop; Ctrl-C just closes it.
    pub fn new(link: Box<dyn Link>, bench: Rc<SessionContext>, script: Script, looks_only: bool) -> Self {
        Self {
            link,
            bench,
            script: Some(script),
            after: After::Ends,
            ended: None,
            stopped: None,
            heartbeat: Time(0),
            last_event: Time(0),
            asked_for: Time::NEVER,
            holding: false,
            renew_at: Time(0),
            pack: Pack::Unknown,
            armed_noted: false,
            awake: Time(0),
            latched_rest: false,
            fresh_answer: None,
            looks_only,
            heard: Vec::new(),
        }
    }

    /// What runs after a stop was confirmed or given up.
    #[must_use]
    pub fn closing_with(mut self, closing: impl FnOnce(Fault) -> Script + 'static) -> Self {
        self.after = After::Closes(Box::new(closing));
        self
    }

    /// What the session goes on with after a stop was confirmed or given up, a wire was lost, or the operator broke
    /// something off. It is polled in a latched session, and ends it by ending.
    #[must_use]
    pub fn going_on_with(mut self, next: impl FnMut(Fault) -> Script + 'static) -> Self {
        self.after = After::GoesOn(Box::new(next));
        self
    }

    /// Gives the link back, for looking at what it would send.
    #[must_use]
    pub fn into_link(self) -> Box<dyn Link> {
        self.link
    }

    /// How the session ended, once it has.
    #[must_use]
    pub fn ended(&self) -> Option<&Result<(), Fault>> {
        self.ended.as_ref()
    }

    /// When it wants to be woken at the latest.
    #[must_use]
    pub fn wake(&self) -> Time {
        let now = self.bench.now();
        let mode = self.bench.mode();
        let watch = match &*mode {
            Mode::Turning(_) => now + WATCH,
            Mode::Stopping(stop) => stop.wake().min(now + WATCH),
            _ => now + QUIET,
        };
        let prompt = self.bench.prompt.borrow().as_ref().map_or(Time::NEVER, Prompt::wake);
        let wire = if self.bench.link_up.get() { self.link.wake().min(self.heartbeat) } else { Time::NEVER };
        watch.min(self.bench.wake.get()).min(wire).min(prompt)
    }

    /// Takes one event; effects leave through `act`, a stop first.
    pub fn handle(&mut self, now: Time, event: Event, act: &mut dyn FnMut(Effect)) {
        self.bench.now.set(now);
        self.mind_the_gap(now);
        self.take(now, event, act);
        self.judge(now, act);
        self.work_stop(now, act);
        self.hold(now, act);
        self.answer_due(now, act);
        self.poll();
        if let Some(reason) = self.bench.stop_wanted.take() {
            self.stop(reason, true, now, act);
        }
        // Before anything of the script leaves: a start must never be on the wire without its hold.
        self.hold(now, act);
        self.drain(now, act);
        self.asked_for = self.wake();
        self.last_event = now;
    }

    /// If this process itself was asleep, what lies in buffers is old.
    fn mind_the_gap(&mut self, now: Time) {
        let due = self.asked_for.min(self.last_event + QUIET);
        if self.last_event > Time(0) && now.since(due) > OWN_GAP {
            self.awake = now;
            self.bench.live.borrow_mut().disown(now);
            self.ask_afresh();
        }
    }

    /// What carries no clock of the board's may lie in a buffer for long: a fresh answer is awaited.
    fn ask_afresh(&mut self) {
        let mut live = self.bench.live.borrow_mut();
        let known = live.settings.keys().next().cloned();
        if let Some(name) = known.filter(|_| self.bench.link_up.get() && !self.looks_only) {
            live.deaf = true;
            drop(live);
            self.fresh_answer = Some(self.bench.post(Request::ReadSetting(name)));
        }
    }

    fn take(&mut self, now: Time, event: Event, act: &mut dyn FnMut(Effect)) {
        match event {
            // What comes of a wire that was left is nobody's.
            Event::Bytes(..) if !self.bench.link_up.get() => {}
            Event::Bytes(_, bytes) => self.receive(now, &bytes),
            Event::Lost(_) => self.lost(now, act),
            Event::Opened(_, result) => {
                self.bench.link_up.set(result.is_ok());
                self.bench.noise.set(false);
                if let Ok(info) = &result {
                    *self.bench.guardian.borrow_mut() = Guardian::opened(info);
                    self.back_while_stopping();
                }
                *self.bench.opened.borrow_mut() = Some(result);
            }
            Event::Guardian(_, event) => self.guardian_says(event, act),
            Event::Stored(ticket, result) => {
                self.bench.stored.borrow_mut().insert(ticket, result);
            }
            Event::Record(record) => *self.bench.record.borrow_mut() = Some(*record),
            Event::Key(key) => self.key(now, key, act),
            Event::Paste => self.paste(now, act),
            Event::Line(line) => self.line(now, line, act),
            Event::EndOfInput => self.end_of_input(now, act),
            Event::Signal(signal) => self.signal(now, signal, act),
            Event::Tick => {}
        }
    }

    fn receive(&mut self, now: Time, bytes: &[u8]) {
        self.bench.noise.set(true);
        let mut heard = std::mem::take(&mut self.heard);
        self.link.receive(now, bytes, &mut heard);
        self.hear(now, &mut heard);
        self.heard = heard;
    }

    fn hear(&mut self, now: Time, heard: &mut Vec<LinkEvent>) {
        self.bench.encoding_proved.set(self.link.encoding_proved());
        self.bench.frames.set(self.link.frames());
        let mut live = self.bench.live.borrow_mut();
        for heard in heard.drain(..) {
            live.hear(now, &heard);
            if let LinkEvent::Done { ticket, result } = heard {
                if self.fresh_answer == Some(ticket) {
                    self.fresh_answer = None;
                    live.deaf = false;
                } else {
                    self.bench.done.borrow_mut().insert(ticket, result);
                }
            }
        }
    }

    fn lost(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        self.bench.link_up.set(false);
        self.bench.ours.set(false);
        *self.bench.guardian.borrow_mut() = Guardian::default();
        self.link.reset();
        self.bench.live.borrow_mut().forget(now);
        self.bench.requests.borrow_mut().clear();
        self.holding = false;
        if now < self.bench.restart_expected_until.get() {
            return;
        }
        self.bench.props_attested.set(None);
        self.bench.attested_out.set(false);
        let turning = self.bench.mode().any_key_stops();
        if turning {
            self.stop("the link to the board was lost while motors could turn".to_owned(), true, now, act);
            if let Mode::Stopping(stop) = &mut *self.bench.mode.borrow_mut() {
                stop.lost = true;
            }
            act(Effect::Show(UiEvent::PullTheBattery));
            // To go on stopping over it, should it come back.
            act(Effect::Reopen(PORT));
        } else if self.bench.page_open.get() {
            // The page waits for it; whatever else the session may do, it writes nothing any more.
            self.bench.page_lost.set(Some(now));
            if !self.looks_only {
                self.bench.set_mode(Mode::Latched);
            }
        } else if self.script.is_some() {
            self.end_script(Fault::LinkLost);
        }
    }

    /// The wire is back while a stop is under way: it goes on, and the board is asked again who it is and for
    /// what confirms the stop.
    fn back_while_stopping(&mut self) {
        let stopping = match &mut *self.bench.mode.borrow_mut() {
            Mode::Stopping(stop) => {
                stop.lost = false;
                stop.ours = false;
                stop.asked = Some(self.bench.now());
                true
            }
            _ => false,
        };
        if stopping {
            self.bench.live.borrow_mut().identity = None;
            self.bench.post(Request::Identify);
            for (stream, rate) in RATES {
                self.bench.post(Request::Stream(*stream, Some(*rate)));
            }
        }
    }

    /// Whether the session goes on after a stop or a lost wire.
    fn goes_on(&self) -> bool {
        matches!(self.after, After::GoesOn(_))
    }

    fn poll(&mut self) {
        self.bench.wake.set(Time::NEVER);
        let Some(script) = self.script.as_mut() else { return };
        let mut context = Context::from_waker(Waker::noop());
        if let Poll::Ready(result) = script.as_mut().poll(&mut context) {
            self.script = None;
            let after = std::mem::replace(&mut self.after, After::Ends);
            match (result, self.stopped.take(), after) {
                (_, Some(fault), _) | (Err(fault), None, After::Ends | After::GoesOn(_)) => {
                    self.ended = Some(Err(fault));
                }
                (Ok(()), None, _) => self.ended = Some(Ok(())),
                (Err(fault), None, After::Closes(closing)) => {
                    self.bench.set_mode(Mode::Latched);
                    self.script = Some(closing(fault.clone()));
                    self.stopped = Some(fault);
                }
            }
        }
    }

    /// Effects and requests of the script leave, each judged again at this moment.
    fn drain(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        loop {
            let effect = self.bench.effects.borrow_mut().pop_front();
            let Some(effect) = effect else { break };
            if matches!(effect, Effect::NotThis { .. }) {
                self.link.reset();
            }
            act(effect);
        }
        // Repeats are judged like first sendings, and before anything else makes the link work. While a start is
        // under way there are none: its own command must not be taken for one.
        let repeats = self.link.changes_open() && !self.bench.mode().any_key_stops();
        if repeats && self.may_write(now, None).is_err() {
            self.link.give_up_repeats(now);
        }
        let mut out = Vec::new();
        loop {
            let next = self.bench.requests.borrow_mut().pop_front();
            let Some((ticket, request)) = next else { break };
            self.leave(now, ticket, request, &mut out);
        }
        if self.bench.link_up.get() && now >= self.heartbeat {
            self.heartbeat = now + HEARTBEAT;
            self.link.send(now, Ticket::default(), Request::Heartbeat, &mut out);
        }
        if self.bench.link_up.get() && now >= self.link.wake() {
            let mut heard = Vec::new();
            self.link.work(now, &mut out, &mut heard);
            self.hear(now, &mut heard);
        }
        if !out.is_empty() && self.bench.link_up.get() {
            act(Effect::Send(PORT, out));
        }
    }
}
