//! The typed line at the terminal: edited here, or by the terminal itself where no cursor may move.
//!
//! Promises: what is shown while it is open stands above it at once, whatever the operator is doing in it; one
//! place reads the terminal and one writes it; opening and closing wait for nothing.
//! Must not be here: what a line means.
//!
//! The editor is ours, made of the usual library's buffer and history: its own reading loop shows nothing while it
//! searches or lists, where a stop's large words may not wait, and can't be ended from outside.

mod edit;
mod history;
mod offer;
pub(super) mod view;

pub use history::file as history_file;
pub(super) use offer::{WorldLines, to_world};

use super::clock::Clock;
use super::mailbox::{Mailbox, held};
use super::painter::Paint;
use super::raw_terminal::Raw;
use crate::language::goes_on;
use crate::machines::keys::Pressed;
use crate::measure::time::Time;
use crate::seam::{Event, LineAsked, LineRead, SystemSignal};
use edit::{Did, Line, continued};
use history::History;
use offer::WORLD;
use std::path::PathBuf;
use std::sync::mpsc::Sender;
use view::View;

/// Longest line that the terminal itself edits, in bytes.
const LONGEST: usize = 16 << 10;

/// How a line is typed.
#[derive(Debug, Clone, Copy)]
pub(super) struct EditMode {
    /// The cursor may move: lines are edited here.
    pub edited: bool,
    /// Hints may be dimmed.
    pub colour: bool,
}

/// Where what comes of a line goes.
#[derive(Clone)]
pub(super) struct Outlets {
    pub clock: Clock,
    pub mailbox: Mailbox,
    pub paint: Sender<(Time, Paint)>,
    pub world_lines: WorldLines,
}

/// See the module.
pub(super) struct Lines {
    outlets: Outlets,
    mode: EditMode,
    history: History,
    open: Option<Open>,
    /// Columns and rows of the terminal.
    size: (usize, usize),
}

enum Open {
    /// And whether the paste under way, if one is, began in it: of one that began before, nothing is its text.
    Edited(Box<Line>, bool, LineAsked),
    /// Edited by the terminal: the line so far, and the bytes of its last row.
    ByTerminal(String, Vec<u8>, LineAsked),
}

impl Lines {
    pub(super) fn new(outlets: Outlets, mode: EditMode, history: Option<PathBuf>) -> Self {
        Self { outlets, mode, history: History::open(history), open: None, size: (80, 24) }
    }

    /// What went wrong with the history, once.
    pub(super) fn trouble(&mut self) -> Option<String> {
        self.history.trouble()
    }

    /// Waits until what was typed is kept, but not for long.
    pub(super) fn close(&mut self) {
        self.history.close();
    }

    pub(super) fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Whether the terminal itself edits the open line.
    pub(super) fn by_terminal(&self) -> bool {
        matches!(self.open, Some(Open::ByTerminal(..)))
    }

    /// Opens a line. One that is open already goes on behind the new prompt, with what was typed.
    pub(super) fn open(&mut self, asked: LineAsked, raw: &Raw) {
        self.size = raw.size();
        match &mut self.open {
            Some(Open::Edited(line, _, known)) => {
                line.asked_anew(asked.clone());
                *known = asked;
                return self.show();
            }
            // Nothing is redrawn there; the next line has the new prompt.
            Some(Open::ByTerminal(.., known)) => {
                *known = asked;
                return;
            }
            None => {}
        }
        if self.mode.edited {
            let line = Box::new(Line::new(asked.clone(), &self.history, held(&self.outlets.world_lines).is_some()));
            self.open = Some(Open::Edited(line, false, asked));
        } else {
            raw.by_line();
            self.open = Some(Open::ByTerminal(String::new(), Vec::new(), asked));
        }
        self.show();
    }

    /// Throws an open line away: something has to be asked that cannot wait.
    pub(super) fn abandon(&mut self, raw: &Raw) {
        if self.is_open() {
            self.over(LineRead::Abandoned, raw);
        }
    }

    /// The terminal may have another size now.
    pub(super) fn look(&mut self, size: (usize, usize)) {
        if self.size != size {
            self.size = size;
            self.show();
        }
    }

