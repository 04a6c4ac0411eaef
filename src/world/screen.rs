//! What the terminal needs from whoever lays out what is shown.
//!
//! The world carries lines to a terminal and knows nothing of their meaning. Must not be here: any word.

use crate::measure::time::Time;
use crate::seam::page::Page;
use crate::seam::ui::{Question, UiEvent};

/// Something laid out, ready for the terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Drawn {
    /// Lines, held back while a question is open.
    Lines(Vec<String>),
    /// Lines that no question holds back.
    Urgent(Vec<String>),
    /// One line that replaces the passing line before it.
    Passing(String),
    /// Rows that stay in sight below the input, in place of those before; none: those before go up with all else.
    Panel(Vec<String>),
    /// What is going on under what is asked, in one row below the input; `None`: nothing is.
    Strip(Option<String>),
    /// The live page, in place of the one before it.
    Page(Box<Page>),
    /// The live page is left.
    PageEnds,
}

/// What brings a page to the terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PageOut {
    /// For the whole screen, cursor movement and all: only what changed.
    Whole(String),
    /// Lines below what was there before, often none.
    Lines(Vec<String>),
}

/// Draws the page again and again, and knows what it has drawn.
pub trait PageDraw: Send {
    /// The page on a terminal of so many columns and rows; `foot` is a line that somebody else needs at its foot.
    fn draw(&mut self, now: Time, page: &Page, foot: Option<&str>, size: (u16, u16)) -> PageOut;
    /// The page is left: the next one begins anew.
    fn leave(&mut self);
}

/// Lays out what the core shows and asks. Everything that came from outside has passed the gate.
pub trait Screen {
    /// Something shown, for a terminal of this many columns.
    fn shown(&self, shown: &UiEvent, width: usize) -> Drawn;
    /// A question, without what is typed.
    fn question(&self, question: &Question, width: usize) -> Vec<String>;
    /// What stands before the typed text.
    fn prompt(&self, question: &Question, width: usize) -> String;
    /// The end of a question; `answered` with yes or a choice.
    fn closed(&self, answered: bool) -> Vec<String>;
    /// What was typed, or an answer of the virtual world, made safe to show.
    fn safe(&self, text: &str) -> String;
    /// What draws the live page.
    fn pages(&self) -> Box<dyn PageDraw>;
    /// Whether the cursor may move back: lines may be redrawn.
    fn redraws(&self) -> bool;
    /// Whether colour may be added to what the words say.
    fn colours(&self) -> bool;
}
