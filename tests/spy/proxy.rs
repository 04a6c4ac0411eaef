//! The spy between the real program and real virtual boards: a pseudo-terminal or a TCP port for the program, a TCP
//! connection to each board.
//!
//! The program's side stays open whatever the boards do, as an adapter's port does. Every frame of the program's is kept
//! with the moment at which it was read here, and for whom it was. Must not be here: what is right.

use super::frames::{Class, first};
use super::log::Craft;
use crate::cli::desk::board::Board;
use crate::cli::hostile::port::Port;
use std::io::{ErrorKind, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::{JoinHandle, sleep, spawn};
use std::time::{Duration, Instant};

/// How often the wire is looked at: the most by which a moment is late.
const LOOK: Duration = Duration::from_micros(500);

/// A frame of the program's.
#[derive(Debug, Clone)]
pub struct Kept {
    pub at: Instant,
    pub to: Craft,
    pub class: Class,
}

#[derive(Default)]
struct State {
    swapped: bool,
    silent: bool,
    over: bool,
    kept: Vec<Kept>,
    /// What another hand types at a console in the moment before these bytes of the program's come to it.
    typed: Option<(&'static [u8], &'static [u8])>,
    first_of_b: Option<Instant>,
}

/// See the module.
pub struct Proxy {
    /// What `--port` is to be.
    pub port: String,
    state: Arc<Mutex<State>>,
    thread: Option<JoinHandle<()>>,
    _folder: Option<tempfile::TempDir>,
}

impl Proxy {
    /// On a pseudo-terminal, before these boards, which are on TCP; the first is on the wire.
    pub fn on_a_terminal(boards: &[&Board]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("finch");
        let port = Port::new();
        std::os::unix::fs::symlink(&port.path, &link).unwrap();
        let name = link.display().to_string();
        Self::start(name, boards, Program::Terminal(port), Some(folder))
    }

    /// On TCP.
    pub fn on_tcp(boards: &[&Board]) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        listener.set_nonblocking(true).unwrap();
        let name = format!("tcp:{}", listener.local_addr().unwrap());
        Self::start(name, boards, Program::Tcp(listener, None), None)
    }

    fn start(port: String, boards: &[&Board], program: Program, folder: Option<tempfile::TempDir>) -> Self {
        let state = Arc::<Mutex<State>>::default();
        let mut boards: Vec<Side> = boards.iter().map(|board| Side::new(&board.port)).collect();
        let (shared, mut program) = (state.clone(), program);
        let thread = spawn(move || {
            let mut partial = Vec::new();
            while !shared.lock().unwrap().over {
                let bytes = program.read();
                turn(&mut shared.lock().unwrap(), &bytes, &mut partial, &mut boards, &mut program);
                sleep(LOOK);
            }
        });
        Self { port, state, thread: Some(thread), _folder: folder }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap()
    }

    /// Nothing passes either way any more, or again; the wire stays open.
    pub fn silence(&self, silent: bool) {
        self.state().silent = silent;
    }

    /// Another hand types this at the board's console, once, right before the program's bytes that hold these.
    pub fn types_before(&self, typed: &'static [u8], before: &'static [u8]) {
        self.state().typed = Some((typed, before));
    }

    /// Whether that happened.
    pub fn has_typed(&self) -> bool {
        self.state().typed.is_none()
    }

    /// The other board speaks on the wire from now on.
    pub fn swap(&self) {
        self.state().swapped = true;
    }

    /// When the first bytes of the other board went to the program.
    pub fn first_of_b(&self) -> Option<Instant> {
        self.state().first_of_b
    }

    /// What the program sent of which this is so.
    pub fn kept(&self, is: impl Fn(&Kept) -> bool) -> Vec<Kept> {
        self.state().kept.iter().filter(|kept| is(kept)).cloned().collect()
    }

    /// From a moment on: how long until something that stops was read here; `None`: not within the time.
    pub fn stop_after(&self, from: Instant, within: Duration) -> Option<Duration> {
        while from.elapsed() < within {
            let stop = self.state().kept.iter().find(|kept| kept.at >= from && kept.class.stops()).map(|kept| kept.at);
            if let Some(at) = stop {
                return Some(at - from);
            }
            sleep(Duration::from_millis(1));
        }
        None
    }
}

