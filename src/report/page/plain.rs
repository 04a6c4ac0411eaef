//! The page as lines: `name: value`, nothing redrawn, no bars.
//!
//! Promises: a block at most every 2 s, and only where something changed; after the first one it holds only what
//! changed. Must not be here: how a fact is worded.

use super::facts::{Fact, facts};
use crate::measure::time::Time;
use crate::report::gate;
use crate::seam::page::{Page, SheetSeen};
use crate::world::screen::{PageDraw, PageOut};
use std::time::Duration;

/// Shortest time between two blocks.
const APART: Duration = Duration::from_secs(2);
/// The first block waits this long at most until it is known what board this is.
const ASKED: Duration = Duration::from_secs(4);

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Plain {
    /// When the first page came.
    begun: Option<Time>,
    /// When the last block was told.
    told_at: Option<Time>,
    /// Facts as they were told last.
    told: Vec<Fact>,
    /// The board's words that were told last.
    words: Option<String>,
}

impl Plain {
    fn news(&mut self, page: &Page) -> Vec<String> {
        let mut lines = Vec::new();
        let now = facts(page);
        let gone = self.told.iter().filter(|before| !now.iter().any(|fact| fact.name == before.name));
        let gone: Vec<String> = gone.map(|before| format!("{}: not known any more", before.name)).collect();
        let mut told = Vec::new();
        for fact in now {
            let before = self.told.iter().find(|before| before.name == fact.name);
            if let Some(before) = before.filter(|before| !fact.news(before)) {
                told.push(before.clone());
            } else {
                lines.push(format!("{}: {}", fact.name, fact.value));
                told.push(fact);
            }
        }
        self.told = told;
        lines.extend(gone);
        // Whatever the board said after what was told last.
        let after = self.words.as_ref().and_then(|text| page.said.iter().rposition(|said| said.text == *text));
        for said in &page.said[after.map_or(0, |at| at + 1)..] {
            lines.push(format!("board said: \"{}\"", gate::line(&said.text)));
        }
        if let Some(last) = page.said.last() {
            self.words = Some(last.text.clone());
        }
        lines
    }
}

impl PageDraw for Plain {
    fn draw(&mut self, now: Time, page: &Page, _foot: Option<&str>, _size: (u16, u16)) -> PageOut {
        if self.told_at.is_some_and(|at| now.since(at) < APART) {
            return PageOut::Lines(Vec::new());
        }
        let first = self.told_at.is_none();
        let begun = *self.begun.get_or_insert(now);
        let unsettled = matches!(page.sheet, SheetSeen::Asking | SheetSeen::Reading(..));
        if first && unsettled && now.since(begun) < ASKED {
            return PageOut::Lines(Vec::new());
        }
        let mut lines = self.news(page);
        if !lines.is_empty() {
            self.told_at = Some(now);
            if !first {
                lines.insert(0, String::new());
            }
        }
        PageOut::Lines(lines)
    }

    fn leave(&mut self) {
        *self = Self::default();
    }
}
