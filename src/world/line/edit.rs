//! One open line: what each key does to it.
//!
//! Promises: nothing that would not show gets into a line; a line that ends in a comma goes on in the next; an
//! empty line behind such a comma ends it all the same, so that nobody is caught. Must not be here: bytes, drawing.

use super::history::History;
use super::offer::{self, Offer};
use super::view::View;
use crate::language::characters::is_hidden;
use crate::language::goes_on;
use crate::machines::keys::Pressed;
use crate::seam::{LineAsked, LineRead, SystemSignal};
use rustyline::line_buffer::{ChangeListener, DeleteListener, Direction, LineBuffer};
use rustyline::{At, Word};

/// Longest line in bytes: beyond what a statement may have, so that the sentence about it can be said.
const LONGEST: usize = 16 << 10;
/// Steps that can be taken back.
const REMEMBERED: usize = 200;
/// Most candidates that are listed.
const LISTED: usize = 12;

/// What a key led to.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Did {
    /// Nothing.
    Nothing,
    /// The line may look otherwise now.
    Changed,
    /// The line is over.
    Read(LineRead),
    /// For the core at once; the line stays.
    Signal(SystemSignal),
}

/// See the module.
pub(super) struct Line {
    asked: LineAsked,
    world: bool,
    text: LineBuffer,
    /// Where in the history, `len()` for the line itself, which is kept meanwhile.
    place: usize,
    kept: String,
    search: Option<Search>,
    listed: Vec<String>,
    cut: String,
    before: Vec<(String, usize)>,
    /// Whether the last key was a character: a word typed is one step back.
    typing: bool,
}

struct Search {
    wanted: String,
    /// Where it was found last.
    found: Option<usize>,
    from: (String, usize),
}

/// Nobody listens to the buffer.
struct Unheard;

impl DeleteListener for Unheard {
    fn delete(&mut self, _: usize, _: &str, _: Direction) {}
}

impl ChangeListener for Unheard {
    fn insert_char(&mut self, _: usize, _: char) {}
    fn insert_str(&mut self, _: usize, _: &str) {}
    fn replace(&mut self, _: usize, _: &str, _: &str) {}
}

impl Line {
    /// A line with what was typed before it was asked for; `world` where a virtual one can be moved from it.
    pub(super) fn new(asked: LineAsked, history: &History, world: bool) -> Self {
        let mut text = LineBuffer::with_capacity(LONGEST);
        let typed: String = asked.typed.chars().filter(|c| !is_hidden(*c)).collect();
        text.update(&typed, typed.len(), &mut Unheard);
        Self {
            asked,
            world,
            text,
            place: history.len(),
            kept: String::new(),
            search: None,
            listed: Vec::new(),
            cut: String::new(),
            before: Vec::new(),
            typing: false,
        }
    }

    /// The same line behind another prompt, as what it tells has changed.
    pub(super) fn asked_anew(&mut self, asked: LineAsked) {
        self.asked = asked;
    }

    /// What is to be seen of it.
    pub(super) fn view(&self) -> View {
        let (prompt, below) = match &self.search {
            Some(search) => {
                let how = if search.found.is_some() || search.wanted.is_empty() { "" } else { ": there is none" };
                let keys = "  Enter takes it, Ctrl-R goes further back, Esc leaves".to_owned();
                (format!("typed before with \"{}\"{how}> ", search.wanted), vec![keys])
            }
            None if self.listed.is_empty() => {
                let at_end = self.text.is_cursor_at_end();
                let hint = at_end.then(|| offer::hint(self.text.as_str(), &self.asked.known, self.world)).flatten();
                (self.asked.prompt.clone(), hint.map(|hint| format!("  {hint}")).into_iter().collect())
            }
            None => (self.asked.prompt.clone(), self.listed.clone()),
        };
        View {
            prompt,
            more: continued(&self.asked.prompt),
            text: self.text.as_str().to_owned(),
            cursor: self.text.pos(),
            below,
            ..View::default()
        }
    }

