//! The console's line: what is typed and echoed, answers and pages, and what the board says in between.
//!
//! Knows bytes, not verbs. Promises: a line is bounded; a text that comes unasked never breaks into a line, and
//! what stood on the open line is shown anew after it; nothing is said while the port is gone or the console left.

use super::ConsoleConfig;
use super::dialect::{Dialect, Slot};
use crate::measure::time::Time;
use std::collections::VecDeque;
use std::sync::Arc;

/// Lines of a page.
const PAGE: usize = 20;
/// Characters of a line; a longer one is refused.
const LONGEST: usize = 120;
/// Bytes that wait while an answer is to come; more are lost.
const WAITING: usize = 256;

/// What the board answers to a line.
#[derive(Clone)]
pub enum LineAnswer {
    /// One line or several.
    Lines(Vec<String>),
    /// Lines shown a page at a time, and a last one.
    Pages(Vec<String>, String),
    /// The last line before the console is left.
    Left(String),
    /// The last line before the board goes down.
    Down(String),
}

impl LineAnswer {
    pub fn line(text: impl Into<String>) -> Self {
        Self::Lines(vec![text.into()])
    }

    /// Nothing but the prompt, unless it is acknowledged; what goes down still does.
    pub fn unless_silent(self, acknowledged: bool) -> Self {
        match self {
            said if acknowledged => said,
            Self::Down(_) => Self::Down(String::new()),
            _ => Self::Lines(Vec::new()),
        }
    }
}

#[derive(Clone)]
enum ConsoleState {
    /// The port is not there.
    Shut,
    /// The board goes down.
    Down,
    /// Left; so many ends of lines were typed in a row.
    Left(u8),
    /// A line is being typed.
    Typing,
    /// An answer is to come.
    Answering(Time, LineAnswer),
    /// A page is open, with the lines after it.
    Paging(VecDeque<String>, String),
}

/// See the module.
#[derive(Clone)]
pub struct Console {
    pub config: ConsoleConfig,
    pub dialect: Arc<Dialect>,
    state: ConsoleState,
    typed: String,
    too_long: bool,
    /// A line ended in CR; a LF straight after it belongs to the same end.
    after_cr: bool,
    input: VecDeque<u8>,
    output: Vec<u8>,
}

impl Console {
    pub fn new(config: ConsoleConfig, dialect: Arc<Dialect>) -> Self {
        Self {
            config,
            dialect,
            state: ConsoleState::Shut,
            typed: String::new(),
            too_long: false,
            after_cr: false,
            input: VecDeque::new(),
            output: Vec::new(),
        }
    }

    /// The port is there; one that was not before begins with a banner.
    pub fn open(&mut self) {
        if matches!(self.state, ConsoleState::Shut) {
            if let Some(banner) = self.dialect.banner.clone().filter(|_| !self.config.no_banner) {
                self.put_line(&banner);
            }
            self.prompt();
        }
    }

    /// The port vanishes, and with it all that is half said.
    pub fn shut(&mut self) {
        self.state = ConsoleState::Shut;
        self.typed.clear();
        self.too_long = false;
        self.after_cr = false;
        self.input.clear();
        self.output.clear();
    }

    /// Whether the board refuses to arm because of it.
    pub fn blocks_arming(&self) -> bool {
        self.config.blocks_arming
            && !matches!(self.state, ConsoleState::Shut | ConsoleState::Down | ConsoleState::Left(_))
    }

    /// When an answer is due.
    pub fn wake(&self) -> Time {
        if let ConsoleState::Answering(at, _) = self.state { at } else { Time::NEVER }
    }

    /// Takes one byte; a break acts at once, whatever waits.
    pub fn hear(&mut self, byte: u8) {
        let breaks = self.dialect.interrupt == Some(byte);
        match (breaks, &self.state) {
            (_, ConsoleState::Shut | ConsoleState::Down) => {}
            (true, ConsoleState::Left(_)) => self.state = ConsoleState::Left(0),
            (true, _) => {
                self.input.clear();
                self.after_cr = false;
                self.put("\r\n");
                self.prompt();
            }
            _ if self.input.len() < WAITING => self.input.push_back(byte),
            _ => {}
        }
    }

    /// The next line that is complete and not empty; none while an answer is to come.
    pub fn next_line(&mut self) -> Option<String> {
        while !matches!(self.state, ConsoleState::Answering(..)) {
            let byte = self.input.pop_front()?;
            let same_end = std::mem::replace(&mut self.after_cr, byte == b'\r') && byte == b'\n';
            if same_end {
                continue;
            }
            match &mut self.state {
                ConsoleState::Left(ends) if ends_line(byte) && *ends > 0 => {
                    self.put("\r\n");
                    self.prompt();
                }
                ConsoleState::Left(ends) => *ends = u8::from(ends_line(byte)),
                ConsoleState::Paging(..) if self.dialect.more.as_ref().is_some_and(|(_, turns)| *turns == byte) => {
                    self.turn_page();
                }
                ConsoleState::Typing => {
                    if let Some(line) = self.edit(byte) {
                        return Some(line);
                    }
                }
                _ => {}
            }
        }
        None
    }

