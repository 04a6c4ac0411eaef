//! What is drawn, where the terminal shows no more than ASCII.
//!
//! Promises: a character becomes one character, so that what was laid out stays in its columns; what has no likeness is
//! shown as `?`. Must not be here: what is drawn.

use crate::measure::time::Time;
use crate::seam::page::Page;
use crate::world::screen::{Drawn, PageDraw, PageOut};

/// The same text in ASCII.
#[must_use]
pub fn text(text: &str) -> String {
    text.chars().map(like).collect()
}

fn like(c: char) -> char {
    match c {
        _ if c.is_ascii() => c,
        '━' | '─' | '▅' | '–' | '—' => '-',
        '┃' | '│' => '|',
        '┏' | '┓' | '┗' | '┛' | '┌' | '┐' | '└' | '┘' | '├' | '┤' | '┬' | '┴' | '┼' | '▇' => {
            '+'
        }
        '█' | '▪' | '■' => '#',
        '▀' | '“' | '”' | '„' => '"',
        '▄' | '▃' => ',',
        '▁' => '_',
        '▂' | '·' | '…' => '.',
        '▆' => '=',
        '‘' | '’' => '\'',
        _ => '?',
    }
}

/// The same in ASCII.
#[must_use]
pub fn drawn(drawn: Drawn) -> Drawn {
    match drawn {
        Drawn::Lines(these) => Drawn::Lines(lines(&these)),
        Drawn::Urgent(these) => Drawn::Urgent(lines(&these)),
        Drawn::Panel(these) => Drawn::Panel(lines(&these)),
        Drawn::Passing(line) => Drawn::Passing(text(&line)),
        Drawn::Strip(row) => Drawn::Strip(row.as_deref().map(text)),
        page @ (Drawn::Page(_) | Drawn::PageEnds) => page,
    }
}

/// The same in ASCII.
#[must_use]
pub fn lines(lines: &[String]) -> Vec<String> {
    lines.iter().map(|line| text(line)).collect()
}

/// What draws the page, in ASCII.
pub struct Pages(pub Box<dyn PageDraw>);

impl PageDraw for Pages {
    fn draw(&mut self, now: Time, page: &Page, foot: Option<&str>, size: (u16, u16)) -> PageOut {
        match self.0.draw(now, page, foot, size) {
            PageOut::Whole(bytes) => PageOut::Whole(text(&bytes)),
            PageOut::Lines(these) => PageOut::Lines(lines(&these)),
        }
    }

    fn leave(&mut self) {
        self.0.leave();
    }
}
