//! One session with one craft: takes an event, feeds link and interlock, carries out its orders, and only then polls the
//! script.
//!
//! Order within an event: bytes become signals, the interlock judges (a stop leaves first), the script is polled once,
//! its effects and requests leave, each frame judged as it does. Must not be here: procedures, and any guard.

mod ask;
pub mod context;
mod dialogue;
pub mod event_loop;
mod guardian;
mod inbox;
mod keyboard;
mod leaving;
mod requests;
mod samples;
pub(in crate::bench) mod spans;
mod strip;
mod timings;
mod watched;
mod witness;

pub use requests::{Change, Drive, Inquiry};

use crate::bench::session::context::SessionContext;
use crate::board::signals::{Link, LinkEvent, Outgoing, Request, Ticket};
use crate::interlock::{Order, Phase, QUIET};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::guardian::HOLDS;
use crate::seam::{Effect, Event};
use std::collections::BTreeSet;
use std::future::Future;
use std::pin::Pin;
use std::rc::Rc;
use std::task::{Context, Poll, Waker};

/// A script: the linear course of a command.
pub type Script = Pin<Box<dyn Future<Output = Result<(), Fault>>>>;

/// What becomes of a session whose script was ended from outside: by a stop, a lost wire, the operator.
enum After {
    /// It ends.
    Ends,
    /// This is still run, once, to write down how it ended; or again, where the run went on by it.
    Closes(Box<dyn FnMut(Fault) -> Script>),
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
    /// Questions of the session itself, whose ends nobody waits for.
    own: BTreeSet<Ticket>,
    /// The answer that ends a deafness of ours.
    fresh_answer: Option<Ticket>,
    looks_only: bool,
    /// Frames of changes that could not leave at once, and until when they may.
    waiting: Vec<(Time, Vec<u8>, Outgoing)>,
    /// Kept empty between events, so that its room is used again.
    heard: Vec<LinkEvent>,
}

impl Session {
    /// A session whose script runs over `link`. `looks_only`: a command that writes nothing and never
    /// sends a stop; Ctrl-C just closes it.
    pub fn new(link: Box<dyn Link>, bench: Rc<SessionContext>, script: Script, looks_only: bool) -> Self {
        if looks_only {
            bench.interlock_mut().only_looks();
        }
        Self {
            link,
            bench,
            script: Some(script),
            after: After::Ends,
            ended: None,
            stopped: None,
            heartbeat: Time(0),
            last_event: Time(0),
            asked_for: Time(0) + QUIET,
            own: BTreeSet::new(),
            fresh_answer: None,
            looks_only,
            waiting: Vec::new(),
            heard: Vec::new(),
        }
    }

    /// What runs after a stop was confirmed or given up.
    #[must_use]
    pub fn closing_with(self, closing: impl FnOnce(Fault) -> Script + 'static) -> Self {
        let mut closing = Some(closing);
        let ended = || -> Script { Box::pin(std::future::ready(Ok(()))) };
        self.closing_or_going_on(move |fault| closing.take().map_or_else(ended, |closing| closing(fault)))
    }

    /// The same for a run that may go on by what runs then, and end once more.
    #[must_use]
    pub fn closing_or_going_on(mut self, closing: impl FnMut(Fault) -> Script + 'static) -> Self {
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
        self.asked_for
    }

    fn next_wake(&self) -> Time {
        let interlock = self.bench.interlock();
        let wire = if interlock.link_up() { self.link.wake().min(self.heartbeat) } else { Time::NEVER };
        interlock.wake().min(self.bench.wake()).min(wire).min(self.bench.dialogue().wake())
    }

    /// Takes one event; effects leave through `act`, a stop first.
    pub fn handle(&mut self, now: Time, event: Event, act: &mut dyn FnMut(Effect)) {
        self.bench.begins_event(now);
        let asked_for = self.asked_for.max(self.last_event);
        let due = if self.last_event > Time(0) { asked_for.min(self.last_event + QUIET) } else { now };
        if self.bench.interlock_mut().wakes(now, due) {
            self.ask_afresh();
        }
        self.take(now, event, act);
        self.bench.interlock_mut().judge();
        self.obey(act);
        self.answer_due(now, act);
        self.poll();
        // Before anything of the script leaves: a start must never be on the wire without its hold.
        self.bench.interlock_mut().judge_hold();
        self.obey(act);
        self.drain(now, act);
        self.tell_strip(now, act);
        self.asked_for = self.next_wake();
        self.last_event = now;
    }

