//! Where the page is drawn: text at a place, never beyond its area, in an ink that says what it means.
//!
//! Must not be here: what is said.

use crate::report::style::{DANGER, GOOD, QUIET, WARNING};
use crate::report::words::columns;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};

/// What a text means. Only [`Ink::Good`] and [`Ink::Quiet`] are colour alone, and they mark what words say too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    Text,
    Quiet,
    Strong,
    Good,
    Warning,
    /// Light and dark exchanged, for one character among others.
    Mark,
    /// On a ground of its own, or light and dark exchanged: seen from afar, with and without colour.
    Alarm,
}

/// See the module.
pub(super) struct Canvas<'b> {
    buffer: &'b mut Buffer,
    area: Rect,
    colour: bool,
}

impl<'b> Canvas<'b> {
    pub(super) fn new(buffer: &'b mut Buffer, area: Rect, colour: bool) -> Self {
        Self { buffer, area, colour }
    }

    pub(super) fn width(&self) -> u16 {
        self.area.width
    }

    pub(super) fn height(&self) -> u16 {
        self.area.height
    }

    /// A part of it: from a place, so wide and so high, as far as it reaches.
    pub(super) fn part(&mut self, x: u16, y: u16, width: u16, height: u16) -> Canvas<'_> {
        let wanted = Rect::new(self.area.x.saturating_add(x), self.area.y.saturating_add(y), width, height);
        let area = wanted.intersection(self.area);
        Canvas { buffer: &mut *self.buffer, area, colour: self.colour }
    }

    fn style(&self, ink: Ink) -> Style {
        let plain = Style::new();
        let coloured = |colour: u8| {
            if self.colour { plain.fg(Color::Indexed(colour)) } else { plain }.add_modifier(Modifier::BOLD)
        };
        match ink {
            Ink::Quiet if self.colour => plain.fg(Color::Indexed(QUIET)),
            Ink::Text | Ink::Quiet => plain,
            Ink::Strong => plain.add_modifier(Modifier::BOLD),
            Ink::Good => coloured(GOOD),
            Ink::Warning => coloured(WARNING),
            Ink::Alarm if self.colour => coloured(DANGER.0).bg(Color::Indexed(DANGER.1)),
            Ink::Mark | Ink::Alarm => plain.add_modifier(Modifier::BOLD | Modifier::REVERSED),
        }
    }

    /// Writes text at a place; gives the column behind it.
    pub(super) fn put(&mut self, x: u16, y: u16, text: &str, ink: Ink) -> u16 {
        if y >= self.area.height || x >= self.area.width {
            return x;
        }
        let style = self.style(ink);
        let room = usize::from(self.area.width - x);
        let (end, _) = self.buffer.set_stringn(self.area.x + x, self.area.y + y, text, room, style);
        end - self.area.x
    }

    /// Writes text that ends before a column.
    pub(super) fn put_right(&mut self, end: u16, y: u16, text: &str, ink: Ink) {
        let length = u16::try_from(columns(text)).unwrap_or(u16::MAX);
        self.put(end.min(self.area.width).saturating_sub(length), y, text, ink);
    }

    /// A line right across.
    pub(super) fn rule(&mut self, y: u16) {
        let line = "─".repeat(usize::from(self.area.width));
        self.put(0, y, &line, Ink::Quiet);
    }

    /// A whole rectangle in one ink, empty.
    pub(super) fn fill(&mut self, x: u16, y: u16, width: u16, height: u16, ink: Ink) {
        let line = " ".repeat(usize::from(width));
        for row in y..y.saturating_add(height) {
            self.put(x, row, &line, ink);
        }
    }
}