impl Drop for Proxy {
    fn drop(&mut self) {
        if let Ok(mut state) = self.state.lock() {
            state.over = true;
        }
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Carries what there is to carry.
fn turn(state: &mut State, bytes: &[u8], partial: &mut Vec<u8>, boards: &mut [Side], program: &mut Program) {
    let on = usize::from(state.swapped && boards.len() > 1);
    let to = if on == 1 { Craft::B } else { Craft::A };
    partial.extend(bytes);
    while let Some((class, length)) = first(partial) {
        partial.drain(..length);
        state.kept.push(Kept { at: Instant::now(), to, class });
    }
    if !state.silent {
        let due = |(_, before): &mut (&[u8], &'static [u8])| bytes.windows(before.len()).any(|part| part == *before);
        if let Some((typed, _)) = state.typed.take_if(due) {
            boards[on].write(typed);
        }
        boards[on].write(bytes);
    }
    for (place, board) in boards.iter_mut().enumerate() {
        let said = board.read();
        if place == on && !state.silent && !said.is_empty() {
            if on == 1 {
                state.first_of_b.get_or_insert_with(Instant::now);
            }
            program.write(&said);
        }
    }
    program.write(&[]);
}

/// The program's side.
enum Program {
    Terminal(Port),
    Tcp(TcpListener, Option<TcpStream>),
}

impl Program {
    fn read(&mut self) -> Vec<u8> {
        match self {
            Self::Terminal(port) => port.work(),
            Self::Tcp(listener, stream) => {
                if let Ok((new, _)) = listener.accept() {
                    new.set_nonblocking(true).unwrap();
                    let _ = new.set_nodelay(true);
                    *stream = Some(new);
                }
                read(stream)
            }
        }
    }

    fn write(&mut self, bytes: &[u8]) {
        match self {
            Self::Terminal(port) if port.room() => port.say(bytes),
            Self::Terminal(_) => {}
            Self::Tcp(_, stream) => write(stream, bytes),
        }
    }
}

/// A board's side: connected again whenever it is there.
struct Side {
    address: String,
    stream: Option<TcpStream>,
    tried: Instant,
}

impl Side {
    fn new(port: &str) -> Self {
        let address = port.strip_prefix("tcp:").unwrap().to_owned();
        let stream = TcpStream::connect(&address).ok();
        let side = Self { address, stream, tried: Instant::now() };
        side.ready();
        side
    }

    fn ready(&self) {
        if let Some(stream) = &self.stream {
            stream.set_nonblocking(true).unwrap();
            let _ = stream.set_nodelay(true);
        }
    }

    fn read(&mut self) -> Vec<u8> {
        if self.stream.is_none() && self.tried.elapsed() > Duration::from_millis(20) {
            self.tried = Instant::now();
            self.stream = TcpStream::connect(&self.address).ok();
            self.ready();
        }
        read(&mut self.stream)
    }

    fn write(&mut self, bytes: &[u8]) {
        write(&mut self.stream, bytes);
    }
}

fn read(stream: &mut Option<TcpStream>) -> Vec<u8> {
    let Some(open) = stream else { return Vec::new() };
    let mut bytes = vec![0; 4096];
    match open.read(&mut bytes) {
        Ok(count @ 1..) => bytes.truncate(count),
        Err(error) if error.kind() == ErrorKind::WouldBlock => bytes.clear(),
        Ok(_) | Err(_) => {
            *stream = None;
            bytes.clear();
        }
    }
    bytes
}

fn write(stream: &mut Option<TcpStream>, bytes: &[u8]) {
    if let Some(open) = stream
        && !bytes.is_empty()
        && open.write_all(bytes).is_err()
    {
        *stream = None;
    }
}
