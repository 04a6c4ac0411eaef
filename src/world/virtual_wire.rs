//! The virtual board in this process, in real time, as if it were a port.
//!
//! Promises: it is lost when its board restarts or its cable is pulled, and found again after; world
//! lines reach this world only. Must not be here: what a line or a byte means.

use super::clock::Clock;
use super::ends::{Ends, Maker};
use super::writer::WireOut;
use crate::measure::time::Time;
use crate::seam::{OpenError, PortInfo};
use crate::virtual_board::{BoardKind, Make, World, WorldConfig};
use std::io::{self, ErrorKind, Read};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

/// How long a read waits before it looks whether the wire is to be closed.
const READ: Duration = Duration::from_millis(50);
/// Longest sleep of the world.
const SLEEP: Duration = Duration::from_millis(50);
/// How long the world may take to answer.
const ANSWER: Duration = Duration::from_secs(2);

/// What can be said to the world's thread.
enum Said {
    Bytes(u64, Vec<u8>),
    Line(String),
    /// Wants the board's bytes; answered with their number and where they come from, if the port is there.
    Attach(Sender<Option<(u64, Receiver<Vec<u8>>)>>),
}

/// A world on its thread, which ends with the last of its handles.
#[derive(Clone)]
pub(super) struct VirtualBoard {
    name: String,
    say: Sender<Said>,
}

/// The world of a name: none or `finch`, `finch-r`, `finch-c`, `finch-p`, `finch-q`, or a number of the spread fleet.
fn config(name: Option<&str>) -> Option<WorldConfig> {
    match name {
        None | Some("finch") => Some(WorldConfig::default()),
        Some("finch-r") => Some(WorldConfig { board: BoardKind::FinchR, ..WorldConfig::default() }),
        Some("finch-c") => Some(WorldConfig { board: BoardKind::FinchC, ..WorldConfig::default() }),
        Some("finch-p") => Some(WorldConfig { board: BoardKind::FinchP, ..WorldConfig::default() }),
        Some("finch-q") => Some(WorldConfig { board: BoardKind::FinchQ, ..WorldConfig::default() }),
        Some(number) => number.parse().ok().map(WorldConfig::spread),
    }
}

impl VirtualBoard {
    /// A world of this name, of this make where it has none; `answer` takes the answers to its lines.
    ///
    /// # Errors
    /// [`OpenError::Other`] for a name that is none, or where the system gives no thread.
    pub(super) fn start(
        name: Option<&str>,
        make: Option<Arc<Make>>,
        clock: Clock,
        answer: impl Fn(Vec<String>) + Send + 'static,
    ) -> Result<Self, OpenError> {
        let port = name.map_or_else(|| "virtual".to_owned(), |name| format!("virtual:{name}"));
        let other = |cause: String| OpenError::Other { port: port.clone(), cause };
        let config = config(name).ok_or_else(|| {
            other(
                "there is no such virtual board; there are finch, finch-r, finch-c, finch-p, finch-q, and numbers such as virtual:17"
                    .to_owned(),
            )
        })?;
        let config = match make {
            Some(make) if name.is_none() => config.made(make),
            _ => config,
        };
        let (say, said) = channel();
        let mut running = Running { world: World::new(config), clock, began: clock.now(), attached: None, number: 0 };
        std::thread::Builder::new()
            .name("virtual".to_owned())
            .spawn(move || running.run(&said, &answer))
            .map_err(|error| other(error.to_string()))?;
        Ok(Self { name: port, say })
    }

    /// Opens its wire.
    pub(super) fn maker(&self) -> Maker {
        let (name, say) = (self.name.clone(), std::sync::Mutex::new(self.say.clone()));
        Arc::new(move || {
            let say = super::mailbox::held(&say).clone();
            let (reply, attached) = channel();
            let gone = || OpenError::Missing(name.clone());
            say.send(Said::Attach(reply)).map_err(|_| gone())?;
            let (number, bytes) = attached.recv_timeout(ANSWER).ok().flatten().ok_or_else(gone)?;
            let info = PortInfo { name: name.clone(), ..PortInfo::default() };
            let input = Box::new(Input { bytes, rest: Vec::new() });
            Ok(Ends { input, output: Box::new(Output { number, say }), info, guard: None })
        })
    }

    /// Where its world lines go.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub(super) fn lines(&self) -> io::Result<Sender<String>> {
        let (lines, typed) = channel();
        let say = self.say.clone();
        std::thread::Builder::new().name("world lines".to_owned()).spawn(move || {
            for line in typed {
                if say.send(Said::Line(line)).is_err() {
                    return;
                }
            }
        })?;
        Ok(lines)
    }
}

/// The world's thread.
struct Running {
    world: World,
    clock: Clock,
    began: Time,
    /// Where the board's bytes go, while its port is there and open.
    attached: Option<Sender<Vec<u8>>>,
    /// Number of the present opening; bytes of an earlier one are lost.
    number: u64,
}

impl Running {
    fn now(&self) -> Time {
        Time(0) + self.clock.now().since(self.began)
    }

    fn run(&mut self, said: &Receiver<Said>, answer: &impl Fn(Vec<String>)) {
        loop {
            let now = self.now();
            self.world.advance(now);
            self.carry();
            let wait = self.world.wake().since(self.now()).min(SLEEP);
            match said.recv_timeout(wait) {
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
                Ok(Said::Bytes(number, bytes)) => {
                    if number == self.number && self.attached.is_some() {
                        let now = self.now();
                        self.world.receive(now, &bytes);
                    }
                }
                Ok(Said::Line(line)) => {
                    let now = self.now();
                    answer(self.world.line(now, &line).unwrap_or_else(|error| vec![error.to_string()]));
                }
                Ok(Said::Attach(reply)) => {
                    // Whoever asked and went away needs no answer.
                    let _ = reply.send(self.attach());
                }
            }
        }
    }

    /// The board's bytes to whoever has the port open; a port that vanished is closed.
    fn carry(&mut self) {
        let bytes = self.world.take_output();
        if !self.world.port_present() {
            self.attached = None;
        }
        if !bytes.is_empty()
            && let Some(attached) = &self.attached
            && attached.send(bytes).is_err()
        {
            self.attached = None;
        }
    }

    fn attach(&mut self) -> Option<(u64, Receiver<Vec<u8>>)> {
        if !self.world.port_present() {
            return None;
        }
        let (bytes, read) = channel();
        self.attached = Some(bytes);
        self.number += 1;
        Some((self.number, read))
    }
}

struct Input {
    bytes: Receiver<Vec<u8>>,
    rest: Vec<u8>,
}

impl Read for Input {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.rest.is_empty() {
            self.rest = match self.bytes.recv_timeout(READ) {
                Ok(bytes) => bytes,
                Err(RecvTimeoutError::Timeout) => return Err(ErrorKind::TimedOut.into()),
                Err(RecvTimeoutError::Disconnected) => return Ok(0),
            };
        }
        let count = self.rest.len().min(into.len());
        into[..count].copy_from_slice(&self.rest[..count]);
        self.rest.drain(..count);
        Ok(count)
    }
}

struct Output {
    number: u64,
    say: Sender<Said>,
}

impl WireOut for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let sent = self.say.send(Said::Bytes(self.number, bytes.to_vec()));
        sent.map(|()| bytes.len()).map_err(|_| ErrorKind::BrokenPipe.into())
    }

    fn spare(&self) -> io::Result<Box<dyn WireOut>> {
        Ok(Box::new(Self { number: self.number, say: self.say.clone() }))
    }
}
