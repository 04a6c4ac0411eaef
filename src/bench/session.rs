//! One session with one craft: takes an event, feeds the link, judges, and only then polls the script.
//!
//! Order within an event: bytes become signals, the watch judges (a stop leaves first), the script
//! is polled once, its effects and requests leave. Must not be here: procedures, words for people
//! beyond those of a stop.

use super::fault::Fault;
use super::guards::ARMED_AGE;
use super::handle::{Bench, PORT};
use super::live::Pack;
use super::mode::{Mode, Stopping};
use super::prompt::{Answer, Declined, Prompt};
use super::seam::{Effect, Event, Key, SystemSignal};
use super::shown::{Gesture, Shown, StartedBy, Tone};
use super::stop::StopWork;
use super::watch;
use crate::board::signals::{Done, Heard, Link, Request, Ticket};
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Switch;
use crate::measure::time::Time;
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
/// The writer sends the stop by itself when we were silent for this long.
const HOLD: Duration = Duration::from_millis(200);
/// How often the hold is renewed at most.
const RENEW: Duration = Duration::from_millis(40);
/// After a gap of our own longer than this, what was buffered is not fresh any more.
const OWN_GAP: Duration = Duration::from_millis(100);

/// From when on a second Ctrl-C leaves a stop that cannot be confirmed.
const LEAVE_AFTER: Duration = Duration::from_secs(3);

/// A script: the linear course of a command.
pub type Script = Pin<Box<dyn Future<Output = Result<(), Fault>>>>;

/// See the module.
pub struct Session {
    link: Box<dyn Link>,
    bench: Rc<Bench>,
    script: Option<Script>,
    /// Called after a stop, to write down how the run ended.
    closing: Option<Box<dyn FnOnce(Fault) -> Script>>,
    ended: Option<Result<(), Fault>>,
    stopped: Option<Fault>,
    heartbeat: Time,
    last_event: Time,
    asked_for: Time,
    holding: bool,
    renew_at: Time,
    pack: Pack,
    armed_noted: bool,
    fresh_answer: Option<Ticket>,
    looks_only: bool,
}

impl Session {
    /// A session whose script runs over `link`. `looks_only`: a command that writes nothing and never
    /// sends a stop; Ctrl-C just closes it.
    pub fn new(link: Box<dyn Link>, bench: Rc<Bench>, script: Script, looks_only: bool) -> Self {
        Self {
            link,
            bench,
            script: Some(script),
            closing: None,
            ended: None,
            stopped: None,
            heartbeat: Time(0),
            last_event: Time(0),
            asked_for: Time::NEVER,
            holding: false,
            renew_at: Time(0),
            pack: Pack::Unknown,
            armed_noted: false,
            fresh_answer: None,
            looks_only,
        }
    }

