//! A desk: a virtual board in one process, the program in another with a terminal of its own, and a
//! person who reads the screen, types and works the switches.
//!
//! Promises: everything is real (processes, pseudo-terminals, time); whatever a test does, both
//! processes are gone at its end.

pub mod board;
pub mod relay;
pub mod seen;

use super::Sandbox;
use crate::pace::comes_first;
use board::Board;
use pty_process::blocking as pty;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::process::{Pid, Signal, kill_process};
use seen::{Asked, Reply, Seen};
use std::fs::File;
use std::io::{Read, Write};
use std::num::NonZero;
use std::os::fd::OwnedFd;
use std::process::Child;
use std::time::{Duration, Instant};

/// Longest whole run of a test.
const LONGEST: Duration = Duration::from_secs(240);
/// The screen's columns; it is as tall as a whole run is long, so that nothing is lost.
const COLUMNS: u16 = 100;
const ROWS: u16 = 2400;
/// A hand reads a question for so long after it stands there (under 300 ms it would be no answer), and needs so long from one key to
/// the next after the first is seen (under 20 ms it would be a paste). A program that is late is so with what it shows as well.
const READS: Duration = Duration::from_millis(320);
const KEY: Duration = Duration::from_millis(25);

/// What a person does.
#[derive(Debug, Clone)]
pub enum Deed {
    /// Bytes typed at once.
    Type(Vec<u8>),
    /// A word typed key by key, each after the one before is seen at the prompt, and Enter.
    Word(String),
    /// A world line.
    World(String),
}

/// A program that is being attended.
pub struct Attended<'b> {
    pub board: &'b mut Board,
    process: Child,
    terminal: Option<File>,
    screen: vt100::Parser,
    columns: u16,
    deeds: Vec<(Instant, Deed)>,
    typing: Option<Typing>,
    noticed: usize,
    /// What was asked in the row that changes, when it was looked at last.
    in_place: Option<String>,
    began: Instant,
}

/// How it ended.
#[derive(Debug)]
pub struct Ended {
    pub code: Option<i32>,
    pub screen: String,
}

/// A word being typed.
struct Typing {
    keys: Vec<u8>,
    pressed: usize,
    /// Since when the last key is seen, or nothing was to be seen.
    seen: Option<Instant>,
}

/// Text and Enter, key by key, after reading.
pub fn typed(text: &str) -> Vec<(Duration, Deed)> {
    vec![(READS, Deed::Word(text.to_owned()))]
}

/// What a person does who sees no reason to decline, and no way to mend what went wrong.
pub fn willing(seen: &Seen) -> Vec<(Duration, Deed)> {
    match seen {
        Seen::Asked(Asked { title, .. }) if title.starts_with("Again, or give up") => {
            vec![(READS, Deed::Type(b"g".to_vec()))]
        }
        Seen::Asked(Asked { reply: Reply::Word(word), .. }) => typed(word),
        Seen::Asked(Asked { reply: Reply::Enter, .. }) => typed(""),
        Seen::Asked(Asked { reply: Reply::Keys(keys), .. }) => {
            vec![(READS, Deed::Type(keys[0].to_string().into_bytes()))]
        }
        Seen::Prompt(_) => Vec::new(),
        Seen::Invited(sentence) => seen::gesture(sentence)
            .into_iter()
            .map(|(after, line)| (Duration::from_millis(after), Deed::World(line)))
            .collect(),
    }
}

impl<'b> Attended<'b> {
    /// Starts the program at a terminal.
    pub fn start(sandbox: &Sandbox, board: &'b mut Board, arguments: &[&str]) -> Self {
        Self::started(":", COLUMNS, sandbox, board, arguments)
    }

    /// The same on a screen of so many columns.
    pub fn start_on(columns: u16, sandbox: &Sandbox, board: &'b mut Board, arguments: &[&str]) -> Self {
        Self::started(":", columns, sandbox, board, arguments)
    }

    /// The same after these words to the shell, such as a limit.
    pub fn start_after(shell: &str, sandbox: &Sandbox, board: &'b mut Board, arguments: &[&str]) -> Self {
        Self::started(shell, COLUMNS, sandbox, board, arguments)
    }

    fn started(shell: &str, columns: u16, sandbox: &Sandbox, board: &'b mut Board, arguments: &[&str]) -> Self {
        let (master, slave) = pty::open().unwrap();
        master.resize(pty_process::Size::new(40, columns)).unwrap();
        comes_first();
        let mut command = pty::Command::new("/bin/sh")
            .args(["-c", &format!("{shell}; exec \"$0\" \"$@\""), env!("CARGO_BIN_EXE_quadjig")])
            .args(arguments)
            .env_clear();
        for (name, value) in sandbox.environment() {
            command = command.env(name, value);
        }
        // A screen that can be drawn on, unlike the sandbox's.
        command = command.env("TERM", "xterm");
        let process = command.current_dir(sandbox.path("")).spawn(slave).unwrap();
        let screen = vt100::Parser::new(NonZero::new(ROWS).unwrap(), NonZero::new(columns).unwrap(), 0);
        let terminal = Some(File::from(OwnedFd::from(master)));
        Self {
            board,
            process,
            terminal,
            screen,
            columns,
            deeds: Vec::new(),
            typing: None,
            noticed: 0,
            in_place: None,
            began: Instant::now(),
        }
    }

    /// The program's number, as a message may name it.
    pub fn process_id(&self) -> String {
        self.process.id().to_string()
    }

    /// The whole screen so far.
    pub fn screen(&self) -> String {
        self.screen.screen().contents()
    }

