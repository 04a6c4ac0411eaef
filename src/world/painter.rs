//! What is written to the terminal, in order: lines, one line at the bottom that changes, and the strip below it.
//!
//! Promises: while a question is open nothing else is printed but what cannot wait; the strip never scrolls and never
//! stands in what is typed; without a moving cursor nothing is ever redrawn. Must not be here: the terminal itself, or any word of its own.

use super::line::view::{Laid, View, broken, cut};
use super::paged::Paged;
use super::screen::{Drawn, PageDraw, PageOut};
use crate::measure::time::Time;
use std::fmt::Write;
use std::time::Duration;

/// Without redrawing, a passing line is said at most this often.
const PASSING: Duration = Duration::from_secs(2);

/// Something to paint.
#[derive(Debug)]
pub(super) enum Paint {
    /// Something shown.
    UiEvent(Drawn),
    /// A page lies ready: only the newest one is ever drawn.
    Page,
    /// A strip lies ready, likewise.
    Strip,
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
    strip: Option<String>,
    panel: Vec<String>,
    passing: Option<String>,
    passed: Option<Time>,
    held: Vec<Drawn>,
    /// What stands in the bottom line without redrawing.
    standing: String,
    /// Whether the last line was empty: a second one says nothing.
    gap: bool,
    paged: Paged,
}

const WORLD: &str = "world> ";
/// So many rows are left to what is asked before a panel has any: a whole question.
const ABOVE: usize = 14;
/// On so many rows or fewer there is no strip.
const FEW: usize = 4;

impl Painter {
    pub(super) fn new(redraws: bool, pages: Box<dyn PageDraw>) -> Self {
        Self {
            redraws,
            question: None,
            typed: String::new(),
            world: None,
            line: None,
            laid: None,
            strip: None,
            panel: Vec::new(),
            passing: None,
            passed: None,
            held: Vec::new(),
            standing: String::new(),
            gap: false,
            paged: Paged::new(pages),
        }
    }

    /// Whether the live page has the screen to itself.
    pub(super) fn whole_page(&self) -> bool {
        self.paged.whole()
    }

