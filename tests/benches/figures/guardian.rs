//! From the death, the standstill or the breakdown of a program, motors turning, to the first stop on the wire, to
//! outputs at rest and to motors that stand: over a serial port and over TCP, signed and unsigned.
//!
//! A process of its own runs a session in the real world, brought to a confirmed start on simulated time; the craft of
//! the same start is here, paced by the real clock. What is struck is that process, a thread of it, or its guardian.
//! `-- guardian 200` sets how often; words such as `killed`, `hang`, `tcp` or `signed` choose blows and wires.

pub mod victim;

use crate::spread::{Spread, ms};
use crate::stop::craft::{self, Craft, To};
use crate::stop::wires::Pty;
use quadjig::board::mavlink::{FrameClass, classify, frames};
use quadjig::virtual_board::World as Board;
use rustix::net::getpeername;
use rustix::process::{Pid, PidfdFlags, PidfdGetfdFlags, Signal, kill_process, pidfd_getfd, pidfd_open};
use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use std::os::fd::OwnedFd;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// What is struck, and how.
#[derive(Clone, Copy, PartialEq)]
enum Blow {
    /// The program, with SIGKILL.
    Kill,
    /// Its guardian alone, with SIGKILL.
    Guardian,
    /// The program with SIGSTOP, to go on after so long.
    Stop(Duration),
    /// Its core goes on no more.
    Hang,
    /// The thread of this name breaks down.
    Panic(&'static str),
}

/// A blow by the word that chooses it, what is said of it, whether it falls in the middle of the longest frame, and the
/// bound of the first stop in milliseconds.
type Kind = (&'static str, &'static str, Blow, bool, u64);

const KINDS: [Kind; 14] = [
    ("killed", "program killed", Blow::Kill, false, 50),
    ("half-killed", "program killed in the middle of a frame of 280 bytes", Blow::Kill, true, 50),
    ("alone", "its guardian killed", Blow::Guardian, false, 50),
    (
        "stopped-short",
        "program stopped (SIGSTOP), 0.15 s later let go on",
        Blow::Stop(Duration::from_millis(150)),
        false,
        250,
    ),
    ("stopped", "program stopped, 1 s later let go on", Blow::Stop(Duration::from_secs(1)), false, 250),
    (
        "half-stopped",
        "program stopped in the middle of a frame of 280 bytes, 1 s later let go on",
        Blow::Stop(Duration::from_secs(1)),
        true,
        250,
    ),
    ("stopped-long", "program stopped, 15 s later let go on", Blow::Stop(Duration::from_secs(15)), false, 250),
    ("hang", "its core hangs", Blow::Hang, false, 250),
    ("panic-main", "its core breaks down", Blow::Panic("main"), false, 50),
    ("panic-writer", "the thread that writes the wire breaks down", Blow::Panic("writer"), false, 50),
    ("panic-reader", "the thread that reads the wire breaks down", Blow::Panic("reader"), false, 50),
    ("panic-keys", "the thread that reads keys breaks down", Blow::Panic("keys"), false, 50),
    (
        "panic-screen",
        "the thread that draws breaks down, on the words of a stop by key",
        Blow::Panic("screen"),
        false,
        50,
    ),
    ("panic-signals", "the thread that hears signals breaks down, on TERM", Blow::Panic("signals"), false, 50),
];

/// A wire.
#[derive(Clone, Copy, PartialEq)]
struct Wire {
    tcp: bool,
    signed: bool,
}

const WIRES: [(Wire, &str); 4] = [
    (Wire { tcp: false, signed: false }, "serial, unsigned"),
    (Wire { tcp: false, signed: true }, "serial, signed"),
    (Wire { tcp: true, signed: false }, "TCP, unsigned"),
    (Wire { tcp: true, signed: true }, "TCP, signed"),
];

/// The longest that a figure is waited for.
const LONGEST: Duration = Duration::from_secs(10);

/// Trials side by side: a trial mostly waits. They are begun together and then struck one after the other, so that what is
/// measured is a program that was struck, and not how many others begin meanwhile.
const ABREAST: usize = 12;
/// The same where each waits for 15 s; all are struck while their motors turn.
const ABREAST_LONG: usize = 18;

pub fn figures(words: &[String], count: usize) {
    println!("\nprogram struck while motors turn: from then to the first stop on the wire");
    let chosen = |word: &str| words.iter().any(|other| other == word);
    let all = !KINDS.iter().any(|(word, ..)| chosen(word));
    for kind in KINDS.iter().filter(|(word, ..)| all || chosen(word)) {
        println!("  {}; bound {} ms", kind.1, kind.4);
        if matches!(kind.2, Blow::Panic(_)) && !cfg!(debug_assertions) {
            println!("    only with `--profile checked`: in other builds no thread breaks down on purpose");
            continue;
        }
        for (wire, name) in WIRES {
            let serial = !chosen("tcp") || wire.tcp;
            if serial && (!chosen("serial") || !wire.tcp) && (!chosen("signed") || wire.signed) {
                tell(name, *kind, wire, count);
            }
        }
    }
}

fn tell(name: &str, (_, _, blow, half, bound): Kind, wire: Wire, count: usize) {
    let bound = Duration::from_millis(bound);
    let abreast = if blow == Blow::Stop(Duration::from_secs(15)) { ABREAST_LONG } else { ABREAST };
    let mut outcomes = Vec::new();
    for together in (1..=count).collect::<Vec<_>>().chunks(abreast) {
        let begun: Vec<Trial> = side_by_side(together.iter().map(|_| || Trial::begin(wire)));
        let alone = Mutex::new(());
        let struck = together.iter().zip(begun).map(|(turn, trial)| {
            let alone = &alone;
            move || trial.strike(blow, half, *turn, alone)
        });
        outcomes.extend(side_by_side(struck));
    }
    let hits: Vec<&Hit> =
        outcomes.iter().filter_map(|outcome| if let Outcome::Hit(hit) = outcome { Some(hit) } else { None }).collect();
    let went_on = outcomes.iter().filter(|outcome| matches!(outcome, Outcome::WentOn { .. })).count();
    let spoiled = outcomes.iter().filter(|outcome| matches!(outcome, Outcome::Before)).count();
    let within = hits.iter().filter(|hit| hit.first <= bound).count();
    let late: usize = outcomes.iter().map(Outcome::late).sum();
    print!("    {name:<17} {within} of {} within the bound", hits.len());
    if went_on > 0 {
        print!("; {went_on} went on turning in their own start, nobody having missed anything");
    }
    if spoiled > 0 {
        print!("; {spoiled} stopped before the blow");
    }
    println!("; {late} frames that drive or change anything after it");
    if !hits.is_empty() {
        row("first byte of a stop", hits.iter().map(|hit| hit.first).collect());
        row("disarmed, outputs low", hits.iter().map(|hit| hit.cut).collect());
        row("motors stand", hits.iter().map(|hit| hit.rest).collect());
    }
}

/// Each in a thread of its own; gives what came of each, in their order.
fn side_by_side<T: Send, F: FnOnce() -> T + Send>(works: impl Iterator<Item = F>) -> Vec<T> {
    std::thread::scope(|scope| {
        let threads: Vec<_> = works.map(|work| scope.spawn(work)).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    })
}

fn row(what: &str, times: Vec<Duration>) {
    let times = Spread::of(times);
    let at = |share| ms(times.quantile(share));
    println!("      {what:<22} p50 {}, p99 {}, max {}", at(0.5), at(0.99), at(1.0));
}

/// What came of one blow.
enum Outcome {
    /// A stop.
    Hit(Hit),
    /// None: it was let go on in time.
    WentOn { late: usize },
    /// Something else stopped it before.
    Before,
}

impl Outcome {
    /// Frames after the blow that are neither stops nor questions.
    fn late(&self) -> usize {
        match self {
            Self::Hit(Hit { late, .. }) | Self::WentOn { late } => *late,
            Self::Before => 0,
        }
    }
}

struct Hit {
    first: Duration,
    cut: Duration,
    rest: Duration,
    late: usize,
}

/// The board's side of a wire.
enum Side {
    Tcp(TcpListener),
    Port(Pty),
}

/// A victim whose motors turn.
struct Trial {
    victim: Child,
    craft: Sender<To>,
    wire: Receiver<(Instant, Vec<u8>)>,
    heard: Vec<(Instant, Vec<u8>)>,
    /// The victim's end of a pseudo-terminal, held open so that the port stays.
    tool: Option<File>,
    /// The file whose words break a thread down.
    breaks: tempfile::TempPath,
    /// Until its motors turn.
    board: Option<Box<Board>>,
}

impl Trial {
    fn begin(wire: Wire) -> Self {
        let board = craft::turning(&crate::rehearsal::script(), wire.signed, true).board;
        let side =
            if wire.tcp { Side::Tcp(TcpListener::bind("127.0.0.1:0").unwrap()) } else { Side::Port(Pty::open()) };
        let (port, tool) = match &side {
            Side::Tcp(listener) => (format!("tcp:{}", listener.local_addr().unwrap()), None),
            Side::Port(pty) => (pty.path.display().to_string(), Some(pty.other_end())),
        };
        let breaks = tempfile::NamedTempFile::new().unwrap().into_temp_path();
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args([victim::WORD, &port, if wire.signed { victim::SIGNED } else { "unsigned" }]);
        // What it says for a person is not asked for.
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        // Nor where it broke down, which would keep the machine busy with looking names up.
        command.env("QUADJIG_TEST_BREAKS", &breaks).env("RUST_BACKTRACE", "0");
        let mut victim = command.spawn().unwrap();
        assert_eq!(line(&mut victim).unwrap(), victim::OPEN);
        let wire = match side {
            Side::Tcp(listener) => {
                let (stream, _) = listener.accept().unwrap();
                stream.set_nodelay(true).unwrap();
                Pty::of(OwnedFd::from(stream))
            }
            Side::Port(pty) => pty,
        };
        let (craft, wire) = Craft::start(wire);
        Self { victim, craft, wire, heard: Vec::new(), tool, breaks, board: Some(Box::new(board)) }
    }

