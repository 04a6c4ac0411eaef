//! The page on a screen of its own: head, radio on the left, craft and battery on the right, foot; with room for it, how
//! the motors went of late.
//!
//! Only cells that changed since the last drawing leave for the terminal. Must not be here: what any part says.

use super::canvas::{Canvas, Ink};
use super::history::History;
use super::{battery, channels, craft, foot, head};
use crate::measure::time::Time;
use crate::seam::page::Page;
use crate::world::screen::{PageDraw, PageOut};
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::{Terminal, TerminalOptions, Viewport};
use std::io::{self, Write};
use std::sync::{Arc, Mutex, PoisonError};

/// The page is made for this size; with less, its edges are cut.
const COLUMNS: u16 = 80;
const ROWS: u16 = 24;
/// From here on there is room for larger letters and more air.
const ROOMY: (u16, u16) = (110, 37);
/// Columns of craft and battery.
const RIGHT: u16 = 27;
const RIGHT_ROOMY: u16 = 44;

/// The whole screen empty. Source: ECMA-48, ED.
const CLEAR: &[u8] = b"\x1b[2J";

/// Draws a page onto the whole of a buffer.
pub fn draw(buffer: &mut Buffer, page: &Page, foot_line: Option<&str>, colour: bool, history: &History) {
    let area = buffer.area;
    let small = area.width < COLUMNS || area.height < ROWS;
    let roomy = area.width >= ROOMY.0 && area.height >= ROOMY.1;
    let mut canvas = Canvas::new(buffer, area, colour);
    let top = head::head(&mut canvas, page, roomy, small);
    let below: u16 = if roomy { 7 } else { 3 };
    let rows = area.height.saturating_sub(top + below);
    let right = if roomy { RIGHT_ROOMY } else { RIGHT };
    let left = area.width.saturating_sub(right + 2);
    let used = channels::channels(&mut canvas.part(0, top, left, rows), page, roomy);
    history.draw(&mut canvas.part(1, top + used + 1, left.saturating_sub(2), rows.saturating_sub(used + 1)));
    for row in top..top + rows {
        canvas.put(left, row, "│", Ink::Quiet);
    }
    let mut side = canvas.part(left + 2, top, right, rows);
    let used = craft::craft(&mut side, page, roomy);
    let height = side.height();
    let width = side.width();
    battery::battery(&mut side.part(0, used, width, height.saturating_sub(used)), page, roomy);
    foot::foot(&mut canvas.part(0, top + rows, area.width, below), page, foot_line);
}

/// Where the library writes: taken out after each drawing.
#[derive(Clone, Default)]
struct Sink(Arc<Mutex<Vec<u8>>>);

impl Sink {
    fn take(&self) -> Vec<u8> {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

type Screen = Terminal<CrosstermBackend<Sink>>;

/// See the module.
pub(super) struct Whole {
    colour: bool,
    sink: Sink,
    terminal: Option<Screen>,
    size: (u16, u16),
    history: History,
}

impl Whole {
    pub(super) fn new(colour: bool) -> Self {
        Self { colour, sink: Sink::default(), terminal: None, size: (0, 0), history: History::default() }
    }

    fn on(&mut self, page: &Page, foot: Option<&str>, size: (u16, u16)) -> io::Result<()> {
        if self.terminal.is_none() || self.size != size {
            let viewport = Viewport::Fixed(Rect::new(0, 0, size.0, size.1));
            let backend = CrosstermBackend::new(self.sink.clone());
            let terminal = Terminal::with_options(backend, TerminalOptions { viewport })?;
            // Not the library's own clearing, which asks the terminal where the cursor is and eats what was typed.
            self.sink.write_all(CLEAR)?;
            self.terminal = Some(terminal);
            self.size = size;
        }
        if let Some(terminal) = &mut self.terminal {
            let (colour, history) = (self.colour, &self.history);
            terminal.draw(|frame| draw(frame.buffer_mut(), page, foot, colour, history))?;
        }
        Ok(())
    }
}

impl PageDraw for Whole {
    fn draw(&mut self, now: Time, page: &Page, foot: Option<&str>, size: (u16, u16)) -> PageOut {
        self.history.take(now, page);
        // Writing into memory fails never; a page that could not be drawn is drawn anew.
        if self.on(page, foot, size).is_err() {
            self.terminal = None;
        }
        PageOut::Whole(String::from_utf8_lossy(&self.sink.take()).into_owned())
    }

    fn leave(&mut self) {
        self.terminal = None;
    }
}