    /// Carries out a key.
    pub(super) fn press(&mut self, key: Pressed, history: &History) -> Did {
        self.listed.clear();
        let typing = std::mem::replace(&mut self.typing, matches!(key, Pressed::Char(c) if c != ' '));
        match key {
            Pressed::Interrupt => return Did::Read(LineRead::Abandoned),
            Pressed::Suspend => return Did::Signal(SystemSignal::TerminalStop),
            Pressed::Quit => return Did::Signal(SystemSignal::Quit),
            key if self.search.is_some() => self.searching(key, history),
            Pressed::Leave if self.text.is_empty() => return Did::Read(LineRead::End),
            Pressed::Enter if goes_on(self.text.as_str()) && !self.last_is_empty() => {
                self.text.move_buffer_end();
                self.put("\n");
            }
            Pressed::Enter => return Did::Read(LineRead::Typed(self.text.as_str().to_owned())),
            Pressed::Char(c) => {
                if !typing {
                    self.remember();
                }
                self.put(c.encode_utf8(&mut [0; 4]));
            }
            Pressed::Pasted(text) => {
                self.remember();
                self.put(text.replace("\r\n", "\n").replace('\r', "\n").trim_end_matches('\n'));
            }
            Pressed::Tab => self.complete(),
            Pressed::Up | Pressed::Down => self.up_or_down(key == Pressed::Up, history),
            Pressed::Search => {
                let from = (self.text.as_str().to_owned(), self.text.pos());
                self.search = Some(Search { wanted: String::new(), found: None, from });
            }
            key => self.edit(&key),
        }
        Did::Changed
    }

    fn edit(&mut self, key: &Pressed) {
        let text = &mut self.text;
        match key {
            Pressed::Left => drop(text.move_backward(1)),
            Pressed::Right => drop(text.move_forward(1)),
            Pressed::WordLeft => drop(text.move_to_prev_word(Word::Emacs, 1)),
            Pressed::WordRight => drop(text.move_to_next_word(At::AfterEnd, Word::Emacs, 1)),
            Pressed::Home => drop(text.move_home()),
            Pressed::End => drop(text.move_end()),
            Pressed::Backspace => {
                self.remember();
                self.text.backspace(1, &mut Unheard);
            }
            Pressed::Delete | Pressed::Leave => {
                self.remember();
                self.text.delete(1, &mut Unheard);
            }
            Pressed::CutToEnd => self.cut(|text| text.kill_line(&mut Unheard)),
            Pressed::CutToStart => self.cut(|text| text.discard_line(&mut Unheard)),
            Pressed::CutWordLeft => self.cut(|text| text.delete_prev_word(Word::Emacs, 1, &mut Unheard)),
            Pressed::CutWordRight => self.cut(|text| text.delete_word(At::AfterEnd, Word::Emacs, 1, &mut Unheard)),
            Pressed::PutBack => {
                self.remember();
                self.put(&self.cut.clone());
            }
            Pressed::Undo => {
                if let Some((text, at)) = self.before.pop() {
                    self.text.update(&text, at, &mut Unheard);
                }
            }
            _ => {}
        }
    }

    /// Adds text at the cursor; what would not show stays out, a tab is a blank.
    fn put(&mut self, text: &str) {
        let shown: String = text.chars().map(|c| if c == '\t' { ' ' } else { c }).collect();
        let shown: String = shown.chars().filter(|c| *c == '\n' || !is_hidden(*c)).collect();
        // A line that is full takes no more, which is seen.
        let _ = self.text.yank(&shown, 1, &mut Unheard);
    }

    fn remember(&mut self) {
        let now = (self.text.as_str().to_owned(), self.text.pos());
        if self.before.last().is_none_or(|(text, _)| *text != now.0) {
            self.before.push(now);
        }
        if self.before.len() > REMEMBERED {
            self.before.remove(0);
        }
    }

