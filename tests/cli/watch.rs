//! `quadjig watch`: the built binary on a terminal of its own, as a person sees it, and with its output read by others.

use super::Sandbox;
use super::desk::board::Board;
use super::desk::relay::Relay;
use pty_process::blocking as pty;
use quadjig::board::mavlink::{FrameClass, classify, frames};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::process::{Pid, Signal, kill_process};
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::num::NonZero;
use std::os::fd::OwnedFd;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

const LONGEST: Duration = Duration::from_secs(60);

/// The program at a terminal.
struct Watched {
    process: Child,
    terminal: File,
    screen: vt100::Parser,
    _sandbox: Sandbox,
}

impl Watched {
    fn start(arguments: &[&str], (columns, rows): (u16, u16), more: &[(&str, &str)]) -> Self {
        let sandbox = Sandbox::new();
        let (master, slave) = pty::open().unwrap();
        master.resize(pty_process::Size::new(rows, columns)).unwrap();
        let mut command = pty::Command::new(env!("CARGO_BIN_EXE_quadjig")).args(arguments).env_clear();
        for (name, value) in sandbox.environment() {
            command = command.env(name, value);
        }
        command = command.env("TERM", "xterm-256color").envs(more.iter().copied());
        let process = command.current_dir(sandbox.path("")).spawn(slave).unwrap();
        let screen = vt100::Parser::new(NonZero::new(rows).unwrap(), NonZero::new(columns).unwrap(), 0);
        Self { process, terminal: File::from(OwnedFd::from(master)), screen, _sandbox: sandbox }
    }

    fn read(&mut self) -> bool {
        let wait = Timespec { tv_sec: 0, tv_nsec: 20_000_000 };
        let mut polled = [PollFd::new(&self.terminal, PollFlags::IN)];
        if poll(&mut polled, Some(&wait)).unwrap_or(0) == 0 {
            return false;
        }
        let mut bytes = vec![0; 65536];
        // Linux says EIO once the other side is closed.
        let count = self.terminal.read(&mut bytes).unwrap_or(0);
        self.screen.process(&bytes[..count]);
        count > 0
    }

    fn seen(&self) -> String {
        self.screen.screen().contents()
    }

    /// The screen once it is so.
    #[track_caller]
    fn until(&mut self, so: impl Fn(&str) -> bool) -> String {
        let began = Instant::now();
        loop {
            self.read();
            let seen = self.seen();
            if so(&seen) {
                return seen;
            }
            assert!(began.elapsed() < LONGEST, "never so:\n{seen}");
        }
    }

    fn keys(&mut self, keys: &str) {
        self.terminal.write_all(keys.as_bytes()).unwrap();
    }