    /// What runs after a stop was confirmed or given up.
    #[must_use]
    pub fn closing_with(mut self, closing: impl FnOnce(Fault) -> Script + 'static) -> Self {
        self.closing = Some(Box::new(closing));
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
            let mut live = self.bench.live.borrow_mut();
            live.disown(now);
            // What carries no clock of the board's may lie in a buffer for long: a fresh answer is awaited.
            let known = live.settings.keys().next().cloned();
            if let Some(name) = known.filter(|_| self.bench.link_up.get() && !self.looks_only) {
                live.deaf = true;
                drop(live);
                self.fresh_answer = Some(self.bench.post(Request::ReadSetting(name)));
            }
        }
    }

    fn take(&mut self, now: Time, event: Event, act: &mut dyn FnMut(Effect)) {
        match event {
            Event::Bytes(_, bytes) => self.receive(now, &bytes),
            Event::Lost(_) => self.lost(now, act),
            Event::Opened(_, result) => {
                self.bench.link_up.set(result.is_ok());
                if let (Mode::Stopping(stop), true) = (&mut *self.bench.mode.borrow_mut(), result.is_ok()) {
                    stop.lost = false;
                }
                *self.bench.opened.borrow_mut() = Some(result);
            }
            Event::Stored(ticket, result) => {
                self.bench.stored.borrow_mut().insert(ticket, result);
            }
            Event::Record(record) => *self.bench.record.borrow_mut() = Some(*record),
            Event::Key(key) => self.key(now, key, act),
            Event::Paste => self.paste(now, act),
            Event::EndOfInput => self.end_of_input(now, act),
            Event::Signal(signal) => self.signal(now, signal, act),
            Event::Tick => {}
        }
    }

    fn receive(&mut self, now: Time, bytes: &[u8]) {
        let mut heard = Vec::new();
        self.link.receive(now, bytes, &mut heard);
        self.hear(now, heard);
    }

    fn hear(&mut self, now: Time, heard: Vec<Heard>) {
        self.bench.encoding_proved.set(self.link.encoding_proved());
        let mut live = self.bench.live.borrow_mut();
        for heard in heard {
            live.hear(now, &heard);
            if let Heard::Done { ticket, result } = heard {
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
        self.link.reset();
        self.bench.live.borrow_mut().forget(now);
        self.bench.requests.borrow_mut().clear();
        self.holding = false;
        if now < self.bench.restart_expected_until.get() {
            return;
        }
        self.bench.props_attested.set(None);
        let turning = self.bench.mode().any_key_stops();
        if turning {
            self.stop("the link to the board was lost while motors could turn".to_owned(), true, now, act);
            if let Mode::Stopping(stop) = &mut *self.bench.mode.borrow_mut() {
                stop.lost = true;
            }
            // To go on stopping over it, should it come back.
            act(Effect::Reopen(PORT));
        } else if self.script.is_some() {
            self.end_script(Fault::LinkLost);
        }
    }

    fn key(&mut self, now: Time, key: Key, act: &mut dyn FnMut(Effect)) {
        if self.bench.mode().any_key_stops() {
            self.stop("a key was pressed".to_owned(), true, now, act);
            if key == Key::Interrupt {
                self.leave_stop(now, act);
            }
            return;
        }
        if key == Key::Interrupt {
            self.interrupted(now, Fault::Interrupted, act);
            return;
        }
        let answer = {
            let mut prompt = self.bench.prompt.borrow_mut();
            let Some(open) = prompt.as_mut() else {
                return;
            };
            let answer = open.key(now, key);
            if answer.is_none() {
                act(Effect::Echo(open.typed().to_owned()));
            }
            answer
        };
        if let Some(answer) = answer {
            self.answered(answer, act);
        }
    }

    fn paste(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        if self.bench.mode().any_key_stops() {
            self.stop("something was pasted".to_owned(), true, now, act);
        } else if let Some(prompt) = self.bench.prompt.borrow_mut().as_mut() {
            prompt.paste();
        }
    }

    /// A single key that counts now that nothing followed it.
    fn answer_due(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let answer = self.bench.prompt.borrow_mut().as_mut().and_then(|prompt| prompt.due(now));
        if let Some(answer) = answer {
            self.answered(answer, act);
        }
    }

    fn answered(&mut self, answer: Answer, act: &mut dyn FnMut(Effect)) {
        let yes = !matches!(answer, Answer::Declined(_));
        *self.bench.prompt.borrow_mut() = None;
        *self.bench.answer.borrow_mut() = Some(answer);
        act(Effect::Asked(yes));
    }

    fn end_of_input(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        self.bench.terminal_gone.set(true);
        if self.bench.mode().any_key_stops() {
            self.stop("the terminal was closed".to_owned(), true, now, act);
            return;
        }
        let asked = self.bench.prompt.borrow().as_ref().map(|prompt| prompt.question().title.clone());
        let what = asked.unwrap_or_else(|| "the run".to_owned());
        self.interrupted(now, Fault::Declined { what, why: Declined::EndOfInput }, act);
    }

    fn signal(&mut self, now: Time, signal: SystemSignal, act: &mut dyn FnMut(Effect)) {
        let words = match signal {
            SystemSignal::Interrupt => "the program was interrupted",
            SystemSignal::Terminate => "the program was told to end",
            SystemSignal::HangUp => "the terminal was closed",
            SystemSignal::Quit => "the program was told to quit",
            SystemSignal::TerminalStop => "the program was to be suspended",
        };
        if self.bench.mode().any_key_stops() {
            self.stop(words.to_owned(), true, now, act);
            self.leave_stop(now, act);
        } else {
            self.interrupted(now, Fault::Interrupted, act);
        }
    }

    /// Ctrl-C or a signal again, three seconds into a stop that cannot be confirmed: the operator leaves it.
    fn leave_stop(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let long = match &*self.bench.mode() {
            Mode::Stopping(stop) => now.since(stop.since) > LEAVE_AFTER,
            _ => false,
        };
        if long {
            self.stop_ended(false, act);
        }
    }

    /// Ctrl-C, a signal or a closed terminal at rest: a stop where a motor could turn at all, else the end.
    fn interrupted(&mut self, now: Time, fault: Fault, act: &mut dyn FnMut(Effect)) {
        let watching = matches!(*self.bench.mode(), Mode::Still | Mode::Worked);
        if watching && !self.looks_only && self.bench.pack() != Pack::Out && self.bench.link_up.get() {
            self.stop(fault.to_string(), false, now, act);
        } else if self.script.is_some() {
            self.end_script(fault);
        }
    }

    /// Judges, and stops where the watch says so.
    fn judge(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        if self.looks_only {
            return;
        }
        self.mind_the_battery(now, act);
        let verdict = {
            let live = self.bench.live.borrow();
            let facts = self.bench.facts.borrow();
            let mut mode = self.bench.mode.borrow_mut();
            watch::judge(&live, facts.as_ref(), &mut mode, self.bench.attested_out.get(), now)
        };
        if let Err(reason) = verdict {
            self.stop(reason, true, now, act);
        }
        self.note_armed(now);
    }

    /// An armed flag with the battery out turns nothing, but is said, and nothing is written meanwhile.
    fn note_armed(&mut self, now: Time) {
        let armed = matches!(*self.bench.mode(), Mode::Still | Mode::Worked)
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
    fn mind_the_battery(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let pack = self.bench.look(|live| live.pack(now));
        if pack == Pack::Unknown {
            return;
        }
        let was = std::mem::replace(&mut self.pack, pack);
        if was == Pack::In && pack == Pack::Out {
            self.bench.props_attested.set(None);
        }
        let went_in = pack == Pack::In && (was == Pack::Out || self.bench.attested_out.get());
        if went_in && !self.bench.battery_invited.get() && matches!(*self.bench.mode(), Mode::Still | Mode::Worked) {
            self.stop("the battery went in without being asked for".to_owned(), true, now, act);
        }
    }

    /// Stops: bytes first, then everything else. `ours`: a start that this session invited or saw begin.
    fn stop(&mut self, reason: String, ours: bool, now: Time, act: &mut dyn FnMut(Effect)) {
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
        stopping.next = now + super::stop::QUICK;
        self.bench.set_mode(Mode::Stopping(Box::new(stopping)));
        self.script = None;
        self.bench.requests.borrow_mut().clear();
        self.bench.effects.borrow_mut().clear();
        if self.bench.prompt.borrow_mut().take().is_some() {
            act(Effect::Asked(false));
        }
        act(Effect::Show(Shown::StopSent(reason)));
    }

    fn work_stop(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        loop {
            let work = {
                let live = self.bench.live.borrow();
                let facts = self.bench.facts.borrow();
                match &mut *self.bench.mode.borrow_mut() {
                    Mode::Stopping(stop) => stop.work(&live, facts.as_ref(), now),
                    _ => return,
                }
            };
            match work {
                StopWork::Wait => return,
                StopWork::Send { force } => {
                    if self.bench.look(|live| live.seen_still)
                        && let Some(bytes) = self.link.stop_bytes(force)
                    {
                        act(Effect::Stop(PORT, bytes));
                    }
                }
                StopWork::SwitchOff(switch) => act(Effect::Show(switch_off(switch))),
                StopWork::Warn => act(Effect::Show(Shown::PullTheBattery)),
                StopWork::Confirmed => return self.stop_ended(true, act),
                StopWork::Unconfirmed => return self.stop_ended(false, act),
            }
        }
    }

    fn stop_ended(&mut self, confirmed: bool, act: &mut dyn FnMut(Effect)) {
        let reason = match &*self.bench.mode() {
            Mode::Stopping(stop) => stop.reason.clone(),
            _ => String::new(),
        };
        self.bench.set_mode(Mode::Latched);
        if confirmed {
            act(Effect::Show(Shown::StopConfirmed));
        } else {
            act(Effect::Show(Shown::PullTheBattery));
        }
        self.end_script(Fault::Stopped { reason, confirmed });
    }

    /// Ends the script with a fault; what the closing still has to write down runs after it.
    fn end_script(&mut self, fault: Fault) {
        self.script = None;
        if self.bench.mode().any_key_stops() {
            return;
        }
        self.bench.set_mode(Mode::Latched);
        if self.bench.prompt.borrow_mut().take().is_some() {
            self.bench.act(Effect::Asked(false));
        }
        match self.closing.take() {
            Some(closing) => {
                self.script = Some(closing(fault.clone()));
                self.stopped = Some(fault);
            }
            None => self.ended = Some(Err(self.stopped.take().unwrap_or(fault))),
        }
    }

    /// Renews the dead man's hold while a start or its stop is under way, and takes it back after.
    fn hold(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
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
        }
    }

    fn release(&mut self, act: &mut dyn FnMut(Effect)) {
        if std::mem::take(&mut self.holding) {
            act(Effect::Release(PORT));
        }
    }

    fn poll(&mut self) {
        self.bench.wake.set(Time::NEVER);
        let Some(script) = self.script.as_mut() else { return };
        let mut context = Context::from_waker(Waker::noop());
        if let Poll::Ready(result) = script.as_mut().poll(&mut context) {
            self.script = None;
            match (result, self.stopped.take(), self.closing.take()) {
                (_, Some(fault), _) | (Err(fault), None, None) => self.ended = Some(Err(fault)),
                (Ok(()), None, _) => self.ended = Some(Ok(())),
                (Err(fault), None, Some(closing)) => {
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
            act(effect);
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
            // Repeats are judged like first sendings.
            if self.may_write(now, None).is_err() {
                self.link.give_up_writes();
            }
            let mut heard = Vec::new();
            self.link.work(now, &mut out, &mut heard);
            self.hear(now, heard);
        }
        if !out.is_empty() && self.bench.link_up.get() {
            act(Effect::Send(PORT, out));
        }
    }

    fn leave(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>) {
        if let Err(why) = self.may_leave(now, &request) {
            self.bench.done.borrow_mut().insert(ticket, Done::Refused(why));
            return;
        }
        self.link.send(now, ticket, request, out);
    }

    /// The outgoing gate: what may leave in this mode, at this moment.
    fn may_leave(&self, now: Time, request: &Request) -> Result<(), String> {
        match request {
            Request::Heartbeat
            | Request::Identify
            | Request::ListSettings
            | Request::ReadSetting(_)
            | Request::Stream(..) => Ok(()),
            _ if self.looks_only => Err("this command only looks".to_owned()),
            Request::WriteSetting(name, to) => self.may_write(now, Some((name, *to))),
            Request::Store | Request::Restart => self.may_write(now, None),
            Request::RunMotor { .. } | Request::Arm | Request::Disarm { .. } => match *self.bench.mode() {
                Mode::Turning(_) => Ok(()),
                _ => Err("no start was confirmed".to_owned()),
            },
        }
    }

    /// Everything that [`Bench::stillness`] asks, judged again as the bytes leave; and no write may put an
    /// arm band over where its channel stands now.
    fn may_write(&self, now: Time, write: Option<(&SettingName, Number)>) -> Result<(), String> {
        if self.bench.journal_failed.get() {
            return Err("the journal could not be written, so nothing is written to the board".to_owned());
        }
        self.bench.stillness().map_err(|fault| fault.to_string())?;
        match write {
            Some((name, to)) => self.bench.band_stays_clear(now, name, to),
            None => Ok(()),
        }
    }
}

/// The words, and the gesture where the switch is known.
fn switch_off(switch: Option<Switch>) -> Shown {
    match switch {
        Some(switch) => {
            let sentence = format!("Switch {} to position 0: it is still on.", switch.0);
            Shown::Invite(Gesture::SwitchTo { switch, position: 0 }, sentence, Duration::from_secs(60))
        }
        None => Shown::Line(Tone::Warning, "Switch off: the arm switch is still on.".to_owned()),
    }
}
