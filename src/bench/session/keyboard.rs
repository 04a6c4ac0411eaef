//! Keys, pastes, signals and the end of input: a stop while anything may turn, else an answer or the end.
//!
//! Keys are read only where they act. Must not be here: how an answer is told from a slip (see `prompt`).

use crate::bench::session::Session;
use crate::bench::session::prompt::Answer;
use crate::interlock::signals::Pack;
use crate::interlock::state::Mode;
use crate::interlock::watch;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::Declined;
use crate::seam::ui::{Tone, UiEvent};
use crate::seam::{Effect, Key, LineRead, SystemSignal};
use std::time::Duration;

/// From when on a second Ctrl-C leaves a stop that cannot be confirmed.
const LEAVE_AFTER: Duration = Duration::from_secs(3);

impl Session {
    pub(in crate::bench) fn key(&mut self, now: Time, key: Key, act: &mut dyn FnMut(Effect)) {
        if self.bench.mode().any_key_stops() {
            self.stop("a key was pressed".to_owned(), true, now, act);
            if key == Key::Interrupt {
                self.leave_stop(now, act);
            }
            return;
        }
        if self.bench.page_open.get() {
            self.bench.page_key.set(true);
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

    pub(in crate::bench) fn paste(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        if self.bench.mode().any_key_stops() {
            self.stop("something was pasted".to_owned(), true, now, act);
        } else if self.bench.page_open.get() {
            self.bench.page_key.set(true);
        } else if let Some(prompt) = self.bench.prompt.borrow_mut().as_mut() {
            prompt.paste();
        }
    }

    /// A line of the bench prompt. What is typed into a stop is not done after it.
    pub(in crate::bench) fn line(&mut self, now: Time, line: LineRead, act: &mut dyn FnMut(Effect)) {
        self.bench.line_open.set(false);
        if matches!(*self.bench.mode(), Mode::Stopping(_)) {
            if line == LineRead::Abandoned {
                self.leave_stop(now, act);
            } else {
                let text = "Not done: a stop is under way. Type it again once it has ended.";
                act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
            }
            return;
        }
        let powered = self.bench.link_up.get() && self.bench.ours.get() && self.bench.pack() != Pack::Out;
        if line == LineRead::Abandoned && powered && !self.bench.look(|live| watch::at_rest_now(live, now)) {
            self.stop("Ctrl-C was pressed".to_owned(), false, now, act);
            return;
        }
        *self.bench.line.borrow_mut() = Some(line);
    }

    /// A single key that counts now that nothing followed it.
    pub(in crate::bench) fn answer_due(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let answer = self.bench.prompt.borrow_mut().as_mut().and_then(|prompt| prompt.due(now));
        if let Some(answer) = answer {
            self.answered(answer, act);
        }
    }

    pub(in crate::bench) fn answered(&mut self, answer: Answer, act: &mut dyn FnMut(Effect)) {
        let yes = !matches!(answer, Answer::Declined(_));
        *self.bench.prompt.borrow_mut() = None;
        *self.bench.answer.borrow_mut() = Some(answer);
        act(Effect::Asked(yes));
    }

    pub(in crate::bench) fn end_of_input(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        self.bench.terminal_gone.set(true);
        if self.bench.mode().any_key_stops() {
            self.stop("the terminal was closed".to_owned(), true, now, act);
            return;
        }
        let asked = self.bench.prompt.borrow().as_ref().map(|prompt| prompt.question().title.clone());
        let what = asked.unwrap_or_else(|| "the run".to_owned());
        self.interrupted(now, Fault::Declined { what, why: Declined::EndOfInput }, act);
    }

    pub(in crate::bench) fn signal(&mut self, now: Time, signal: SystemSignal, act: &mut dyn FnMut(Effect)) {
        // Each of them has a key, which is one like others where a page is open.
        let key = matches!(signal, SystemSignal::Interrupt | SystemSignal::Quit | SystemSignal::TerminalStop);
        let words = match signal {
            SystemSignal::Interrupt => "the program was interrupted",
            SystemSignal::Terminate => "the program was told to end",
            SystemSignal::HangUp => "the terminal was closed",
            SystemSignal::Quit => "the program was told to quit",
            SystemSignal::TerminalStop => "Ctrl-Z was pressed",
        };
        // A program that is halted goes on later; any other signal means its end.
        let only_a_key = self.bench.page_open.get() && key;
        if !matches!(signal, SystemSignal::Interrupt | SystemSignal::TerminalStop) && !only_a_key {
            self.bench.told_to_end.set(true);
        }
        if self.bench.mode().any_key_stops() {
            self.stop(words.to_owned(), true, now, act);
            self.leave_stop(now, act);
        } else if only_a_key {
            self.bench.page_key.set(true);
        } else {
            self.interrupted(now, Fault::Interrupted, act);
        }
    }

    /// Part of the program broke down: a stop where something could turn, else the end.
    pub(in crate::bench) fn thread_ended(&mut self, now: Time, name: &str, act: &mut dyn FnMut(Effect)) {
        // Without its keys nobody can answer any more.
        self.bench.terminal_gone.set(self.bench.terminal_gone.get() || name == "keys");
        let words = format!("the program's {name} thread ended");
        if self.bench.mode().any_key_stops() {
            self.stop(words, true, now, act);
        } else {
            self.interrupted(now, Fault::Broken(words), act);
        }
    }

    /// Ctrl-C or a signal again, three seconds into a stop that cannot be confirmed: the operator leaves it.
    pub(in crate::bench) fn leave_stop(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let long = match &*self.bench.mode() {
            Mode::Stopping(stop) => now.since(stop.since) > LEAVE_AFTER,
            _ => false,
        };
        if long {
            self.stop_ended(false, act);
        } else {
            let text = "The stop is being sent already. Ctrl-C again after 3 s leaves it, unconfirmed.";
            act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
        }
    }

    /// Ctrl-C, a signal or a closed terminal at rest: a stop where a motor could turn at all, else the end.
    pub(in crate::bench) fn interrupted(&mut self, now: Time, fault: Fault, act: &mut dyn FnMut(Effect)) {
        let latched = self.goes_on() && self.bench.ours.get() && matches!(*self.bench.mode(), Mode::Latched);
        let watching = latched || matches!(*self.bench.mode(), Mode::Still | Mode::SwitchesWorked);
        if watching && !self.looks_only && self.bench.pack() != Pack::Out && self.bench.link_up.get() {
            self.stop(fault.to_string(), false, now, act);
        } else if self.script.is_some() {
            self.end_script(fault);
        }
    }
}
