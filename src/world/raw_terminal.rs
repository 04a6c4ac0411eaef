//! A terminal in raw mode, and the way back.
//!
//! Promises: the terminal is as it was before, whatever ends the program. Must not be here: what is read or written.

use super::mailbox::held;
use super::paged::PAGE_OFF;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::termios::{self, InputModes, LocalModes, OptionalActions, QueueSelector, SpecialCodeIndex, Termios};
use std::fs::File;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, Weak};

/// Columns and rows where nobody says how many there are.
pub(super) const WIDTH: usize = 80;
pub(super) const HEIGHT: usize = 24;

const PASTES_OFF: &[u8] = b"\x1b[?2004l\r";

/// A terminal, open for reading and writing.
#[derive(Debug)]
pub struct Terminal(File);

impl Terminal {
    /// The terminal that controls this process, if there is one and we are in its foreground: a
    /// program in the background would be halted when it reads.
    #[must_use]
    pub fn controlling() -> Option<Self> {
        let file = File::options().read(true).write(true).open("/dev/tty").ok()?;
        let ours = foreground(&file);
        ours.then_some(Self(file))
    }

    /// A terminal that is open already.
    ///
    /// # Errors
    /// Where it is none.
    pub fn from_file(file: File) -> std::io::Result<Self> {
        termios::tcgetattr(&file)?;
        Ok(Self(file))
    }
}

pub(super) fn foreground(file: &File) -> bool {
    termios::tcgetpgrp(file).is_ok_and(|group| group == rustix::process::getpgrp())
}

/// A terminal in raw mode; dropped, it is as it was.
#[derive(Debug)]
pub(super) struct Raw {
    pub(super) file: File,
    before: Termios,
    by_key: Termios,
    marks_pastes: bool,
    /// Whether the live page has the screen.
    page: AtomicBool,
    /// Held while the mode changes, so that none is set after the last.
    over: Mutex<bool>,
}

impl Raw {
    /// Keys come one by one, and none of them is a signal; output stays as it is.
    pub(super) fn enter(terminal: Terminal, marks_pastes: bool) -> std::io::Result<Arc<Self>> {
        let file = terminal.0;
        let before = termios::tcgetattr(&file)?;
        let mut raw = before.clone();
        raw.local_modes -= LocalModes::ICANON | LocalModes::ECHO | LocalModes::ISIG | LocalModes::IEXTEN;
        // Without flow control no key can freeze the screen.
        raw.input_modes -= InputModes::IXON | InputModes::ICRNL | InputModes::INLCR | InputModes::ISTRIP;
        raw.special_codes[SpecialCodeIndex::VMIN] = 1;
        raw.special_codes[SpecialCodeIndex::VTIME] = 0;
        // Flushed: what was typed before is no answer to anything.
        termios::tcsetattr(&file, OptionalActions::Flush, &raw)?;
        let (page, over) = (AtomicBool::new(false), Mutex::new(false));
        let raw = Arc::new(Self { file, before, by_key: raw, marks_pastes, page, over });
        held(&RAW).push(Arc::downgrade(&raw));
        Ok(raw)
    }

    /// The terminal itself edits rows from now on; Ctrl-C and Ctrl-Z end one instead of being signals.
    pub(super) fn by_line(&self) {
        let mut mode = self.by_key.clone();
        mode.local_modes |= LocalModes::ICANON | LocalModes::ECHO | LocalModes::ECHOE | LocalModes::IEXTEN;
        mode.input_modes |= InputModes::ICRNL;
        mode.special_codes = self.before.special_codes.clone();
        mode.special_codes[SpecialCodeIndex::VEOL] = 0x03;
        mode.special_codes[SpecialCodeIndex::VEOL2] = 0x1a;
        self.set(&mode);
    }

    /// Keys come one by one again; rows that were typed ahead answer nothing.
    pub(super) fn by_key(&self) {
        self.set(&self.by_key);
        // A terminal that is gone has nothing waiting.
        let _ = termios::tcflush(&self.file, QueueSelector::IFlush);
    }

    fn set(&self, mode: &Termios) {
        let over = held(&self.over);
        if !*over {
            // A terminal that is gone is noticed by who reads it.
            let _ = termios::tcsetattr(&self.file, OptionalActions::Now, mode);
        }
    }

    /// Columns and rows.
    pub(super) fn size(&self) -> (usize, usize) {
        let size = termios::tcgetwinsize(&self.file).map_or((0, 0), |size| (size.ws_col, size.ws_row));
        let or = |count: u16, usual: usize| if count == 0 { usual } else { usize::from(count) };
        (or(size.0, WIDTH), or(size.1, HEIGHT))
    }

    /// Writes to it, for as long as that takes.
    pub(super) fn write(&self, bytes: &[u8]) -> std::io::Result<()> {
        (&self.file).write_all(bytes)
    }

    /// Whether pastes are marked from the beginning to the end.
    pub(super) fn marks_pastes(&self) -> bool {
        self.marks_pastes
    }

    /// Whether the live page has the screen from now on.
    pub(super) fn has_page(&self, page: bool) {
        self.page.store(page, Ordering::SeqCst);
    }

    pub(super) fn leave(&self) {
        if !std::mem::replace(&mut *held(&self.over), true) {
            // A terminal that is gone needs nothing.
            let _ = termios::tcsetattr(&self.file, OptionalActions::Now, &self.before);
            // A frozen screen would hold us for ever.
            let mut polled = [PollFd::new(&self.file, PollFlags::OUT)];
            let at_once = Timespec { tv_sec: 0, tv_nsec: 0 };
            if self.marks_pastes && poll(&mut polled, Some(&at_once)) == Ok(1) {
                if self.page.load(Ordering::SeqCst) {
                    let _ = (&self.file).write_all(PAGE_OFF.as_bytes());
                }
                let _ = (&self.file).write_all(PASTES_OFF);
            }
        }
    }
}

impl Drop for Raw {
    fn drop(&mut self) {
        self.leave();
    }
}

/// Every terminal in raw mode, for the panic hook.
static RAW: Mutex<Vec<Weak<Raw>>> = Mutex::new(Vec::new());

/// Puts every terminal back.
pub(super) fn leave_all() {
    let raw: Vec<Arc<Raw>> =
        RAW.try_lock().map(|raw| raw.iter().filter_map(Weak::upgrade).collect()).unwrap_or_default();
    for raw in &raw {
        raw.leave();
    }
}
