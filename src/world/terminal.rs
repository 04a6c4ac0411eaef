//! The controlling terminal: keys from it, lines to it, each on a thread of its own.
//!
//! Promises: a key is delivered at once and a frozen screen keeps nothing waiting; a terminal that closes is said once.
//! Must not be here: its modes (see `raw_terminal`), what a key or a line means.
//!
//! Reads the terminal itself: the usual library for it spins for ever once a terminal has closed.

use super::clock::Clock;
use super::helper;
use super::line::{Lines, WorldLines, to_world};
use super::mailbox::{Mailbox, held};
use super::painter::Paint;
use super::raw_terminal::{Raw, foreground};
use super::turn::turn;
use crate::machines::keys::{Keys, Pressed};
use crate::measure::time::Time;
use crate::seam::{Event, Key, SystemSignal};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::Errno;
use rustix::termios;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex};
use std::time::Duration;

pub use super::raw_terminal::Terminal;

/// How many columns a stream has, where it is a terminal that says so.
#[must_use]
pub fn columns(stream: impl std::os::fd::AsFd) -> Option<usize> {
    termios::tcgetwinsize(stream).ok().map(|size| usize::from(size.ws_col)).filter(|columns| *columns > 0)
}

/// Between two looks whether the program is ending, and how wide the terminal is.
const LOOK: Duration = Duration::from_millis(100);

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
