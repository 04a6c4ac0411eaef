//! What is written to the terminal, in order: lines, and one line at the bottom that changes.
//!
//! Promises: while a question is open nothing else is printed but what cannot wait; without a moving
//! cursor nothing is ever redrawn. Must not be here: the terminal itself, or any word of its own.

use super::line::{Laid, View};
use super::screen::Drawn;
use crate::measure::time::Time;
use std::fmt::Write;
use std::time::Duration;

/// Without redrawing, a passing line is said at most this often.
const PASSING: Duration = Duration::from_secs(2);

/// Something to paint.
#[derive(Debug)]
pub(super) enum Paint {
    /// Something shown.
    Shown(Drawn),
    /// A question opens: its lines, and what stands before the typed text.
    Question(Vec<String>, String),
    /// What was typed so far.
    Echo(String),
    /// The question closes, with these lines.
    Asked(Vec<String>),
    /// The line that is typed looks like this.
    Line(View),
    /// It is over and stays like this; whether the terminal itself went on to the next row.
    LineDone(View, bool),
    /// The virtual world's own line: what was typed there, `None` once it is left.
    World(Option<String>),
    /// The virtual world answers: not held back, since it was asked for.
    WorldSays(Vec<String>),
    /// The end.
    End,
}

/// See the module.
#[derive(Debug)]
pub(super) struct Painter {
    redraws: bool,
    question: Option<String>,
    typed: String,
    world: Option<String>,
    line: Option<View>,
    /// The rows of it on the screen.
    laid: Option<Laid>,
    passing: Option<String>,
    passed: Option<Time>,
    held: Vec<Drawn>,
    /// What stands in the bottom line without redrawing.
    standing: String,
    /// Whether the last line was empty: a second one says nothing.
    gap: bool,
}

const WORLD: &str = "world> ";

impl Painter {
    pub(super) fn new(redraws: bool) -> Self {
        Self {
            redraws,
            question: None,
            typed: String::new(),
            world: None,
            line: None,
            laid: None,
            passing: None,
            passed: None,
            held: Vec::new(),
            standing: String::new(),
            gap: false,
        }
    }

    /// The text that carries this out on a terminal of `width` columns.
    pub(super) fn paint(&mut self, now: Time, width: usize, paint: Paint) -> String {
        let mut out = String::new();
        self.clear_bottom(&mut out, width, &paint);
        match paint {
            Paint::Shown(Drawn::Urgent(these)) | Paint::WorldSays(these) => self.lines(&mut out, &these),
            Paint::Shown(drawn) if self.question.is_some() => self.held.push(drawn),
            Paint::Shown(Drawn::Passing(_)) if self.line.is_some() => {}
            Paint::Shown(drawn) => self.shown(&mut out, now, drawn),
            Paint::Question(these, prompt) => {
                self.lines(&mut out, &these);
                self.passing = None;
                self.question = Some(prompt);
                self.typed.clear();
            }
            Paint::Echo(text) => self.typed = text,
            Paint::Asked(these) => {
                if let Some(prompt) = self.question.take() {
                    let typed = std::mem::take(&mut self.typed);
                    if self.redraws {
                        self.lines(&mut out, &[format!("{prompt}{typed}")]);
                    }
                    self.lines(&mut out, &these);
                }
                for drawn in std::mem::take(&mut self.held) {
                    self.shown(&mut out, now, drawn);
                }
            }
            Paint::World(line) => self.world = line,
            Paint::Line(view) => {
                (self.passing, self.world) = (None, None);
                self.line = Some(view);
            }
            Paint::LineDone(view, _) => {
                self.line = None;
                if self.redraws {
                    self.lines(&mut out, &view.lay(width).rows);
                }
            }
            Paint::End => {
                if self.redraws
                    && let Some(view) = self.line.take()
                {
                    self.lines(&mut out, &view.done().lay(width).rows);
                }
                self.line = None;
                self.passing = None;
                self.question = None;
                self.world = None;
            }
        }
        self.draw_bottom(&mut out, width);
        out
    }

    fn shown(&mut self, out: &mut String, now: Time, drawn: Drawn) {
        match drawn {
            Drawn::Lines(these) | Drawn::Urgent(these) => {
                self.passing = None;
                self.lines(out, &these);
            }
            Drawn::Passing(text) if self.redraws => self.passing = Some(text),
            Drawn::Passing(text) => {
                let due = self.passed.is_none_or(|passed| now.since(passed) >= PASSING);
                if due && self.passing.as_ref() != Some(&text) {
                    self.passed = Some(now);
                    self.lines(out, std::slice::from_ref(&text));
                    self.passing = Some(text);
                }
            }
        }
    }

    fn lines(&mut self, out: &mut String, lines: &[String]) {
        for line in lines {
            if !(line.is_empty() && self.gap) {
                out.push_str(line);
                out.push_str("\r\n");
            }
            self.gap = line.is_empty();
        }
    }

    /// What belongs into the bottom line.
    fn bottom(&self) -> Option<String> {
        let world = self.world.as_ref().map(|line| format!("{WORLD}{line}"));
        let question = || self.question.as_ref().map(|prompt| format!("{prompt}{}", self.typed));
        let passing = || if self.redraws { self.passing.clone() } else { None };
        let line = || self.line.as_ref().map(|view| view.prompt.clone());
        world.or_else(question).or_else(line).or_else(passing)
    }

    fn clear_bottom(&mut self, out: &mut String, width: usize, paint: &Paint) {
        if self.redraws {
            if let Some(laid) = self.laid.take() {
                laid.clear(out, width);
            } else if self.bottom().is_some() {
                out.push_str("\r\u{1b}[K");
            }
            return;
        }
        if matches!(paint, Paint::LineDone(_, true)) {
            self.standing.clear();
        }
        let stays = matches!(paint, Paint::Echo(_) | Paint::World(Some(_)) | Paint::Line(_))
            || (matches!(paint, Paint::Shown(Drawn::Lines(_) | Drawn::Passing(_))) && self.question.is_some())
            || (matches!(paint, Paint::Shown(Drawn::Passing(_))) && self.line.is_some());
        if !stays && !self.standing.is_empty() {
            out.push_str("\r\n");
            self.standing.clear();
        }
    }

    fn draw_bottom(&mut self, out: &mut String, width: usize) {
        let bottom = self.bottom().unwrap_or_default();
        if self.redraws
            && self.question.is_none()
            && let Some(view) = &self.line
        {
            let laid = view.lay(width);
            laid.draw(out);
            self.laid = Some(laid);
            return;
        }
        if self.redraws {
            cut(out, &bottom, width.saturating_sub(1));
            return;
        }
        // Nothing is redrawn: what was added is added, anything else begins a new line.
        match bottom.strip_prefix(self.standing.as_str()) {
            Some(added) => out.push_str(added),
            None => {
                // Writing into a string cannot fail.
                let _ = write!(out, "\r\n{bottom}");
            }
        }
        self.standing = bottom;
    }
}

/// Adds text cut to a number of columns, colour left out of the count.
fn cut(out: &mut String, text: &str, columns: usize) {
    let (mut shown, mut escape, mut coloured) = (0, false, false);
    for c in text.chars() {
        if escape || c == '\u{1b}' {
            escape = c != 'm';
            coloured = true;
            out.push(c);
        } else if shown < columns {
            shown += 1;
            out.push(c);
        }
    }
    if coloured {
        out.push_str("\u{1b}[0m");
    }
}
