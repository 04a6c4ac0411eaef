//! The drawing thread: paints what comes, in order, on the terminal or on a stream of the process.
//!
//! Promises: of pages and strips only the newest one is drawn, so a frozen screen piles none up; who has gone away from our
//! standard output is noticed. Must not be here: what is painted.

use super::mailbox::{Mailbox, held};
use super::painter::{Paint, Painter};
use super::raw_terminal::Raw;
use super::screen::{Drawn, PageDraw};
use super::turn::turn;
use crate::measure::time::Time;
use crate::seam::Event;
use crate::seam::page::Page;
use std::io::Write;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender};
use std::sync::{Arc, Mutex};

const PASTES_ON: &[u8] = b"\x1b[?2004h";

/// What the drawing thread works with.
pub(super) struct Drawing {
    /// The terminal; `None`: lines go to a stream of the process.
    pub(super) raw: Option<Arc<Raw>>,
    /// Where lines go without a terminal: standard output, else standard error.
    pub(super) to_output: bool,
    pub(super) redraws: bool,
    pub(super) pages: Box<dyn PageDraw>,
    pub(super) width: Arc<AtomicUsize>,
    pub(super) height: Arc<AtomicUsize>,
    /// The page to be drawn next: a frozen screen piles none up.
    pub(super) page: NewestPage,
    /// The strip to be drawn next, likewise.
    pub(super) strip: NewestStrip,
    pub(super) mailbox: Mailbox,
}

/// Where the newest page lies.
pub(super) type NewestPage = Arc<Mutex<Option<Box<Page>>>>;

/// Where the newest strip lies.
pub(super) type NewestStrip = Arc<Mutex<Option<Drawn>>>;

/// Draws until the end, and says whether it was told to end; on the terminal or on a stream of the process.
pub(super) fn draw(with: Drawing, paints: &Receiver<(Time, Paint)>, done: &Sender<()>) -> bool {
    let raw = with.raw.as_deref();
    let mut painter = Painter::new(with.redraws && raw.is_some(), with.pages);
    let write = |bytes: &[u8]| match raw {
        Some(raw) => raw.write(bytes),
        None if with.to_output => {
            let mut out = std::io::stdout().lock();
            out.write_all(bytes).and_then(|()| out.flush())
        }
        None => std::io::stderr().lock().write_all(bytes),
    };
    // A screen that is gone shows nothing; the core hears of it by another way.
    if raw.is_some_and(Raw::marks_pastes) {
        let _ = write(PASTES_ON);
    }
    let size = |of: &AtomicUsize| u16::try_from(of.load(Ordering::Relaxed)).unwrap_or(u16::MAX);
    let mut told = false;
    for (at, paint) in paints {
        turn();
        let paint = match paint {
            Paint::Page => match held(&with.page).take() {
                Some(page) => Paint::UiEvent(Drawn::Page(page)),
                None => continue,
            },
            Paint::Strip => match held(&with.strip).take() {
                Some(strip) => Paint::UiEvent(strip),
                None => continue,
            },
            paint => paint,
        };
        let end = matches!(paint, Paint::End);
        let text = painter.paint(at, (size(&with.width), size(&with.height)), paint);
        let page = painter.whole_page();
        if let Some(raw) = raw.filter(|_| page) {
            raw.has_page(true);
        }
        let text = if raw.is_some() { text } else { text.replace("\r\n", "\n") };
        if !text.is_empty() && write(text.as_bytes()).is_err() && with.to_output {
            // Who read our output has gone: nobody is left to show anything to.
            with.mailbox.post(Event::EndOfInput);
        }
        // Said only once it is so: who ends the program meanwhile still gives the screen back.
        if let Some(raw) = raw.filter(|_| !page) {
            raw.has_page(false);
        }
        if end {
            told = true;
            break;
        }
    }
    // Nobody waits for a screen that took too long.
    let _ = done.send(());
    told
}