    /// Takes the answer to a line, to be given at its time.
    pub fn answer(&mut self, now: Time, answer: LineAnswer) {
        if self.config.answers_after.is_zero() {
            self.give(answer);
        } else {
            self.state = ConsoleState::Answering(now + self.config.answers_after, answer);
        }
    }

    /// Gives an answer that is due.
    pub fn work(&mut self, now: Time) {
        if matches!(&self.state, ConsoleState::Answering(at, _) if *at <= now)
            && let ConsoleState::Answering(_, answer) = std::mem::replace(&mut self.state, ConsoleState::Typing)
        {
            self.give(answer);
        }
    }

    /// Says a text unasked.
    pub fn note(&mut self, text: &str) {
        let dialect = Arc::clone(&self.dialect);
        let Some(note) = &dialect.note else { return };
        let open = match &self.state {
            ConsoleState::Shut | ConsoleState::Down | ConsoleState::Left(_) => return,
            ConsoleState::Answering(..) => None,
            ConsoleState::Typing => Some(format!("{}{}", dialect.prompt, self.typed)),
            ConsoleState::Paging(..) => dialect.more.as_ref().map(|(mark, _)| mark.clone()),
        };
        if open.is_some() {
            self.put("\r\n");
        }
        self.put_line(&note.said(&[(Slot::Text, text)]));
        if let Some(open) = open {
            self.put(&open);
        }
    }

    /// What it has shown since the last time.
    pub fn take(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.output)
    }

    fn edit(&mut self, byte: u8) -> Option<String> {
        match byte {
            b'\r' | b'\n' => {
                self.echo("\r\n");
                let line = std::mem::take(&mut self.typed);
                if std::mem::take(&mut self.too_long) {
                    let no = self.dialect.refusal.said(&[(Slot::Why, "line too long")]);
                    self.give(LineAnswer::line(no));
                } else if line.trim().is_empty() {
                    self.prompt();
                } else {
                    return Some(line);
                }
            }
            8 | 0x7F => {
                if self.typed.pop().is_some() {
                    self.echo("\u{8} \u{8}");
                }
            }
            _ if self.typed.len() >= LONGEST => self.too_long = true,
            _ => {
                // What is no character of a line is kept visibly, so that the line is refused, not misread.
                let kept = if byte == b' ' || byte.is_ascii_graphic() { char::from(byte) } else { '?' };
                self.typed.push(kept);
                self.echo(kept.encode_utf8(&mut [0; 4]));
            }
        }
        None
    }

    fn give(&mut self, answer: LineAnswer) {
        match answer {
            LineAnswer::Lines(lines) => {
                for line in lines {
                    self.put_line(&line);
                }
                self.prompt();
            }
            LineAnswer::Pages(lines, last) => self.page(lines.into(), last),
            LineAnswer::Left(line) => {
                self.put_line(&line);
                self.state = ConsoleState::Left(0);
            }
            LineAnswer::Down(line) => {
                self.put_line(&line);
                self.input.clear();
                self.state = ConsoleState::Down;
            }
        }
    }

    /// Rubs the pager out and shows the next page.
    fn turn_page(&mut self) {
        if let ConsoleState::Paging(lines, last) = std::mem::replace(&mut self.state, ConsoleState::Typing) {
            let wide = self.dialect.more.as_ref().map_or(0, |(mark, _)| mark.len());
            self.put(&format!("\r{}\r", " ".repeat(wide)));
            self.page(lines, last);
        }
    }

    fn page(&mut self, mut lines: VecDeque<String>, last: String) {
        let more = self.dialect.more.as_ref().map(|(mark, _)| mark.clone());
        let page = if more.is_some() { PAGE } else { lines.len() };
        for line in lines.drain(..lines.len().min(page)) {
            self.put_line(&line);
        }
        match more {
            Some(mark) if !lines.is_empty() => {
                self.put(&mark);
                self.state = ConsoleState::Paging(lines, last);
            }
            _ => {
                if !last.is_empty() {
                    self.put_line(&last);
                }
                self.prompt();
            }
        }
    }

    fn prompt(&mut self) {
        self.typed.clear();
        self.too_long = false;
        self.state = ConsoleState::Typing;
        let prompt = self.dialect.prompt.clone();
        self.put(&prompt);
    }

    /// Gives back what was typed, where the console does.
    fn echo(&mut self, text: &str) {
        if self.dialect.echo {
            self.put(text);
        }
    }

    fn put_line(&mut self, line: &str) {
        self.put(line);
        self.put("\r\n");
    }

    fn put(&mut self, text: &str) {
        self.output.extend(text.bytes());
    }
}

fn ends_line(byte: u8) -> bool {
    matches!(byte, b'\r' | b'\n')
}
