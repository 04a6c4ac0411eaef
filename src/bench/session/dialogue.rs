//! The one question or line that is open at a time, and what came of it.
//!
//! Must not be here: how an answer is told from a slip (see `prompt`).

use crate::bench::session::prompt::Prompt;
use crate::measure::time::Time;
use crate::seam::LineRead;
use crate::seam::ui::Answer;

/// The one question or line that is open.
#[derive(Debug, Default)]
pub struct Dialogue {
    pub(in crate::bench) prompt: Option<Prompt>,
    pub(in crate::bench) answer: Option<Answer>,
    pub(in crate::bench) line_open: bool,
    pub(in crate::bench) line: Option<LineRead>,
    pub(in crate::bench) told_to_end: bool,
    pub(in crate::bench) terminal_gone: bool,
    /// What was asked about, again or not, was given up.
    given_up: bool,
    /// The run goes on after a stop, or it is being asked whether it does.
    goes_on: bool,
}

impl Dialogue {
    pub(in crate::bench) fn wake(&self) -> Time {
        self.prompt.as_ref().map_or(Time::NEVER, Prompt::wake)
    }

    pub(in crate::bench) fn prompt(&mut self) -> Option<&mut Prompt> {
        self.prompt.as_mut()
    }

    /// Closes the open question without an answer; whether there was one.
    pub(in crate::bench) fn close_prompt(&mut self) -> bool {
        self.prompt.take().is_some()
    }

    pub(in crate::bench) fn answered(&mut self, answer: Answer) {
        self.prompt = None;
        self.answer = Some(answer);
    }

    /// A line was read, or taken back.
    pub(in crate::bench) fn line_closed(&mut self) {
        self.line_open = false;
    }

    pub(in crate::bench) fn line_read(&mut self, line: LineRead) {
        self.line = Some(line);
    }

    pub(in crate::bench) fn opens_line(&mut self) {
        self.line_open = true;
    }

    pub(in crate::bench) fn is_line_open(&self) -> bool {
        self.line_open
    }

    pub(in crate::bench) fn has_line(&self) -> bool {
        self.line.is_some()
    }

    pub(in crate::bench) fn take_line(&mut self) -> Option<LineRead> {
        self.line.take()
    }

    /// The system told the program to end.
    pub(in crate::bench) fn tell_to_end(&mut self) {
        self.told_to_end = true;
    }

    pub(in crate::bench) fn told_to_end(&self) -> bool {
        self.told_to_end
    }

    pub(in crate::bench) fn terminal_is_gone(&mut self) {
        self.terminal_gone = true;
    }

    /// What is asked about is given up, or tried again.
    pub(in crate::bench) fn gives_up(&mut self, given_up: bool) {
        self.given_up = given_up;
    }

    /// The run goes on after a stop, or not.
    pub(in crate::bench) fn goes_on(&mut self, goes_on: bool) {
        self.goes_on = goes_on;
    }

    /// Whether it has gone on since this was asked last.
    pub(in crate::bench) fn is_gone_on(&mut self) -> bool {
        std::mem::take(&mut self.goes_on)
    }

    pub(in crate::bench) fn has_given_up(&self) -> bool {
        self.given_up
    }

    pub(in crate::bench) fn is_terminal_gone(&self) -> bool {
        self.terminal_gone
    }
}
