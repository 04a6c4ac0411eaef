//! The one question or line that is open at a time, and what came of it.
//!
//! Must not be here: how an answer is told from a slip (see `interlock/prompt.rs`).

use crate::interlock::{Answer, Prompt};
use crate::measure::time::Time;
use crate::plan::step::Plan;
use crate::seam::ui::{About, MotorStep, Question, StartedBy};
use crate::seam::{Key, LineRead};
use std::rc::Rc;

/// So much may be typed ahead, in bytes.
const AHEAD: usize = 4096;

/// The one question or line that is open.
#[derive(Debug, Default)]
pub struct Dialogue {
    pub(in crate::bench) prompt: Option<Prompt>,
    pub(in crate::bench) answer: Option<Answer>,
    pub(in crate::bench) line_open: bool,
    pub(in crate::bench) line: Option<LineRead>,
    /// The system told the program to end.
    pub(in crate::bench) told_to_end: bool,
    pub(in crate::bench) terminal_gone: bool,
    /// What was asked about, again or not, was given up.
    pub(in crate::bench) given_up: bool,
    /// How often it was asked at the step under way whether something is tried again.
    pub(in crate::bench) again: u32,
    /// The run goes on after a stop, or it is being asked whether it does.
    pub(in crate::bench) goes_on: bool,
    /// What was typed while neither a question nor a line was open: no answer to a question, and nothing that is done after a
    /// stop.
    pub(in crate::bench) ahead: String,
    /// Motor steps as they were asked for last, one of each kind. What was asked of another craft, or before a stop, is asked
    /// whole again.
    pub(in crate::bench) asked: Vec<MotorStep>,
    /// The plan that was shown of what is under way.
    pub(in crate::bench) plan: Option<Rc<Plan>>,
}

/// Motor steps that are told apart by more than a value: who starts them, and what the radio does.
fn alike(one: &MotorStep, other: &MotorStep) -> bool {
    let by = match (&one.by, &other.by) {
        (StartedBy::Change { .. }, StartedBy::Change { .. }) => true,
        (one, other) => one == other,
    };
    by && one.radio_off() == other.radio_off()
}

/// How many things of a motor step have changed. What to look at follows from the others.
fn changed(one: &MotorStep, other: &MotorStep) -> usize {
    let changes = [
        one.purpose != other.purpose,
        one.pulse != other.pulse,
        one.longest != other.longest,
        one.motors != other.motors,
        one.starts != other.starts,
    ];
    changes.into_iter().filter(|changed| *changed).count()
}

impl Dialogue {
    /// A question is asked: the motor step like it that was asked for before, where no more than one thing has changed. It
    /// was read whole then.
    pub(in crate::bench) fn asks_again(&mut self, question: &Question) -> Option<Box<MotorStep>> {
        let About::Motor(step) = &question.about else { return None };
        let known = self.asked.iter_mut().find(|before| alike(before, step));
        let before = known.map(|before| std::mem::replace(before, step.clone()));
        if before.is_none() {
            self.asked.push(step.clone());
        }
        // Where neither switch nor key stops the motors everything is said each time.
        before.filter(|before| !step.radio_off() && !step.cable_out() && changed(before, step) <= 1).map(Box::new)
    }

    /// A key while nothing is open: kept for the next line.
    pub(super) fn types_ahead(&mut self, key: Key) {
        match key {
            Key::Char(c) if self.ahead.len() < AHEAD && !c.is_control() => self.ahead.push(c),
            Key::Enter if self.ahead.len() < AHEAD && !self.ahead.is_empty() => self.ahead.push('\n'),
            Key::Backspace if !self.ahead.ends_with('\n') => {
                self.ahead.pop();
            }
            Key::Escape => self.ahead.clear(),
            _ => {}
        }
    }

    /// The first line of what was typed ahead; the rest waits for the next.
    pub(in crate::bench) fn takes_ahead(&mut self) -> String {
        let ahead = std::mem::take(&mut self.ahead);
        let Some((first, rest)) = ahead.split_once('\n') else { return ahead };
        rest.clone_into(&mut self.ahead);
        first.to_owned()
    }

    pub(in crate::bench) fn wake(&self) -> Time {
        self.prompt.as_ref().map_or(Time::NEVER, Prompt::wake)
    }

    /// Closes the open question without an answer; whether there was one.
    pub(in crate::bench) fn close_prompt(&mut self) -> bool {
        self.prompt.take().is_some()
    }

    pub(in crate::bench) fn answered(&mut self, answer: Answer) {
        self.prompt = None;
        self.answer = Some(answer);
    }

    /// It is asked once more at this step whether something is tried again; how often that is.
    pub(in crate::bench) fn asks_whether_again(&mut self) -> u32 {
        self.again += 1;
        self.again
    }
}
