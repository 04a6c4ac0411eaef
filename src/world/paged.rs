//! The live page on the terminal: what stands at its foot, and what is kept until it is left.
//!
//! Promises: whoever has something urgent to say gets the screen as it was before the page. Must not be here: how a
//! page looks, or what is written when there is none.

use super::screen::{PageDraw, PageOut};
use crate::measure::time::Time;
use crate::seam::page::Page;
use std::fmt;

/// Onto a screen of its own, without a cursor, and back.
/// Source: xterm's control sequences (`ctlseqs`), private modes 1049 and 25 (the latter from the VT220).
pub(super) const PAGE_ON: &str = "\x1b[?1049h\x1b[?25l";
pub(super) const PAGE_OFF: &str = "\x1b[?25h\x1b[?1049l";

/// See the module.
pub(super) struct Paged {
    draw: Box<dyn PageDraw>,
    /// The page that stands.
    page: Option<Box<Page>>,
    /// Whether the screen is its own.
    whole: bool,
    /// What the virtual world answered last.
    answer: Option<String>,
}

impl fmt::Debug for Paged {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Paged").field("page", &self.page).field("whole", &self.whole).finish_non_exhaustive()
    }
}

impl Paged {
    pub(super) fn new(draw: Box<dyn PageDraw>) -> Self {
        Self { draw, page: None, whole: false, answer: None }
    }

    /// Whether the page has the screen to itself.
    pub(super) fn whole(&self) -> bool {
        self.whole
    }

    /// A new page: bytes for the whole screen, or lines.
    pub(super) fn show(&mut self, now: Time, page: Box<Page>, line: Option<&str>, size: (u16, u16)) -> PageOut {
        self.page = Some(page);
        self.again(now, line, size)
    }

    /// The same page once more, as something else changed.
    pub(super) fn again(&mut self, now: Time, line: Option<&str>, size: (u16, u16)) -> PageOut {
        let Some(page) = &self.page else { return PageOut::Lines(Vec::new()) };
        if line.is_some() {
            self.answer = None;
        }
        let foot = line.or(self.answer.as_deref());
        match self.draw.draw(now, page, foot, size) {
            PageOut::Whole(bytes) => {
                let on = if std::mem::replace(&mut self.whole, true) { "" } else { PAGE_ON };
                PageOut::Whole(format!("{on}{bytes}"))
            }
            lines @ PageOut::Lines(_) => lines,
        }
    }

    /// What the virtual world answered, for the foot.
    pub(super) fn answered(&mut self, answers: &[String]) {
        self.answer = Some(answers.join("; "));
    }

    /// Leaves the page: the bytes that bring the screen back as it was.
    pub(super) fn leave(&mut self) -> &'static str {
        if self.page.take().is_some() {
            self.draw.leave();
        }
        self.answer = None;
        if std::mem::take(&mut self.whole) { PAGE_OFF } else { "" }
    }
}