    /// The screen above the row of the cursor, and that row where something is typed in it.
    fn printed(&self) -> String {
        let (screen, row) = (self.screen.screen(), self.row());
        let above = screen.contents_between(0, 0, screen.cursor_position().0, 0);
        if seen::in_place(&row).is_some() { above } else { format!("{}\n{row}", above.trim_end_matches('\n')) }
    }

    /// What is asked of the hands in the row of the cursor, which a line that follows takes the place of.
    fn in_place(&self) -> Option<String> {
        seen::in_place(&self.row())
    }

    /// The row of the cursor.
    fn row(&self) -> String {
        let screen = self.screen.screen();
        let at = screen.cursor_position().0;
        screen.contents_between(at, 0, at, self.columns)
    }

    /// Goes on with this person until the screen satisfies; whether it did before the program ended.
    pub fn until(
        &mut self,
        mut person: impl FnMut(&Seen) -> Vec<(Duration, Deed)>,
        enough: impl Fn(&str, &mut Board) -> bool,
    ) -> bool {
        // A whole run on the screen takes long to read: read again only where something was drawn.
        let (mut screen, mut drawn) = (self.screen(), true);
        loop {
            let ended = self.process.try_wait().unwrap().is_some();
            let more = self.read(Duration::from_millis(10));
            if more {
                (screen, drawn) = (self.screen(), true);
            }
            if enough(&screen, self.board) {
                return true;
            }
            if ended && !more {
                return false;
            }
            assert!(self.began.elapsed() < LONGEST, "no end after {LONGEST:?}:\n{screen}");
            // Half of what is drawn is no screen: the row that changes could pass for a line that stays.
            if more || !std::mem::take(&mut drawn) {
                self.do_what_is_due();
                continue;
            }
            let seen = seen::read(&self.printed());
            let in_place = self.in_place();
            let fresh = in_place.clone().filter(|asked| self.in_place.as_ref() != Some(asked)).map(Seen::Invited);
            self.in_place = in_place;
            for seen in seen.get(self.noticed..).unwrap_or_default().iter().chain(&fresh) {
                let now = Instant::now();
                self.deeds.extend(person(seen).into_iter().map(|(after, deed)| (now + after, deed)));
            }
            self.noticed = self.noticed.max(seen.len());
            self.do_what_is_due();
        }
    }

    /// Goes on with this person to the end.
    pub fn end(&mut self, person: impl FnMut(&Seen) -> Vec<(Duration, Deed)>) -> Ended {
        self.until(person, |_, _| false);
        Ended { code: self.process.wait().unwrap().code(), screen: self.screen() }
    }

    /// Another whole run begins within this one.
    pub fn begins_another(&mut self) {
        self.began = Instant::now();
    }

    /// Types bytes now.
    pub fn type_now(&mut self, bytes: &[u8]) {
        if let Some(terminal) = &mut self.terminal {
            // A program that has ended takes no keys.
            let _ = terminal.write_all(bytes);
        }
    }

    /// Closes the terminal's window.
    pub fn close_terminal(&mut self) {
        self.terminal = None;
    }

    /// Sends the program a signal.
    pub fn signal(&mut self, signal: Signal) {
        kill_process(Pid::from_child(&self.process), signal).unwrap();
    }

    /// Reads what comes; whether anything came.
    fn read(&mut self, longest: Duration) -> bool {
        let Some(terminal) = &mut self.terminal else {
            std::thread::sleep(longest);
            return false;
        };
        let wait = Timespec { tv_sec: 0, tv_nsec: i64::from(longest.subsec_nanos()) };
        let mut polled = [PollFd::new(&*terminal, PollFlags::IN)];
        if poll(&mut polled, Some(&wait)).unwrap_or(0) == 0 {
            return false;
        }
        let mut bytes = vec![0; 65536];
        // Linux says EIO once the other side is closed.
        let count = terminal.read(&mut bytes).unwrap_or(0);
        if count == 0 {
            std::thread::sleep(longest);
        }
        self.screen.process(&bytes[..count]);
        count > 0
    }

    fn do_what_is_due(&mut self) {
        let now = Instant::now();
        while let Some(at) = self.deeds.iter().position(|(due, _)| *due <= now) {
            match self.deeds.remove(at).1 {
                Deed::World(line) => drop(self.board.line(&line)),
                Deed::Type(bytes) => self.type_now(&bytes),
                Deed::Word(word) => {
                    let keys = word.bytes().chain([b'\r']).collect();
                    self.typing = Some(Typing { keys, pressed: 0, seen: Some(now) });
                }
            }
        }
        self.press_next(now);
    }

    /// A machine under load may read late what was typed in time; whoever watches the prompt is never
    /// ahead of it.
    fn press_next(&mut self, now: Instant) {
        if self.typing.is_none() {
            return;
        }
        let row = self.row();
        let Some(typing) = &mut self.typing else { return };
        let typed = String::from_utf8_lossy(&typing.keys[..typing.pressed]);
        let shown = row.rsplit_once("> ").map_or("", |(_, shown)| shown);
        if typing.seen.is_none() && shown.trim_end() == typed.trim_end() {
            typing.seen = Some(now);
        }
        if typing.seen.is_none_or(|seen| now - seen < KEY) {
            return;
        }
        let key = typing.keys[typing.pressed];
        typing.pressed += 1;
        typing.seen = None;
        if typing.pressed == typing.keys.len() {
            self.typing = None;
        }
        self.type_now(&[key]);
    }
}

impl Drop for Attended<'_> {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