    fn cut(&mut self, act: impl FnOnce(&mut LineBuffer) -> bool) {
        self.remember();
        let (before, from) = (self.text.as_str().to_owned(), self.text.pos());
        if act(&mut self.text) {
            let start = from.min(self.text.pos());
            before[start..start + before.len() - self.text.len()].clone_into(&mut self.cut);
        }
    }

    /// Whether the last row holds nothing.
    fn last_is_empty(&self) -> bool {
        self.text.as_str().rsplit_once('\n').is_some_and(|(_, last)| last.trim().is_empty())
    }

    fn up_or_down(&mut self, up: bool, history: &History) {
        let (text, at) = (self.text.as_str(), self.text.pos());
        let start = text[..at].rfind('\n').map_or(0, |found| found + 1);
        let column = text[start..at].chars().count();
        let other = if up {
            (start > 0).then(|| text[..start - 1].rfind('\n').map_or(0, |found| found + 1))
        } else {
            text[at..].find('\n').map(|found| at + found + 1)
        };
        if let Some(other) = other {
            let row = text[other..].split('\n').next().unwrap_or_default();
            let offset = row.char_indices().nth(column).map_or(row.len(), |(offset, _)| offset);
            return self.text.set_pos(other + offset);
        }
        self.recall(up, history);
    }

    fn recall(&mut self, back: bool, history: &History) {
        let mut place = self.place;
        loop {
            let next = if back { place.checked_sub(1) } else { (place < history.len()).then_some(place + 1) };
            let Some(next) = next else { return };
            place = next;
            let found = if place == history.len() { Some(self.kept.clone()) } else { history.get(place) };
            if let Some(found) = found {
                if self.place == history.len() {
                    self.text.as_str().clone_into(&mut self.kept);
                }
                self.place = place;
                return self.replace(&found);
            }
        }
    }

    fn replace(&mut self, text: &str) {
        self.remember();
        // What is longer than a line may be stays away.
        if text.len() <= LONGEST {
            self.text.update(text, text.len(), &mut Unheard);
        }
    }

    fn searching(&mut self, key: Pressed, history: &History) {
        let Some(mut search) = self.search.take() else { return };
        let end = match key {
            Pressed::Char(c) => {
                search.wanted.push(c);
                // What was found may still do.
                search.found.map_or(history.len(), |found| found + 1)
            }
            Pressed::Backspace => {
                search.wanted.pop();
                history.len()
            }
            Pressed::Search => search.found.unwrap_or(history.len()),
            // Taken to be looked at, never carried out unseen; where nothing was found there is nothing to take.
            Pressed::Enter if search.found.is_some() => return,
            Pressed::Enter | Pressed::Escape => {
                self.text.update(&search.from.0, search.from.1, &mut Unheard);
                return;
            }
            key => return self.edit(&key),
        };
        let found = if search.wanted.is_empty() { None } else { history.find(&search.wanted, end) };
        match found.and_then(|found| history.get(found)) {
            Some(line) => {
                search.found = found;
                self.replace(&line);
            }
            None if key == Pressed::Search => {}
            None => {
                search.found = None;
                self.text.update(&search.from.0, search.from.1, &mut Unheard);
            }
        }
        self.search = Some(search);
    }

    fn complete(&mut self) {
        let (text, at) = (self.text.as_str(), self.text.pos());
        let Offer { start, candidates } = offer::complete(text, at, &self.asked.known, self.world);
        let typed = &text[start..at];
        let common = rustyline::completion::longest_common_prefix(&candidates).unwrap_or_default().to_owned();
        let only = candidates.len() == 1;
        if only || common.len() > typed.len() && common.starts_with(typed) {
            let after = if only && !common.ends_with('/') && !text[at..].starts_with(' ') { " " } else { "" };
            self.remember();
            self.text.replace(start..at, &format!("{common}{after}"), &mut Unheard);
        } else if !only {
            self.listed = offer::list(&candidates, LISTED);
        }
    }
}

/// What stands before each further line.
pub(super) fn continued(prompt: &str) -> String {
    format!("{:>1$}", "| ", prompt.chars().count())
}