    /// What carries no clock of the board's may lie in a buffer for long: a fresh answer is awaited.
    fn ask_afresh(&mut self) {
        let known = self.bench.look(|signals| signals.settings.keys().next().cloned());
        if let Some(name) = known.filter(|_| self.bench.link_up() && !self.looks_only) {
            self.bench.interlock_mut().is_deaf(true);
            let ticket = self.bench.post(Request::ReadSetting(name));
            self.own.insert(ticket);
            self.fresh_answer = Some(ticket);
        }
    }

    fn take(&mut self, now: Time, event: Event, act: &mut dyn FnMut(Effect)) {
        match event {
            // What comes of a wire that was left is nobody's.
            Event::Bytes(..) | Event::AnotherPeer if !self.bench.link_up() => {}
            Event::Bytes(bytes) => self.receive(now, &bytes),
            Event::Lost => self.lost(),
            Event::AnotherPeer => {
                if self.bench.interlock_mut().is_at_another_peer() {
                    self.forgets_the_board();
                }
            }
            Event::Opened(result) => {
                if let Ok(info) = &result {
                    self.bench.interlock_mut().opened(info);
                }
                self.bench.replies().opened = Some(result);
            }
            Event::Guardian(event) => self.guardian_says(event, act),
            Event::Stored(ticket, result) => drop(self.bench.replies().stored.insert(ticket, result)),
            Event::Record(record) => self.bench.replies().record = Some(*record),
            Event::Recipe(reading) => self.bench.replies().recipe = Some(*reading),
            Event::Key(key) => self.key(now, key, act),
            Event::Paste => self.paste(act),
            Event::Line(line) => self.line(line, act),
            Event::EndOfInput => self.end_of_input(act),
            Event::Signal(signal) => self.signal(signal, act),
            Event::ThreadEnded(name) => self.thread_ended(name, act),
            Event::Tick => {}
        }
    }

    fn receive(&mut self, now: Time, bytes: &[u8]) {
        self.bench.news().hears(bytes);
        let mut heard = std::mem::take(&mut self.heard);
        self.link.receive(now, bytes, &mut heard);
        self.hear(&mut heard);
        self.heard = heard;
    }

    fn hear(&mut self, heard: &mut Vec<LinkEvent>) {
        let (mut news, mut timings) = (self.bench.news(), self.bench.timings());
        news.frames = self.link.frames();
        let mut interlock = self.bench.interlock_mut();
        interlock.encoding(self.link.encoding_proved());
        for event in heard.drain(..) {
            interlock.hear(&event);
            news.take(&event);
            timings.take(self.bench.now(), &event);
            if let LinkEvent::Done { ticket, result } = event {
                if self.fresh_answer == Some(ticket) {
                    self.fresh_answer = None;
                    interlock.is_deaf(false);
                }
                if !self.own.remove(&ticket) {
                    self.bench.replies().done.insert(ticket, result);
                }
            }
        }
    }

    /// Nothing that was asked for is answered any more.
    fn forgets_the_board(&mut self) {
        self.link.reset();
        self.bench.forget_requests();
        self.bench.dialogue().asked.clear();
        self.fresh_answer = None;
    }

    fn lost(&mut self) {
        self.forgets_the_board();
        self.bench.interlock_mut().lost();
        let now = self.bench.now();
        self.bench.monitor().link_lost(now);
    }

    /// Carries out what the interlock wants done.
    fn obey(&mut self, act: &mut dyn FnMut(Effect)) {
        loop {
            let orders = self.bench.interlock_mut().orders();
            if orders.is_empty() {
                return;
            }
            for order in orders {
                self.carry_out(order, act);
            }
        }
    }

