//! A stage for the two terminals of the README: the binary on a terminal of its own, as a person has it.
//!
//! What is read is the screen, not the bytes: redrawn lines count once, as a person sees them.

use crate::cli::Sandbox;
use crate::pace::comes_first;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::num::NonZero;
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::time::{Duration, Instant};

/// Columns of the terminal: what is shown fits into a page of documentation.
const COLUMNS: u16 = 80;
/// Rows of the screen that is kept: more than any session has lines.
const ROWS: u16 = 800;
/// No step of a session takes longer than this.
const PATIENCE: Duration = Duration::from_secs(40);
/// A hand: from the words on the screen to the first key, and between keys.
const READS: Duration = Duration::from_millis(350);
const TYPES: Duration = Duration::from_millis(40);

/// Runs what the environment names on a terminal that controls it. Run by [`Terminal::run`] in a process
/// of its own, since a session belongs to a process.
#[test]
#[ignore = "the stage of other tests, which run it in a process of its own"]
fn the_stage() {
    let var = |name: &str| std::env::var(name).unwrap();
    rustix::process::setsid().unwrap();
    let terminal = File::options().read(true).write(true).open(var("STAGE_TERMINAL")).unwrap();
    rustix::process::ioctl_tiocsctty(&terminal).unwrap();
    let arguments: Vec<String> = serde_json::from_str(&var("STAGE_ARGUMENTS")).unwrap();
    let stream = || terminal.try_clone().unwrap();
    let ended = Command::new(env!("CARGO_BIN_EXE_quadjig"))
        .args(arguments)
        .stdin(stream())
        .stdout(stream())
        .stderr(stream())
        .status();
    std::process::exit(ended.unwrap().code().unwrap_or(101));
}

/// A program on a terminal, its screen and its keys.
pub struct Terminal {
    process: Child,
    ours: File,
    screen: vt100::Parser,
    /// Lines of the screen that were waited for already.
    seen: usize,
}

impl Terminal {
    /// Starts the binary in a sandbox, on a terminal of its own.
    pub fn run(sandbox: &Sandbox, arguments: &[&str]) -> Self {
        let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&ours).unwrap();
        unlockpt(&ours).unwrap();
        tcsetwinsize(&ours, Winsize { ws_row: 50, ws_col: COLUMNS, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
        let theirs = ptsname(&ours, Vec::new()).unwrap().into_string().unwrap();
        comes_first();
        let mut stage = Command::new(std::env::current_exe().unwrap());
        sandbox.surround(&mut stage);
        let process = stage
            .args(["--exact", "docs::stage::the_stage", "--ignored", "--nocapture"])
            // A screen that can be drawn on, unlike the sandbox's.
            .env("TERM", "xterm")
            .env("STAGE_TERMINAL", theirs)
            .env("STAGE_ARGUMENTS", serde_json::to_string(arguments).unwrap())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (rows, columns) = (NonZero::new(ROWS).unwrap(), NonZero::new(COLUMNS).unwrap());
        Self { process, ours: File::from(ours), screen: vt100::Parser::new(rows, columns, 0), seen: 0 }
    }

    /// Takes in what comes within this time; false once the other side has closed the terminal.
    fn look(&mut self, longest: Duration) -> bool {
        let wait = Timespec { tv_sec: 0, tv_nsec: i64::try_from(longest.as_nanos()).unwrap() };
        let mut polled = [PollFd::new(&self.ours, PollFlags::IN)];
        if poll(&mut polled, Some(&wait)).unwrap() == 0 {
            return true;
        }
        let mut bytes = vec![0; 65536];
        // An error is how a terminal tells that nobody has its other side open any more.
        let Ok(count) = self.ours.read(&mut bytes) else { return false };
        self.screen.process(&bytes[..count]);
        count > 0
    }

    /// The lines on the screen.
    pub fn lines(&self) -> Vec<String> {
        self.screen.screen().contents().lines().map(|line| line.trim_end().to_owned()).collect()
    }

    /// Waits for a line with these words, below all that was waited for before.
    pub fn wait_for(&mut self, words: &str) {
        let until = Instant::now() + PATIENCE;
        loop {
            let lines = self.lines();
            if let Some(at) = lines.iter().skip(self.seen).position(|line| line.contains(words)) {
                // What stands in the row that changes is followed by other words there.
                let row = usize::from(self.screen.screen().cursor_position().0);
                let in_place = row == self.seen + at && lines[row].trim_start().starts_with("within ");
                self.seen += at + usize::from(!in_place);
                return;
            }
            let there = self.look(Duration::from_millis(50));
            assert!(there && Instant::now() < until, "nobody said {words:?}:\n{}", self.lines().join("\n"));
        }
    }

    /// Types as a hand does: a word is followed by Enter, a single key is not.
    pub fn type_by_hand(&mut self, what: &str) {
        let enter = if what.chars().count() > 1 { "\r" } else { "" };
        std::thread::sleep(READS);
        for key in format!("{what}{enter}").chars() {
            self.ours.write_all(key.to_string().as_bytes()).unwrap();
            std::thread::sleep(TYPES);
        }
    }

    /// Waits for the program's end; its screen and its exit code.
    pub fn end(mut self) -> (Vec<String>, i32) {
        let until = Instant::now() + PATIENCE;
        while self.look(Duration::from_millis(50)) {
            assert!(Instant::now() < until, "it does not end:\n{}", self.lines().join("\n"));
        }
        let ended = self.process.wait().unwrap();
        (self.lines(), ended.code().unwrap())
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // Already over, unless a test has failed.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A virtual board served beside it, its world moved by lines.
pub struct Board {
    process: Child,
    lines: Option<ChildStdin>,
    said: BufReader<std::process::ChildStdout>,
    /// What it has said so far, and the lines that were typed.
    pub transcript: Vec<String>,
}

impl Board {
    /// Serves a board that ends with its standard input, and waits until its port is there.
    pub fn serve(sandbox: &Sandbox, arguments: &[&str], link: &Path) -> Self {
        let mut command = sandbox.command(arguments);
        let mut process = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let said = BufReader::new(process.stdout.take().unwrap());
        let mut board = Self { lines: process.stdin.take(), process, said, transcript: Vec::new() };
        board.hear("port ");
        assert!(link.exists(), "the link is there");
        board
    }

    /// Reads up to a line that begins so.
    fn hear(&mut self, begin: &str) {
        loop {
            let mut line = String::new();
            assert!(self.said.read_line(&mut line).unwrap() > 0, "the board ended: {:?}", self.transcript);
            self.transcript.push(line.trim_end().to_owned());
            if line.starts_with(begin) {
                return;
            }
        }
    }

    /// Types a line that moves the world.
    pub fn world(&mut self, line: &str) {
        std::thread::sleep(READS);
        writeln!(self.lines.as_mut().unwrap(), "{line}").unwrap();
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        drop(self.lines.take());
        let _ = self.process.wait();
    }
}