    /// Motors turn from now on.
    fn go(&mut self) {
        self.craft.send(To::Begin(self.board.take().unwrap(), Instant::now())).unwrap();
        self.order(victim::GO);
        assert_eq!(line(&mut self.victim).unwrap(), victim::HELD);
    }

    fn order(&mut self, order: &str) {
        writeln!(self.victim.stdin.as_mut().unwrap(), "{order}").unwrap();
    }

    /// Strikes after a while, and alone until the first stop.
    fn strike(mut self, blow: Blow, half: bool, turn: usize, alone: &Mutex<()>) -> Outcome {
        self.go();
        // Spread over more than a renewal, so that the blow meets every phase of it.
        std::thread::sleep(Duration::from_millis(150) + Duration::from_micros(turn as u64 * 7_919 % 60_000));
        let victim = Pid::from_child(&self.victim);
        let Some(guardian) = victim::guardian_of(self.victim.id()) else { return Outcome::Before };
        if half {
            let mut wire = self.tool.take().unwrap_or_else(|| socket_of(victim));
            wire.write_all(&[0xFD, 255, 1, 0, 0, 255, 25, 0, 0, 0, 7, 7, 7]).unwrap();
            self.tool = Some(wire);
        }
        let alone = alone.lock().unwrap();
        let at = Instant::now();
        match blow {
            Blow::Kill => kill_process(victim, Signal::KILL).unwrap(),
            Blow::Stop(_) => kill_process(victim, Signal::STOP).unwrap(),
            Blow::Guardian => kill_process(guardian, Signal::KILL).unwrap(),
            Blow::Hang => self.order(victim::HANG),
            Blow::Panic(thread) => {
                std::fs::write(&self.breaks, thread).unwrap();
                match thread {
                    "screen" => self.order(victim::KEY),
                    "signals" => kill_process(victim, Signal::TERM).unwrap(),
                    _ => {}
                }
            }
        }
        if let Blow::Stop(pause) = blow {
            std::thread::spawn(move || {
                std::thread::sleep(pause.saturating_sub(at.elapsed()));
                kill_process(victim, Signal::CONT)
            });
        }
        let patience =
            if blow == Blow::Stop(Duration::from_millis(150)) { Duration::from_millis(800) } else { LONGEST };
        let first = self.first_stop(at, patience);
        drop(alone);
        let Some(first) = first else {
            assert!(patience < LONGEST, "no stop came");
            return Outcome::WentOn { late: self.late(at) };
        };
        // A thread breaks down at its next turn; screen and signals have something to do before.
        let at = if matches!(blow, Blow::Panic(_)) {
            self.panicked().filter(|moment| *moment <= first).unwrap_or(at)
        } else {
            at
        };
        let Some(first) = first.checked_duration_since(at) else { return Outcome::Before };
        let cut = self.until(at, |(armed, highest, _)| !armed && highest <= 1005);
        let rest = self.until(at, |(_, _, fastest)| fastest < 1.0);
        if let Blow::Stop(pause) = blow {
            std::thread::sleep((pause + Duration::from_millis(300)).saturating_sub(at.elapsed()));
        }
        let late = self.late(at);
        Outcome::Hit(Hit { first, cut, rest, late })
    }