    /// The exit code; the screen is as it was before.
    #[track_caller]
    fn end(&mut self) -> i32 {
        let began = Instant::now();
        loop {
            let more = self.read();
            if let Some(status) = self.process.try_wait().unwrap() {
                while self.read() {}
                let screen = self.screen.screen();
                assert!(!screen.alternate_screen() && !screen.hide_cursor(), "{}", screen.contents());
                return status.code().expect("it ends by itself");
            }
            assert!(more || began.elapsed() < LONGEST, "no end:\n{}", self.seen());
        }
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// DISARMED and ARMED in large letters: their lower row. The second is in the first.
const DISARMED: &str = "█▄▀ █ ▄▄█ █ █ █ █ █   █ █▄▄ █▄▀";
const ARMED: &str = "█ █ █ █ █   █ █▄▄ █▄▀";

#[test]
fn the_virtual_board_is_watched_and_moved_from_the_same_terminal() {
    let mut watched = Watched::start(&["watch", "--port", "virtual", "--radio", "bench"], (80, 24), &[]);
    let seen =
        watched.until(|seen| seen.contains(DISARMED) && seen.contains("switch B at 0") && seen.contains("not arm"));
    assert!(watched.screen.screen().alternate_screen());
    for text in ["Finch", "VIRTUAL", "on virtual", "heard 0.", "throttle", "seen from above", "rear right", "1000 us"] {
        assert!(seen.contains(text), "{text}:\n{seen}");
    }
    assert!(seen.lines().count() <= 24 && seen.lines().all(|line| line.chars().count() <= 80));
    watched.keys("\t");
    watched.until(|seen| seen.contains("world>"));
    watched.keys("flip B 2; battery in\r");
    let seen = watched.until(|seen| seen.contains("switch B at 2") && seen.contains("volts a cell"));
    assert!(seen.contains("switch B is at 2; battery is in") || seen.contains("battery is in"), "{seen}");
    watched.keys("x");
    assert_eq!(watched.end(), 0);
    assert!(watched.seen().contains("battery is in"), "what the world answered is told below:\n{}", watched.seen());
}

#[test]
fn a_served_board_is_watched_arming_and_nothing_but_requests_is_sent() {
    let mut board = Board::on_tcp();
    for line in ["set ARM_CHANNEL 6", "set ARM_FROM 1754", "set ARM_TO 2146", "set SPIN_AT_ZERO 1", "set IDLE_US 1150"]
    {
        board.line(line);
    }
    board.line("battery in");
    let relay = Relay::before(&board);
    let port = relay.port.clone();
    let arguments = ["watch", "--port", &port, "--sheet", "finch", "--radio", "bench"];
    let mut watched = Watched::start(&arguments, (120, 40), &[]);
    watched.until(|seen| seen.contains("not arm") && seen.contains("switch B at 0"));
    board.line("flip B 2");
    let seen = watched.until(|seen| seen.contains("The board is ARMED") && seen.contains("in arm"));
    assert!(seen.contains("Keep hands clear"), "{seen}");
    watched.until(|seen| seen.contains("rpm") && !seen.contains(" 0 rpm"));
    watched.keys("\x03");
    assert_eq!(watched.end(), 0);
    assert!(board.drives(), "Ctrl-C just closes the page: the craft is not ours to stop");
    let sent = relay.sent();
    let classes: Vec<_> = frames(&sent).into_iter().map(classify).collect();
    assert!(classes.len() > 5);
    let looks = |class: &Option<FrameClass>| matches!(class, Some(FrameClass::Heartbeat | FrameClass::Looks));
    assert!(classes.iter().all(looks), "{classes:?}");
}

#[test]
fn a_cable_pulled_and_put_back_on_a_pseudo_terminal() {
    let mut board = Board::new();
    let port = board.port.clone();
    let mut watched = Watched::start(&["watch", "--port", &port], (80, 24), &[]);
    watched.until(|seen| seen.contains(DISARMED) && seen.contains("1500"));
    board.line("usb out");
    let seen = watched.until(|seen| seen.contains("The link is lost") && seen.contains("gone for"));
    assert!(!seen.contains("1500") && !seen.contains(ARMED), "{seen}");
    board.line("usb in");
    watched.until(|seen| seen.contains(DISARMED) && seen.contains("1500") && seen.contains("heard 0."));
    watched.keys("\x1b");
    assert_eq!(watched.end(), 0);
}

#[test]
fn a_signal_gives_the_screen_back() {
    for (signal, code) in [(Signal::INT, 0), (Signal::TERM, 4)] {
        let mut watched = Watched::start(&["watch", "--port", "virtual"], (80, 24), &[]);
        watched.until(|seen| seen.contains(DISARMED));
        kill_process(Pid::from_child(&watched.process), signal).unwrap();
        assert_eq!(watched.end(), code, "{signal:?}: {}", watched.seen());
    }
}

/// Without colour nothing is lost; with it, the same text stands there.
#[test]
fn colour_where_it_is_wanted() {
    let colours = |watched: &Watched| {
        let screen = watched.screen.screen();
        let cells = (0..24).flat_map(|row| (0..80).map(move |column| (row, column)));
        cells.filter_map(|(row, column)| screen.cell(row, column)).any(|cell| cell.fgcolor() != vt100::Color::Default)
    };
    let mut with = Watched::start(&["watch", "--port", "virtual"], (80, 24), &[("NO_COLOR", "")]);
    with.until(|seen| seen.contains("VIRTUAL") && seen.contains("not arm"));
    assert!(colours(&with));
    let mut without = Watched::start(&["watch", "--port", "virtual"], (80, 24), &[("NO_COLOR", "1")]);
    without.until(|seen| seen.contains("VIRTUAL") && seen.contains("not arm"));
    assert!(!colours(&without));
}

#[test]
fn plain_moves_no_cursor_and_ends_at_a_key() {
    for (arguments, term) in [
        (vec!["--plain", "watch", "--port", "virtual", "--radio", "bench"], "xterm"),
        (vec!["watch", "--port", "virtual", "--radio", "bench"], "dumb"),
    ] {
        let mut watched = Watched::start(&arguments, (80, 60), &[("TERM", term)]);
        let seen = watched.until(|seen| seen.contains("switch B at 0") && seen.contains("pitch: "));
        assert!(seen.contains("state: disarmed") && seen.contains("VIRTUAL: "), "{seen}");
        assert!(!watched.screen.screen().alternate_screen() && !seen.contains('█'));
        watched.keys(" ");
        assert_eq!(watched.end(), 0);
    }
}

/// Lines that were read by another program, and what it did then.
fn piped(arguments: &[&str], read: impl Fn(&mut dyn BufRead, &mut Board)) -> (i32, String) {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let port = board.port.clone();
    let mut process = sandbox.command(&[&["watch", "--port", &port], arguments].concat());
    let mut process = process.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut output = BufReader::new(process.stdout.take().unwrap());
    read(&mut output, &mut board);
    drop(output);
    let began = Instant::now();
    let status = loop {
        if let Some(status) = process.try_wait().unwrap() {
            break status;
        }
        // News make it write, and so notice that nobody reads.
        board.line("tilt 40 0");
        std::thread::sleep(Duration::from_millis(300));
        board.line("tilt -40 0");
        std::thread::sleep(Duration::from_millis(300));
        if began.elapsed() > LONGEST {
            let _ = process.kill();
        }
    };
    let mut said = String::new();
    process.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    (status.code().unwrap_or(-1), said)
}

#[test]
fn output_that_is_no_terminal_gets_lines_and_a_closed_pipe_is_quiet() {
    let until = |output: &mut dyn BufRead, text: &str| {
        let mut all = String::new();
        while !all.contains(text) {
            let mut line = String::new();
            assert!(output.read_line(&mut line).unwrap() > 0, "no {text:?} in\n{all}");
            all.push_str(&line);
        }
        all
    };
    let (code, said) = piped(&["--radio", "bench"], |output, board| {
        let first = until(output, "pitch: ");
        assert!(first.starts_with("state: disarmed\nlink: heard\n") && !first.contains(['\u{1b}', '\r']), "{first:?}");
        board.line("flip B 2");
        let next = until(output, "switch B at 2");
        assert!(next.contains("channel 6: "), "{next}");
    });
    assert_eq!((code, said.as_str()), (0, ""));
}

#[test]
fn what_cannot_be_watched_is_said() {
    let sandbox = Sandbox::new();
    insta::assert_snapshot!(sandbox.run(&["watch", "--port", "/nowhere"]));
}
