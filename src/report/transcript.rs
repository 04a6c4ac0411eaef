//! A rehearsal as a transcript: what was shown and asked, what was answered, what was done by hand.
//!
//! Promises: every line says who speaks; answers stand in their question; the last word is that no
//! craft was touched. Must not be here: what a rehearsal is, where the lines go.

use super::gate;
use super::screen::line::{Ink, Page};
use super::screen::{Screen, Style};
use crate::language::characters::capital;
use crate::measure::time::Time;
use crate::plan::titles::count;
use crate::rehearsal::rehearse::Rehearsed;
use crate::rehearsal::simulated::TranscriptEvent;
use crate::rehearsal::your_craft::Played;
use crate::seam::fault::Fault;
use crate::seam::ui::UiEvent;
use crate::seam::{Key, LineRead};
use crate::world::screen::{Drawn, Screen as _};

/// The last words of every rehearsal.
pub const NOTHING_SHOWN: &str = "no craft was touched; this proves nothing about yours";
/// Columns of a transcript.
const WIDTH: usize = 96;

/// See the module.
#[derive(Debug)]
pub struct Transcript {
    style: Style,
    screen: Screen,
    /// What the operator did at the open question; `None`: no question is open.
    typed: Option<Typed>,
    /// World lines since the last other line, answered.
    moved: Vec<String>,
    gap: bool,
}

impl Transcript {
    /// A transcript in this style.
    #[must_use]
    pub fn new(style: Style) -> Self {
        Self { style, screen: Screen::new(style), typed: None, moved: Vec::new(), gap: true }
    }

    /// The lines before everything else: what this is, and on which craft.
    #[must_use]
    pub fn begin(&mut self, title: &str, craft: &str, played: &Played) -> String {
        let mut page = Page::new(self.style, WIDTH);
        page.heading("Rehearsal");
        page.say("recipe", &format!("\"{}\"", gate::line(title)));
        page.inked(Ink::Warning, "VIRTUAL", &gate::line(craft));
        played_as(&mut page, played);
        page.gap();
        self.lines(page.lines())
    }

    /// The lines for something seen; empty where nothing is to be told yet.
    #[must_use]
    pub fn seen(&mut self, seen: &TranscriptEvent<'_>) -> String {
        match seen {
            TranscriptEvent::Moved { answer, .. } => {
                self.moved.extend(answer.lines().map(|line| gate::line(line).into_owned()));
                String::new()
            }
            TranscriptEvent::Pressed(key) => {
                match (&mut self.typed, key) {
                    (Some(typed), Key::Enter) => typed.entered = true,
                    (Some(typed), key) => typed.keys.push_str(&name(*key)),
                    (None, key) => self.moved.push(format!("presses {}", name(*key))),
                }
                String::new()
            }
            TranscriptEvent::Entered(line) => {
                let line = match line {
                    LineRead::Typed(line) => gate::line(line).into_owned(),
                    LineRead::Abandoned => "(thrown away)".to_owned(),
                    LineRead::End => "(leaves)".to_owned(),
                };
                let mut text = self.flush();
                text.push_str(&self.lines(vec![format!("> {line}")]));
                text
            }
            TranscriptEvent::Odd(what) => {
                match &mut self.typed {
                    Some(typed) => typed.odd = Some((*what).to_owned()),
                    None => self.moved.push((*what).to_owned()),
                }
                String::new()
            }
            TranscriptEvent::Asked(question) => {
                self.typed = Some(Typed { prompt: self.screen.prompt(question, WIDTH), ..Typed::default() });
                let mut text = self.flush();
                text.push_str(&self.lines(self.screen.question(question, WIDTH)));
                text
            }
            TranscriptEvent::Answered(answered) => {
                let typed = self.typed.take().unwrap_or_default();
                let mut lines = vec![format!("{}(operator {})", typed.prompt, typed.words())];
                lines.extend(self.screen.closed(*answered));
                self.lines(lines)
            }
            TranscriptEvent::Shown(shown) => self.shown(shown),
        }
    }