    /// When the victim's hook was reached.
    fn panicked(&mut self) -> Option<Instant> {
        let said = line(&mut self.victim)?;
        let ago = victim::moment().checked_sub(Duration::from_nanos(said.trim().parse().ok()?))?;
        Instant::now().checked_sub(ago)
    }

    /// When the first byte of the first stop was read; `None` if none is in time.
    fn first_stop(&mut self, at: Instant, patience: Duration) -> Option<Instant> {
        while at.elapsed() < patience {
            self.heard.extend(self.wire.try_iter());
            let found = self.frames().into_iter().find(|(_, class)| *class == Some(FrameClass::Stop));
            if let Some((moment, _)) = found {
                return Some(moment);
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        None
    }

    /// Every whole frame that the victim's side sent, with the moment of its first byte.
    fn frames(&self) -> Vec<(Instant, Option<FrameClass>)> {
        let all: Vec<u8> = self.heard.iter().flat_map(|(_, bytes)| bytes).copied().collect();
        let moment = |frame: &[u8]| {
            let place = frame.as_ptr() as usize - all.as_ptr() as usize;
            let mut before = 0;
            self.heard.iter().find_map(|(at, bytes)| {
                before += bytes.len();
                (before > place).then_some(*at)
            })
        };
        frames(&all).into_iter().filter_map(|frame| Some((moment(frame)?, classify(frame)))).collect()
    }

    fn late(&mut self, at: Instant) -> usize {
        self.heard.extend(self.wire.try_iter());
        let may = [FrameClass::Stop, FrameClass::Looks, FrameClass::Heartbeat].map(Some);
        self.frames().into_iter().filter(|(moment, class)| *moment >= at && !may.contains(class)).count()
    }

    /// How long until the craft is so: armed, highest output, fastest motor.
    fn until(&self, at: Instant, so: impl Fn((bool, u16, f64)) -> bool) -> Duration {
        loop {
            let (answer, answered) = channel();
            self.craft.send(To::Look(answer)).unwrap();
            if answered.recv().is_ok_and(&so) {
                return at.elapsed();
            }
            assert!(at.elapsed() < LONGEST, "it is never so");
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

impl Drop for Trial {
    fn drop(&mut self) {
        let guardian = victim::guardian_of(self.victim.id());
        let _already_gone = self.victim.kill();
        let _status = self.victim.wait();
        let _gone_as_well = guardian.map(|guardian| kill_process(guardian, Signal::KILL));
    }
}

/// The next line that a victim says; it says none before it is asked for something.
fn line(victim: &mut Child) -> Option<String> {
    let mut said = String::new();
    BufReader::new(victim.stdout.as_mut()?).read_line(&mut said).ok()?;
    Some(said)
}

/// The victim's own end of its connection, once more.
fn socket_of(victim: Pid) -> File {
    let process = pidfd_open(victim, PidfdFlags::empty()).unwrap();
    let numbers = std::fs::read_dir(format!("/proc/{}/fd", victim.as_raw_nonzero())).unwrap().flatten();
    let mut sockets = numbers.filter_map(|entry| {
        let number = entry.file_name().to_str()?.parse().ok()?;
        let socket = pidfd_getfd(&process, number, PidfdGetfdFlags::empty()).ok()?;
        // Its guardian hangs on a socket pair, which has no address.
        std::net::SocketAddr::try_from(getpeername(&socket).ok()??).ok()?;
        Some(File::from(socket))
    });
    sockets.next().expect("a victim on TCP has a connection")
}