    fn carry_out(&mut self, order: Order, act: &mut dyn FnMut(Effect)) {
        match order {
            Order::Stop { force } => {
                if let Some(bytes) = self.link.stop_bytes(force) {
                    act(Effect::Stop(bytes));
                }
            }
            Order::Hold => {
                if let Some(bytes) = self.link.held_stop_bytes() {
                    let (now, lasts) = (self.bench.now(), self.bench.interlock_mut().guardian().fires_for());
                    act(Effect::Hold(bytes, now + HOLDS..now + lasts));
                }
                self.guard(act);
            }
            Order::Release => {
                act(Effect::Release);
                self.unguard(act);
            }
            Order::Identify => self.asks(Request::Identify),
            Order::ArmedFlag => self.asks(Request::ArmedFlag),
            Order::Streams => {
                for (stream, rate) in self.bench.asks_streams() {
                    self.asks(Request::Stream(stream, Some(rate)));
                }
            }
            // To go on stopping over it, should it come back.
            Order::Reopen => act(Effect::Reopen),
            Order::StopBegan => {
                self.script = None;
                self.waiting.clear();
                // The question that ends a deafness of ours stays: without its answer nothing would be believed again.
                self.bench.keep_requests(&self.own);
                self.bench.dialogue().asked.clear();
                self.bench.dialogue().ahead.clear();
                if self.bench.dialogue().close_prompt() {
                    act(Effect::Asked(false));
                }
            }
            Order::Say(said) => {
                self.bench.sees(&said);
                act(Effect::Show(said));
            }
            Order::Ends(fault) => self.end_script(fault),
        }
    }

    /// Asks something for the session itself.
    fn asks(&mut self, request: Request) {
        self.own.insert(self.bench.post(request));
    }

    /// Whether the session goes on after a stop or a lost wire.
    fn goes_on(&self) -> bool {
        matches!(self.after, After::GoesOn(_))
    }

    /// Ends the script with a fault; what the closing still has to write down runs after it.
    fn end_script(&mut self, fault: Fault) {
        if self.bench.interlock().phase() == Phase::Stopping {
            return;
        }
        // The page waits for a wire that is gone; whatever else the session may do, it writes nothing any more.
        if self.bench.monitor().open && fault == Fault::LinkLost {
            if !self.looks_only {
                self.bench.interlock_mut().latch();
            }
            return;
        }
        if self.script.take().is_none() && self.ended.is_some() {
            return;
        }
        self.bench.interlock_mut().latch();
        if self.goes_on() {
            // Nothing that the script began is repeated by itself. Its last question is asked anew where it mattered.
            self.link.reset();
            self.bench.forget_requests();
            if self.fresh_answer.take().is_some() {
                self.ask_afresh();
            }
        }
        if self.bench.dialogue().close_prompt() {
            self.bench.act(Effect::Asked(false));
        }
        self.forget_a_stop_that_was_gone_on_from();
        match std::mem::replace(&mut self.after, After::Ends) {
            After::Closes(closing) if self.stopped.is_none() => self.close(closing, fault),
            After::GoesOn(mut next) => {
                self.script = Some(next(fault));
                self.after = After::GoesOn(next);
            }
            After::Ends | After::Closes(_) => self.ended = Some(Err(self.stopped.take().unwrap_or(fault))),
        }
    }

    fn close(&mut self, mut closing: Box<dyn FnMut(Fault) -> Script>, fault: Fault) {
        self.script = Some(closing(fault.clone()));
        self.stopped = Some(fault);
        self.after = After::Closes(closing);
    }

    /// A run that goes on is one that has not ended yet, whatever ends it next.
    fn forget_a_stop_that_was_gone_on_from(&mut self) {
        if std::mem::take(&mut self.bench.dialogue().goes_on) {
            self.stopped = None;
        }
    }

    fn poll(&mut self) {
        self.bench.sleeps();
        let Some(script) = self.script.as_mut() else { return };
        let mut context = Context::from_waker(Waker::noop());
        if let Poll::Ready(result) = script.as_mut().poll(&mut context) {
            self.script = None;
            self.forget_a_stop_that_was_gone_on_from();
            let after = std::mem::replace(&mut self.after, After::Ends);
            match (result, self.stopped.take(), after) {
                (_, Some(fault), _) | (Err(fault), None, After::Ends | After::GoesOn(_)) => {
                    self.ended = Some(Err(fault));
                }
                (Ok(()), None, _) => self.ended = Some(Ok(())),
                (Err(fault), None, After::Closes(closing)) => {
                    self.bench.interlock_mut().latch();
                    self.close(closing, fault);
                }
            }
        }
    }
}
