//! Keys, pastes, signals and the end of input: a stop while anything may turn, else an answer or the end.
//!
//! Keys are read only where they act. Must not be here: how an answer is told from a slip (see `prompt`).

use crate::bench::session::Session;
use crate::interlock::{Answer, Phase};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{Declined, Tone, UiEvent};
use crate::seam::{Effect, Key, LineRead, SystemSignal};
use std::time::Duration;

/// From when on a second Ctrl-C leaves a stop that cannot be confirmed.
const LEAVE_AFTER: Duration = Duration::from_secs(3);

impl Session {
    pub(super) fn key(&mut self, now: Time, key: Key, act: &mut dyn FnMut(Effect)) {
        if self.stops_by_key("a key was pressed", key == Key::Interrupt, act) {
            return;
        }
        if self.bench.monitor().open && !(key == Key::Interrupt && self.demand_stops()) {
            self.bench.monitor().pressed = true;
            return;
        }
        if key == Key::Interrupt {
            self.interrupted(Fault::Interrupted);
            return;
        }
        if key == Key::Char('?') && self.cautions(act) {
            return;
        }
        let answer = {
            let mut dialogue = self.bench.dialogue();
            let Some(open) = &mut dialogue.prompt else {
                dialogue.types_ahead(key);
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

    /// The cautions whole, the plan under way, and the question again below them: no word and no choice begins with the key that asks for them.
    fn cautions(&mut self, act: &mut dyn FnMut(Effect)) -> bool {
        let open = {
            let dialogue = self.bench.dialogue();
            dialogue.prompt.as_ref().filter(|open| open.typed().is_empty()).map(|open| open.question().clone())
        };
        let Some(question) = open else { return false };
        let plan = self.bench.dialogue().plan.clone();
        act(Effect::Show(UiEvent::CautionsWhole(plan)));
        act(Effect::Ask(Box::new(question)));
        true
    }

    /// Whether any key is a stop now; then it is one, and its bytes leave before anything is said. `leaves`: pressed
    /// again, it leaves a stop that cannot be confirmed.
    fn stops_by_key(&mut self, reason: &str, leaves: bool, act: &mut dyn FnMut(Effect)) -> bool {
        let phase = self.bench.phase();
        let stops = phase.any_key_stops();
        if stops {
            self.bench.interlock_mut().stop(reason);
            self.obey(act);
            // The one that begins a stop leaves none.
            if leaves && phase == Phase::Stopping {
                self.leave_stop(act);
            }
        }
        stops
    }

    pub(super) fn paste(&mut self, act: &mut dyn FnMut(Effect)) {
        if self.stops_by_key("something was pasted", false, act) {
            return;
        }
        if self.bench.monitor().open {
            self.bench.monitor().pressed = true;
        } else if let Some(prompt) = &mut self.bench.dialogue().prompt {
            prompt.paste();
        }
    }

    /// A line of the bench prompt. What is typed into a stop is not done after it.
    pub(super) fn line(&mut self, line: LineRead, act: &mut dyn FnMut(Effect)) {
        self.bench.dialogue().line_open = false;
        if self.bench.phase() == Phase::Stopping {
            if line == LineRead::Abandoned {
                self.leave_stop(act);
            } else {
                let text = "Not done: a stop is under way. Type it again once it has ended.";
                act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
            }
            return;
        }
        if line == LineRead::Abandoned && self.demand_stops() {
            self.bench.interlock_mut().stop("Ctrl-C was pressed");
            return;
        }
        self.bench.dialogue().line = Some(line);
    }

    /// A single key that counts now that nothing followed it.
    pub(super) fn answer_due(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let answer = self.bench.dialogue().prompt.as_mut().and_then(|prompt| prompt.due(now));
        if let Some(answer) = answer {
            self.answered(answer, act);
        }
    }

    fn answered(&mut self, answer: Answer, act: &mut dyn FnMut(Effect)) {
        let yes = !matches!(answer, Answer::Declined(_));
        if let Answer::Chosen(key) = answer {
            act(Effect::Echo(key.to_string()));
        }
        self.bench.dialogue().answered(answer);
        act(Effect::Asked(yes));
    }

    pub(super) fn end_of_input(&mut self, act: &mut dyn FnMut(Effect)) {
        self.bench.dialogue().terminal_gone = true;
        self.bench.interlock_mut().terminal_is_gone();
        if self.stops_by_key("the terminal was closed", false, act) {
            return;
        }
        let asked = self.bench.dialogue().prompt.as_ref().map(|prompt| prompt.question().title.clone());
        let what = asked.unwrap_or_else(|| "the run".to_owned());
        self.interrupted(Fault::Declined { what, why: Declined::EndOfInput });
    }

    pub(super) fn signal(&mut self, signal: SystemSignal, act: &mut dyn FnMut(Effect)) {
        // Each of them has a key, which is one like others where a page is open and nothing could turn.
        let key = matches!(signal, SystemSignal::Interrupt | SystemSignal::Quit | SystemSignal::TerminalStop);
        let words = match signal {
            SystemSignal::Interrupt => "the program was interrupted",
            SystemSignal::Terminate => "the program was told to end",
            SystemSignal::HangUp => "the terminal was closed",
            SystemSignal::Quit => "the program was told to quit",
            SystemSignal::TerminalStop => "Ctrl-Z was pressed",
        };
        // A program that is halted goes on later; any other signal means its end.
        let only_a_key = self.bench.monitor().open && key && !self.demand_stops();
        if !matches!(signal, SystemSignal::Interrupt | SystemSignal::TerminalStop) && !only_a_key {
            self.bench.dialogue().told_to_end = true;
        }
        if self.stops_by_key(words, true, act) {
            return;
        }
        if only_a_key {
            self.bench.monitor().pressed = true;
        } else {
            self.interrupted(Fault::Interrupted);
        }
    }

    /// Part of the program broke down: a stop where something could turn, else the end.
    pub(super) fn thread_ended(&mut self, name: &str, act: &mut dyn FnMut(Effect)) {
        if name == "keys" {
            // Without its keys nobody can answer any more.
            self.bench.dialogue().terminal_gone = true;
            self.bench.interlock_mut().terminal_is_gone();
        }
        let words = format!("the program's {name} thread ended");
        if !self.stops_by_key(&words, false, act) {
            self.interrupted(Fault::Broken(words));
        }
    }

    /// Ctrl-C or a signal again, three seconds into a stop that cannot be confirmed: the operator leaves it.
    fn leave_stop(&mut self, act: &mut dyn FnMut(Effect)) {
        if !self.bench.interlock_mut().leaves_stop(LEAVE_AFTER) {
            let text = "The stop is being sent already. Ctrl-C again after 3 s leaves it, unconfirmed.";
            act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
        }
    }

    /// Whether Ctrl-C, a signal or a closed terminal is a stop at rest: where a motor could turn at all.
    fn demand_stops(&self) -> bool {
        let interlock = self.bench.interlock();
        let watched = match interlock.phase() {
            Phase::Still | Phase::SwitchesWorked | Phase::Storing => interlock.link_up(),
            // It may come armed out of its restart, and is stopped once it has answered again.
            Phase::Restarting => true,
            Phase::Latched => self.goes_on() && interlock.is_session_craft_there(),
            Phase::NoContact | Phase::Looking | Phase::Invited | Phase::Turning | Phase::Stopping => false,
        };
        watched && !self.looks_only && interlock.could_turn()
    }

    /// Ctrl-C, a signal or a closed terminal at rest: a stop where a motor could turn at all, else the end.
    fn interrupted(&mut self, fault: Fault) {
        if self.demand_stops() {
            self.bench.interlock_mut().stop(fault.to_string());
        } else if self.script.is_some() {
            self.end_script(fault);
        }
    }
}
