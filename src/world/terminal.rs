//! The controlling terminal: keys from it, lines to it, each on a thread of its own.
//!
//! Promises: the terminal is as it was before, whatever ends the program; a key is delivered at once
//! and a frozen screen keeps nothing waiting; a terminal that closes is said once.
//! Must not be here: what a key or a line means.
//!
//! Reads the terminal itself: the usual library for it spins for ever once a terminal has closed.

use super::clock::Clock;
use super::helper;
use super::line::Lines;
use super::mailbox::{Mailbox, held};
use super::paged::PAGE_OFF;
use super::painter::Paint;
use super::turn::turn;
use crate::machines::keys::{Keys, Pressed};
use crate::measure::time::Time;
use crate::seam::{Event, Key, SystemSignal};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::Errno;
use rustix::termios::{self, InputModes, LocalModes, OptionalActions, QueueSelector, SpecialCodeIndex, Termios};
use std::fs::File;
use std::io::Write;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex, Weak};
use std::time::Duration;

/// Columns and rows where nobody says how many there are.
pub(super) const WIDTH: usize = 80;
pub(super) const HEIGHT: usize = 24;
/// Between two looks whether the program is ending, and how wide the terminal is.
const LOOK: Duration = Duration::from_millis(100);

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

fn foreground(file: &File) -> bool {
    termios::tcgetpgrp(file).is_ok_and(|group| group == rustix::process::getpgrp())
}