    /// Takes a key of the open line; whether a line is open still.
    pub(super) fn press(&mut self, pressed: Pressed, raw: &Raw) -> bool {
        if let Some(Open::Edited(line, pasting, _)) = &mut self.open {
            let done = match pressed {
                Pressed::PasteBegins => {
                    *pasting = true;
                    Did::Nothing
                }
                Pressed::PasteGoesOn => Did::Nothing,
                Pressed::Pasted(_) if !std::mem::take(pasting) => Did::Nothing,
                pressed => line.press(pressed, &self.history),
            };
            match done {
                Did::Nothing => {}
                Did::Changed => self.show(),
                Did::Signal(signal) => self.outlets.mailbox.post(Event::Signal(signal)),
                Did::Read(read) => self.over(read, raw),
            }
        }
        self.is_open()
    }

    /// The terminal says that nothing more comes: Ctrl-D at the start of a row.
    pub(super) fn end_of_text(&mut self, raw: &Raw) {
        if matches!(&self.open, Some(Open::ByTerminal(whole, row, _)) if whole.is_empty() && row.is_empty()) {
            self.over(LineRead::End, raw);
        }
    }

    /// Takes a byte of a line that the terminal edits; whether a line is open still.
    pub(super) fn take_row(&mut self, byte: u8, raw: &Raw) -> bool {
        self.by_row(byte, raw);
        self.is_open()
    }

    fn by_row(&mut self, byte: u8, raw: &Raw) {
        let Some(Open::ByTerminal(whole, row, asked)) = &mut self.open else { return };
        match byte {
            b'\n' => {
                let text = String::from_utf8_lossy(&std::mem::take(row)).into_owned();
                whole.push_str(&text);
                if goes_on(whole) && !text.trim().is_empty() {
                    whole.push('\n');
                    let view = View { prompt: continued(&asked.prompt), ..View::default() };
                    self.paint(Paint::LineDone(View::default(), true));
                    return self.paint(Paint::Line(view));
                }
                let whole = std::mem::take(whole);
                self.over(LineRead::Typed(whole), raw);
            }
            0x03 => self.over(LineRead::Abandoned, raw),
            0x1a => self.outlets.mailbox.post(Event::Signal(SystemSignal::TerminalStop)),
            0x1c => self.outlets.mailbox.post(Event::Signal(SystemSignal::Quit)),
            _ if row.len() + whole.len() < LONGEST => row.push(byte),
            _ => {}
        }
    }

    fn over(&mut self, read: LineRead, raw: &Raw) {
        let (view, asked, by_terminal) = match self.open.take() {
            None => return,
            Some(Open::Edited(line, _, asked)) => (line.view(), asked, false),
            Some(Open::ByTerminal(.., asked)) => (View::default(), asked, true),
        };
        let typed = matches!(read, LineRead::Typed(_));
        self.paint(Paint::LineDone(view.done(), by_terminal && typed));
        if let LineRead::Typed(text) = &read {
            self.history.add(text.trim_end());
            let for_world = text.trim_start().strip_prefix(WORLD);
            if for_world.is_some_and(|line| to_world(&self.outlets.world_lines, line)) {
                return self.open(asked, raw);
            }
        }
        if by_terminal {
            raw.by_key();
        }
        self.outlets.mailbox.post(Event::Line(read));
    }

    fn show(&self) {
        let view = match &self.open {
            None => return,
            Some(Open::Edited(line, ..)) => line.view(),
            Some(Open::ByTerminal(whole, _, asked)) if whole.is_empty() => {
                View { prompt: asked.prompt.clone(), ..View::default() }
            }
            Some(Open::ByTerminal(_, _, asked)) => View { prompt: continued(&asked.prompt), ..View::default() },
        };
        self.paint(Paint::Line(View { colour: self.mode.colour, height: self.size.1, ..view }));
    }

    fn paint(&self, paint: Paint) {
        // The drawing thread ends only with the world.
        let _ = self.outlets.paint.send((self.outlets.clock.now(), paint));
    }
}
