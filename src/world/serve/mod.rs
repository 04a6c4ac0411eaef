//! Serves a virtual world on a pseudo-terminal or on loopback TCP, in real time.
//!
//! The port comes and goes with the board's USB; world lines come from standard input and from loopback
//! connections. Promises: the link is removed on every orderly way out. Must not be here: what a line means.

mod control;
mod lines;
mod outlet;
mod pty;
mod tcp;

use crate::measure::time::Time;
use crate::virtual_board::{World, WorldConfig};
use control::Control;
use lines::Lines;
use outlet::Outlet;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::io;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Longest sleep: how soon a signal is acted on.
const LONGEST_SLEEP: Duration = Duration::from_millis(50);

/// Where the board's port is to be.
#[derive(Debug, Clone)]
pub enum Port {
    /// A new pseudo-terminal each time the port appears, with a link to it if a path is given.
    Terminal {
        /// Path of the link.
        link: Option<PathBuf>,
    },
    /// A TCP port on loopback; 0 takes a free one.
    Tcp {
        /// Its number.
        port: u16,
    },
}

/// What is to be served.
#[derive(Debug, Clone)]
pub struct Serving {
    /// The world.
    pub world: WorldConfig,
    /// The board's port.
    pub port: Port,
    /// TCP port on loopback for world lines; 0 takes a free one.
    pub control: Option<u16>,
    /// Bits a second of the board's side, ten a byte; `None`: as fast as the wire takes them.
    pub baud: Option<u32>,
}

/// What the server has to say while it serves.
#[derive(Debug)]
pub enum Said<'s> {
    /// The port has appeared, under this name and, where one is kept, this link.
    Port {
        /// Path or address.
        name: String,
        /// Path of the link.
        link: Option<&'s PathBuf>,
    },
    /// The port has vanished.
    Gone,
    /// World lines are taken here.
    Control(SocketAddr),
    /// Answer to a world line from standard input, without a line feed at its end.
    Answer(&'s str),
    /// A world line from standard input could not be done.
    Refused(String),
}

/// Why serving is not possible.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// No pseudo-terminal.
    #[error("no pseudo-terminal could be opened: {0}\nUse --tcp 0 to serve on TCP instead.")]
    Terminal(#[source] io::Error),
    /// Something else stands at the link's path.
    #[error("{path} is there already and is not a left-over link\nRemove it, or give --link another path.")]
    LinkTaken {
        /// The path.
        path: PathBuf,
    },
    /// The link could not be made.
    #[error("the link {path} could not be made: {source}\nIts folder must be there and writable.")]
    Link {
        /// The path.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A TCP port could not be taken.
    #[error("port {port} on 127.0.0.1 could not be taken: {source}\nGive another, or 0 for a free one.")]
    Tcp {
        /// The port.
        port: u16,
        /// Why.
        source: io::Error,
    },
    /// Waiting failed.
    #[error("waiting for input failed: {0}")]
    Wait(#[source] io::Error),
    /// The signals could not be taken over.
    #[error("interrupts could not be taken over: {0}")]
    Signals(#[source] io::Error),
}

/// Serves until standard input ends and no control port is open, or until an interrupt.
///
/// # Errors
///
/// [`ServeError`], when a port, a link or a pseudo-terminal cannot be had, at the start or when it reappears.
pub fn serve(serving: Serving, say: &mut dyn FnMut(Said<'_>)) -> Result<(), ServeError> {
    let stop = interrupts()?;
    let control = serving.control.map(Control::open).transpose()?;
    if let Some(control) = &control {
        say(Said::Control(control.address()));
    }
    let mut server = Server {
        world: World::new(serving.world),
        outlet: Outlet::new(serving.port, serving.baud),
        control,
        input: Some(Lines::default()),
        began: Instant::now(),
    };
    while !stop.load(Ordering::Relaxed) && (server.input.is_some() || server.control.is_some()) {
        server.turn(say)?;
    }
    Ok(())
}

fn interrupts() -> Result<Arc<AtomicBool>, ServeError> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM, signal_hook::consts::SIGHUP] {
        signal_hook::flag::register(signal, Arc::clone(&stop)).map_err(ServeError::Signals)?;
    }
    Ok(stop)
}

struct Server {
    world: World,
    outlet: Outlet,
    control: Option<Control>,
    /// Standard input, until its end.
    input: Option<Lines>,
    began: Instant,
}

impl Server {
    fn now(&self) -> Time {
        Time(0) + self.began.elapsed()
    }

    /// One round: let the world go on, carry bytes, wait, and take what came.
    fn turn(&mut self, say: &mut dyn FnMut(Said<'_>)) -> Result<(), ServeError> {
        let now = self.now();
        self.world.advance(now);
        self.outlet.be_present(self.world.port_present(), say)?;
        self.outlet.send(&self.world.take_output(), Instant::now());
        self.wait()?;
        let heard = self.outlet.take();
        if !heard.is_empty() {
            self.world.receive(self.now(), &heard);
        }
        self.take_input(say);
        if let Some(control) = &mut self.control {
            let began = self.began;
            control.serve(&mut |line| answer(&mut self.world, Time(0) + began.elapsed(), line));
        }
        Ok(())
    }

    /// Sleeps until bytes come or the world or the pace of the wire wants something.
    fn wait(&self) -> Result<(), ServeError> {
        let until_world = self.world.wake().since(self.now());
        let sleep = until_world.min(self.outlet.patience()).min(LONGEST_SLEEP);
        let stdin = io::stdin();
        let mut fds: Vec<PollFd<'_>> = self.outlet.fds();
        if self.input.is_some() {
            fds.push(PollFd::new(&stdin, PollFlags::IN));
        }
        if let Some(control) = &self.control {
            fds.extend(control.fds());
        }
        let timeout = Timespec { tv_sec: 0, tv_nsec: sleep.subsec_nanos().into() };
        match poll(&mut fds, Some(&timeout)) {
            Ok(_) | Err(rustix::io::Errno::INTR) => Ok(()),
            Err(error) => Err(ServeError::Wait(error.into())),
        }
    }

    fn take_input(&mut self, say: &mut dyn FnMut(Said<'_>)) {
        let Some(input) = &mut self.input else { return };
        let stdin = io::stdin();
        let mut fds = [PollFd::new(&stdin, PollFlags::IN)];
        let none = Timespec { tv_sec: 0, tv_nsec: 0 };
        if !matches!(poll(&mut fds, Some(&none)), Ok(ready) if ready > 0) {
            return;
        }
        let mut bytes = [0; 4096];
        let read = rustix::io::read(&stdin, &mut bytes);
        let ended = matches!(read, Ok(0)) || matches!(read, Err(error) if error != rustix::io::Errno::INTR);
        let lines = input.take(&bytes[..read.unwrap_or(0)], ended);
        if ended {
            self.input = None;
        }
        for line in lines.iter().filter(|line| !line.trim().is_empty()) {
            match answer(&mut self.world, Time(0) + self.began.elapsed(), line) {
                Ok(answer) => say(Said::Answer(&answer)),
                Err(refused) => say(Said::Refused(refused)),
            }
        }
    }
}

/// Does a world line; its answer, or why not, in words.
fn answer(world: &mut World, now: Time, line: &str) -> Result<String, String> {
    world.line(now, line).map(|answers| answers.join("\n")).map_err(|error| error.to_string())
}