    fn shown(&mut self, shown: &UiEvent) -> String {
        let drawn = match shown {
            // Nobody reads it in a transcript, and it is told more often than all else together.
            UiEvent::Strip(_) => return String::new(),
            // They are for who stands at a bench; here nobody does.
            UiEvent::Cautions => {
                let mut page = Page::new(self.style, WIDTH);
                page.say("", "(an attended run shows its cautions here)");
                Drawn::Lines(page.lines())
            }
            UiEvent::Board { board, id, firmware, is_virtual, settings, .. } => {
                let port = "the rehearsal's own wire".to_owned();
                let (board, id, firmware) = (board.clone(), id.clone(), firmware.clone());
                let (is_virtual, settings) = (*is_virtual, *settings);
                self.screen.shown(&UiEvent::Board { board, port, id, firmware, is_virtual, settings }, WIDTH)
            }
            other => self.screen.shown(other, WIDTH),
        };
        match drawn {
            // Nobody reads a page in a transcript: it changes all the time and ends without a word.
            Drawn::Passing(_) | Drawn::Strip(_) | Drawn::Page(_) | Drawn::PageEnds => String::new(),
            Drawn::Lines(lines) | Drawn::Urgent(lines) | Drawn::Panel(lines) => {
                let mut text = self.flush();
                text.push_str(&self.lines(lines));
                text
            }
        }
    }

    /// The lines after everything else: how it ended, and what that says of a craft.
    #[must_use]
    pub fn end(&mut self, rehearsed: &Rehearsed) -> String {
        let mut text = self.flush();
        let mut page = Page::new(self.style, WIDTH);
        page.heading("Rehearsed");
        match &rehearsed.result {
            Ok(()) => page.inked(Ink::Good, "ended", "at its end: all that the recipe asks was played through"),
            Err(fault) => page.inked(Ink::Warning, "ended", &gate::line(&reason(fault))),
        }
        page.say("questions", &rehearsed.questions.to_string());
        page.say("restarts", &rehearsed.restarts.to_string());
        page.say("bench time", &format!("{}, simulated", minutes(rehearsed.took)));
        page.gap();
        page.say("", NOTHING_SHOWN);
        text.push_str(&self.lines(page.lines()));
        text
    }

    /// What the operator did by hand since the last line.
    fn flush(&mut self) -> String {
        if self.moved.is_empty() {
            return String::new();
        }
        let done = std::mem::take(&mut self.moved).join("; ");
        let mut page = Page::new(self.style, WIDTH);
        page.say("operator", &done);
        self.lines(page.lines())
    }

    /// Lines as text; never two empty ones in a row.
    fn lines(&mut self, lines: Vec<String>) -> String {
        let mut text = String::new();
        for line in lines {
            let empty = line.is_empty();
            if !(empty && self.gap) {
                text.push_str(&line);
                text.push('\n');
            }
            self.gap = empty;
        }
        text
    }
}

/// Why a rehearsal did not come to its end, as one sentence.
#[must_use]
pub fn reason(fault: &Fault) -> String {
    capital(&fault.to_string())
}

/// What of a virtual craft is as it was told, and what is not, in a sentence each.
pub(super) fn played_as(page: &mut Page, played: &Played) {
    if !played.told.is_empty() {
        page.say("as told", &gate::line(&played.told.join("; ")));
    }
    page.say("not told", &gate::line(&format!("and played as a Wren 95 has it: {}", played.untold.join(", "))));
}

/// Simulated time, for people.
#[must_use]
pub fn minutes(took: Time) -> String {
    let seconds = (took.0 + 500_000) / 1_000_000;
    if seconds < 60 { count(seconds, "second") } else { format!("{} min {} s", seconds / 60, seconds % 60) }
}

/// What was done at one question.
#[derive(Debug, Default)]
struct Typed {
    /// What stands before it.
    prompt: String,
    keys: String,
    entered: bool,
    odd: Option<String>,
}

impl Typed {
    fn words(&self) -> String {
        match (&self.odd, self.keys.as_str(), self.entered) {
            (Some(odd), ..) => odd.clone(),
            (None, "", true) => "presses Enter".to_owned(),
            (None, "", false) => "does nothing".to_owned(),
            (None, keys, true) => format!("types {keys}"),
            (None, keys, false) => format!("presses {keys}"),
        }
    }
}

fn name(key: Key) -> String {
    match key {
        Key::Char(c) => gate::line(&c.to_string()).into_owned(),
        Key::Enter => "Enter".to_owned(),
        Key::Backspace => "(backspace)".to_owned(),
        Key::Escape => "(escape)".to_owned(),
        Key::Interrupt => "(Ctrl-C)".to_owned(),
        Key::Other => "(another key)".to_owned(),
    }
}