    /// The text that carries this out on a terminal of so many columns and rows.
    pub(super) fn paint(&mut self, now: Time, size: (u16, u16), paint: Paint) -> String {
        let width = usize::from(size.0);
        let mut out = String::new();
        let Some(paint) = self.page(&mut out, now, size, paint) else { return out };
        self.clear_bottom(&mut out, width, &paint);
        match paint {
            Paint::UiEvent(Drawn::Urgent(these)) | Paint::WorldSays(these) => self.lines(&mut out, &these),
            Paint::UiEvent(Drawn::Strip(strip)) => self.strip(&mut out, now, strip),
            Paint::UiEvent(Drawn::Panel(rows)) => self.panel(&mut out, rows),
            Paint::UiEvent(drawn) if self.question.is_some() => self.held.push(drawn),
            Paint::UiEvent(Drawn::Passing(_)) if self.line.is_some() => {}
            Paint::UiEvent(drawn) => self.shown(&mut out, now, drawn),
            Paint::Question(mut these, prompt) => {
                // The prompt and the row below it stand on the screen as well.
                let above = (these.len() + 3).saturating_sub(usize::from(size.1));
                if above > 0 && self.redraws {
                    these.push(format!("  MORE ABOVE: {above} rows. Scroll up first."));
                }
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
                        let room = width.saturating_sub(1);
                        self.lines(&mut out, &broken(&format!("{prompt}{typed}"), room));
                    }
                    self.lines(&mut out, &these);
                }
                for drawn in std::mem::take(&mut self.held) {
                    self.shown(&mut out, now, drawn);
                }
            }
            Paint::World(line) => self.world = line,
            Paint::Page | Paint::Strip => {}
            Paint::Line(view) => {
                (self.passing, self.world, self.strip) = (None, None, None);
                self.panel(&mut out, Vec::new());
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
                self.panel(&mut out, Vec::new());
                self.strip = None;
                self.passing = None;
                self.question = None;
                self.world = None;
            }
        }
        self.draw_bottom(&mut out, (width, usize::from(size.1)));
        out
    }

    /// What the live page does with it; what is left to do is given back, with the screen as it was before the page.
    fn page(&mut self, out: &mut String, now: Time, size: (u16, u16), paint: Paint) -> Option<Paint> {
        match paint {
            // A page that comes late never covers a question.
            Paint::UiEvent(Drawn::Page(_)) if self.question.is_some() => None,
            Paint::UiEvent(Drawn::Page(page)) => {
                let first = !self.paged.whole();
                let line = self.world_line();
                match self.paged.show(now, page, line.as_deref(), size) {
                    PageOut::Whole(bytes) => {
                        if first && let Some(laid) = self.laid.take() {
                            laid.clear(out, usize::from(size.0));
                        }
                        self.passing = None;
                        out.push_str(&bytes);
                        None
                    }
                    PageOut::Lines(lines) if lines.is_empty() => None,
                    PageOut::Lines(lines) => Some(Paint::UiEvent(Drawn::Lines(lines))),
                }
            }
            paint if !self.paged.whole() => match paint {
                Paint::UiEvent(Drawn::PageEnds) => {
                    self.paged.leave();
                    None
                }
                paint => Some(paint),
            },
            Paint::UiEvent(Drawn::Panel(rows)) => {
                self.panel = rows;
                None
            }
            Paint::UiEvent(drawn @ (Drawn::Lines(_) | Drawn::Passing(_))) => {
                self.held.push(drawn);
                None
            }
            // Below a page there is no room for it; it stands again once the page is left.
            Paint::UiEvent(Drawn::Strip(strip)) => {
                self.strip = strip;
                None
            }
            Paint::World(line) => {
                self.world = line;
                self.page_again(out, now, size);
                None
            }
            Paint::WorldSays(answers) => {
                self.paged.answered(&answers);
                self.held.push(Drawn::Lines(answers));
                self.page_again(out, now, size);
                None
            }
            paint => {
                out.push_str(self.paged.leave());
                for drawn in std::mem::take(&mut self.held) {
                    self.shown(out, now, drawn);
                }
                // What ends the page and asks for nothing else still puts the bottom line back.
                Some(paint)
            }
        }
    }

    fn page_again(&mut self, out: &mut String, now: Time, size: (u16, u16)) {
        let line = self.world_line();
        if let PageOut::Whole(bytes) = self.paged.again(now, line.as_deref(), size) {
            out.push_str(&bytes);
        }
    }

    fn world_line(&self) -> Option<String> {
        self.world.as_ref().map(|line| format!("{WORLD}{line}"))
    }

    fn shown(&mut self, out: &mut String, now: Time, drawn: Drawn) {
        match drawn {
            Drawn::Page(_) | Drawn::PageEnds | Drawn::Strip(_) | Drawn::Panel(_) => {}
            Drawn::Lines(these) | Drawn::Urgent(these) => {
                self.passing = None;
                self.lines(out, &these);
            }
            Drawn::Passing(text) if self.redraws => self.passing = Some(text),
            Drawn::Passing(text) => {
                if self.due(now) && self.passing.as_ref() != Some(&text) {
                    self.passed = Some(now);
                    self.lines(out, std::slice::from_ref(&text));
                    self.passing = Some(text);
                }
            }
        }
    }

    /// Whether it is time for another line of what changes all the time.
    fn due(&self, now: Time) -> bool {
        self.passed.is_none_or(|passed| now.since(passed) >= PASSING)
    }

    /// Rows that stay in sight, in place of those before; where none follow, those before go up with all else.
    fn panel(&mut self, out: &mut String, rows: Vec<String>) {
        let before = std::mem::replace(&mut self.panel, rows);
        if self.panel.is_empty() && self.redraws {
            self.lines(out, &before);
        }
    }

    /// The strip: below the input, or as a line where it says something new and nothing is being typed.
    fn strip(&mut self, out: &mut String, now: Time, strip: Option<String>) {
        if !self.redraws
            && let Some(text) = strip.as_ref().filter(|text| !text.is_empty())
            && self.strip.as_ref() != Some(text)
        {
            if !self.due(now) || self.question.is_some() || self.line.is_some() || self.world.is_some() {
                return;
            }
            self.passed = Some(now);
            self.lines(out, std::slice::from_ref(text));
        }
        self.strip = strip;
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
        let world = self.world_line();
        let question = || self.question.as_ref().map(|prompt| format!("{prompt}{}", self.typed));
        let passing = || if self.redraws { self.passing.clone() } else { None };
        let line = || self.line.as_ref().map(|view| view.prompt.clone());
        world.or_else(question).or_else(line).or_else(passing)
    }

    fn clear_bottom(&mut self, out: &mut String, width: usize, paint: &Paint) {
        if self.redraws {
            if let Some(laid) = self.laid.take() {
                laid.clear(out, width);
            }
            return;
        }
        if matches!(paint, Paint::LineDone(_, true)) {
            self.standing.clear();
        }
        let stays = matches!(paint, Paint::Echo(_) | Paint::World(Some(_)) | Paint::Line(_))
            || (matches!(paint, Paint::UiEvent(Drawn::Lines(_) | Drawn::Passing(_))) && self.question.is_some())
            || matches!(paint, Paint::UiEvent(Drawn::Strip(_)))
            || (matches!(paint, Paint::UiEvent(Drawn::Passing(_))) && self.line.is_some());
        if !stays && !self.standing.is_empty() {
            out.push_str("\r\n");
            self.standing.clear();
        }
    }

    fn draw_bottom(&mut self, out: &mut String, (width, height): (usize, usize)) {
        let bottom = self.bottom();
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
            let room = width.saturating_sub(1);
            // What is typed stays in sight, however narrow the window has become.
            let typed = self.question.is_some() || self.world.is_some();
            let laid = |bottom: &String| if typed { broken(bottom, room) } else { vec![cut(bottom, room)] };
            let mut rows: Vec<String> = bottom.iter().flat_map(laid).collect();
            let input = rows.len();
            // On a screen of a few rows what is asked comes first.
            let rest = self.panel.iter().rev().take(height.saturating_sub(ABOVE)).rev();
            rows.extend(rest.map(|row| cut(row, room)));
            rows.extend(self.strip.iter().filter(|_| height > FEW).map(|strip| cut(strip, room)));
            if let Some(laid) = Laid::bottom(rows, input) {
                laid.draw(out);
                self.laid = Some(laid);
            }
            return;
        }
        let bottom = bottom.unwrap_or_default();
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
