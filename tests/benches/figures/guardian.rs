//! From the death or the standstill of a program, motors turning, to the first stop on the wire, to outputs at rest and
//! to motors that stand.
//!
//! A process of its own runs a session in the real world, brought to a confirmed start on simulated time; the craft of
//! the same start is here, paced by the real clock. What is struck is that process or its guardian. `-- guardian 200`
//! sets how often; a word such as `killed`, `tcp`, `stopped`, `half` or `alone` chooses one kind.

pub mod victim;

use crate::spread::{Spread, ms};
use crate::stop::craft::{self, Craft, To};
use crate::stop::wires::Pty;
use quadjig::board::mavlink::{FrameClass, classify, frames};
use rustix::process::{Pid, Signal, kill_process};
use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use std::os::fd::OwnedFd;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// What is struck, and how.
#[derive(Clone, Copy, PartialEq)]
enum Blow {
    Kill,
    /// In the middle of the longest frame.
    KillInFrame,
    Stop,
    /// The guardian alone.
    Guardian,
}

/// By the word that chooses it: what is said of it, the blow, over TCP or not, and the bound of the first stop.
const KINDS: [(&str, &str, Blow, bool, u64); 5] = [
    ("killed", "program killed, pseudo-terminal", Blow::Kill, false, 50),
    ("tcp", "program killed, TCP", Blow::Kill, true, 50),
    ("half", "program killed in the middle of a frame of 280 bytes", Blow::KillInFrame, false, 50),
    ("stopped", "program stopped (SIGSTOP), a second later let go on", Blow::Stop, false, 250),
    ("alone", "its guardian killed", Blow::Guardian, false, 50),
];
/// The longest that a figure is waited for.
const LONGEST: Duration = Duration::from_secs(10);

pub fn figures(words: &[String], count: usize) {
    println!("\nprogram killed or stopped while motors turn: from then to the first stop on the wire");
    let chosen = |word: &str| words.iter().any(|other| other == word);
    let all = !KINDS.iter().any(|(word, ..)| chosen(word));
    for (word, what, blow, tcp, bound) in KINDS {
        if all || chosen(word) {
            tell(what, blow, tcp, Duration::from_millis(bound), count);
        }
    }
}

fn tell(what: &str, blow: Blow, tcp: bool, bound: Duration, count: usize) {
    let (mut hits, mut spoiled, mut late) = (Vec::new(), 0, 0);
    while hits.len() < count && spoiled < count {
        match Trial::begin(tcp).strike(blow, hits.len()) {
            Some(hit) => hits.push(hit),
            None => spoiled += 1,
        }
    }
    println!("  {what} (n = {}; {spoiled} more not counted: stopped before the blow)", hits.len());
    if hits.is_empty() {
        return;
    }
    let within = hits.iter().filter(|hit| hit.first <= bound).count();
    row("first byte of a stop", hits.iter().map(|hit| hit.first).collect());
    println!("    {:<22} {within} of {} within {}", "", hits.len(), ms(bound));
    row("disarmed, outputs low", hits.iter().map(|hit| hit.cut).collect());
    row("motors stand", hits.iter().map(|hit| hit.rest).collect());
    late += hits.iter().map(|hit| hit.late).sum::<usize>();
    println!("    frames that drive or change anything after the blow: {late}");
}

fn row(what: &str, times: Vec<Duration>) {
    let times = Spread::of(times);
    let at = |share| ms(times.quantile(share));
    println!("    {what:<22} p50 {}, p99 {}, max {}", at(0.5), at(0.99), at(1.0));
}

/// What came of one blow.
struct Hit {
    first: Duration,
    cut: Duration,
    rest: Duration,
    /// Frames after it that are neither stops nor questions.
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
    /// The victim's end, held open so that the port stays.
    tool: Option<File>,
}

impl Trial {
    fn begin(tcp: bool) -> Self {
        let board = craft::turning(&crate::rehearsal::script()).1;
        let side = if tcp { Side::Tcp(TcpListener::bind("127.0.0.1:0").unwrap()) } else { Side::Port(Pty::open()) };
        let (port, tool) = match &side {
            Side::Tcp(listener) => (format!("tcp:{}", listener.local_addr().unwrap()), None),
            Side::Port(pty) => (pty.path.display().to_string(), Some(pty.other_end())),
        };
        let mut command = Command::new(std::env::current_exe().unwrap());
        // What it says for a person is not asked for.
        command.args([victim::WORD, &port]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut victim = command.spawn().unwrap();
        let mut said = String::new();
        BufReader::new(victim.stdout.as_mut().unwrap()).read_line(&mut said).unwrap();
        assert_eq!(said, victim::OPEN);
        let wire = match side {
            Side::Tcp(listener) => {
                let (stream, _) = listener.accept().unwrap();
                stream.set_nodelay(true).unwrap();
                Pty::of(OwnedFd::from(stream))
            }
            Side::Port(pty) => pty,
        };
        let (craft, wire) = Craft::start(wire);
        craft.send(To::Begin(Box::new(board), Instant::now())).unwrap();
        victim.stdin.as_mut().unwrap().write_all(b"go\n").unwrap();
        Self { victim, craft, wire, heard: Vec::new(), tool }
    }

    /// Strikes after a while; `None` if something else stopped it before.
    fn strike(mut self, blow: Blow, turn: usize) -> Option<Hit> {
        // Spread over more than a renewal, so that the blow meets every phase of it.
        std::thread::sleep(Duration::from_millis(150) + Duration::from_micros(turn as u64 * 7_919 % 60_000));
        let victim = Pid::from_child(&self.victim);
        let guardian = victim::guardian_of(self.victim.id())?;
        if blow == Blow::KillInFrame
            && let Some(tool) = &mut self.tool
        {
            tool.write_all(&[0xFD, 255, 1, 0, 0, 255, 25, 0, 0, 0, 7, 7, 7]).unwrap();
        }
        let at = Instant::now();
        match blow {
            Blow::Kill | Blow::KillInFrame => kill_process(victim, Signal::KILL).unwrap(),
            Blow::Stop => kill_process(victim, Signal::STOP).unwrap(),
            Blow::Guardian => kill_process(guardian, Signal::KILL).unwrap(),
        }
        let first = self.first_stop(at)?.checked_duration_since(at)?;
        let cut = self.until(at, |(armed, highest, _)| !armed && highest <= 1005);
        let rest = self.until(at, |(_, _, fastest)| fastest < 1.0);
        if blow == Blow::Stop {
            std::thread::sleep(Duration::from_secs(1).saturating_sub(at.elapsed()));
            kill_process(victim, Signal::CONT).unwrap();
            std::thread::sleep(Duration::from_millis(300));
        }
        let late = self.late(at);
        Some(Hit { first, cut, rest, late })
    }

    /// When the first byte of the first stop was read; `None` if one had come before.
    fn first_stop(&mut self, at: Instant) -> Option<Instant> {
        while at.elapsed() < LONGEST {
            self.heard.extend(self.wire.try_iter());
            let found = self.frames().into_iter().find(|(_, class)| *class == Some(FrameClass::Stop));
            if let Some((moment, _)) = found {
                return (moment >= at).then_some(moment);
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        panic!("no stop came");
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