/// A terminal in raw mode; dropped, it is as it was.
#[derive(Debug)]
pub(super) struct Raw {
    file: File,
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
    fn enter(terminal: Terminal, marks_pastes: bool) -> std::io::Result<Arc<Self>> {
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

/// Where lines go to another world than the core's.
pub(super) type WorldLines = Arc<Mutex<Option<Sender<String>>>>;

/// Sends lines to the world, if there is one: several with `;` between.
pub(super) fn to_world(world: &WorldLines, text: &str) -> bool {
    let world = held(world);
    if let Some(lines) = &*world {
        let whole = text.split(';').map(str::trim).filter(|line| !line.is_empty());
        // A world that is gone answers nothing.
        whole.for_each(|line| drop(lines.send(line.to_owned())));
    }
    world.is_some()
}

/// What the threads of the terminal share.
#[derive(Clone)]
pub(super) struct Shared {
    pub(super) clock: Clock,
    pub(super) mailbox: Mailbox,
    pub(super) paint: Sender<(Time, Paint)>,
    pub(super) width: Arc<AtomicUsize>,
    pub(super) height: Arc<AtomicUsize>,
    pub(super) over: Arc<AtomicBool>,
    pub(super) world_lines: WorldLines,
    pub(super) lines: Arc<Mutex<Lines>>,
}

/// Starts reading keys. The terminal is in raw mode while the answer lives.
pub(super) fn start(terminal: Terminal, marks_pastes: bool, shared: Shared) -> std::io::Result<Arc<Raw>> {
    let raw = Raw::enter(terminal, marks_pastes)?;
    let mut reader = Reader { raw: raw.clone(), shared, keys: Keys::default(), world: None };
    let mailbox = reader.shared.mailbox.clone();
    helper::start("keys", &mailbox, move || {
        if !reader.run() {
            reader.shared.mailbox.post(Event::EndOfInput);
        }
        true
    })?;
    Ok(raw)
}

struct Reader {
    raw: Arc<Raw>,
    shared: Shared,
    keys: Keys,
    /// What is typed on the virtual world's line, while it is open.
    world: Option<String>,
}

impl Reader {
    /// Reads until the program ends (true) or the terminal is gone (false).
    fn run(&mut self) -> bool {
        let controls = foreground(&self.raw.file);
        loop {
            turn();
            if self.shared.over.load(Ordering::SeqCst) {
                return true;
            }
            self.look_at_size();
            // Once ours, no longer: somebody put us into the background.
            if controls && !foreground(&self.raw.file) {
                return false;
            }
            let wait = self.keys.wake().since(self.shared.clock.now()).min(LOOK);
            let wait = Timespec { tv_sec: 0, tv_nsec: i64::from(wait.subsec_nanos()) };
            let mut polled = [PollFd::new(&self.raw.file, PollFlags::IN)];
            match poll(&mut polled, Some(&wait)) {
                Ok(0) => {
                    self.quiet();
                    continue;
                }
                Ok(_) => {}
                Err(Errno::INTR) => continue,
                Err(_) => return false,
            }
            let mut bytes = [0; 256];
            match rustix::io::read(&self.raw.file, &mut bytes) {
                Ok(0) if held(&self.shared.lines).by_terminal() && termios::tcgetattr(&self.raw.file).is_ok() => {
                    held(&self.shared.lines).end_of_text(&self.raw);
                }
                Ok(0) => return false,
                Ok(count) => self.read(&bytes[..count]),
                Err(Errno::INTR | Errno::AGAIN) => {}
                Err(_) => return false,
            }
        }
    }

    fn look_at_size(&self) {
        let size = self.raw.size();
        self.shared.width.store(size.0, Ordering::Relaxed);
        self.shared.height.store(size.1, Ordering::Relaxed);
        held(&self.shared.lines).look(size);
    }

    fn read(&mut self, bytes: &[u8]) {
        let now = self.shared.clock.now();
        // What is typed behind a line before anything came of it is no answer to that; only Ctrl-C counts.
        let mut ahead = false;
        for &byte in bytes {
            let mut lines = held(&self.shared.lines);
            if lines.by_terminal() && !ahead {
                ahead = !lines.take_row(byte, &self.raw);
                continue;
            }
            let Some(pressed) = self.keys.take(now, byte) else { continue };
            if ahead {
                drop(lines);
                if pressed == Pressed::Interrupt {
                    self.pressed(&pressed);
                }
            } else if lines.is_open() {
                self.world = None;
                ahead = !lines.press(pressed, &self.raw);
            } else {
                drop(lines);
                self.pressed(&pressed);
            }
        }
    }

    /// Nothing came for a while.
    fn quiet(&mut self) {
        let Some(pressed) = self.keys.quiet(self.shared.clock.now()) else { return };
        let mut lines = held(&self.shared.lines);
        if lines.is_open() {
            lines.press(pressed, &self.raw);
        } else if pressed.key().is_some() {
            drop(lines);
            self.pressed(&pressed);
        }
    }

    fn pressed(&mut self, pressed: &Pressed) {
        let has_world = held(&self.shared.world_lines).is_some();
        let event = match (pressed, self.world.is_some()) {
            (Pressed::Tab, false) if has_world => return self.world_line(Some(String::new())),
            (Pressed::Suspend, _) => Event::Signal(SystemSignal::TerminalStop),
            (Pressed::Quit, _) => Event::Signal(SystemSignal::Quit),
            (Pressed::Tab, true) => return,
            (pressed, in_world) => match pressed.key() {
                Some(key) if in_world && key != Key::Interrupt => return self.world_key(key),
                Some(key) => Event::Key(key),
                None if in_world => return,
                None => Event::Paste,
            },
        };
        if self.world.is_some() {
            self.world_line(None);
        }
        self.shared.mailbox.post(event);
    }

    fn world_line(&mut self, line: Option<String>) {
        self.world.clone_from(&line);
        // The drawing thread lives as long as the world.
        let _ = self.shared.paint.send((self.shared.clock.now(), Paint::World(line)));
    }

    fn world_key(&mut self, key: Key) {
        let mut line = self.world.take().unwrap_or_default();
        match key {
            // World lines are plain words; nothing in their answers can then be hidden.
            Key::Char(c) if line.len() < 200 && matches!(c, ' '..='~') => line.push(c),
            Key::Backspace => {
                line.pop();
            }
            Key::Escape => return self.world_line(None),
            Key::Enter => {
                self.world_line(None);
                to_world(&self.shared.world_lines, &line);
                return;
            }
            _ => {}
        }
        self.world_line(Some(line));
    }
}
