//! The thread of a wire's writer: it pumps the machine that decides what leaves when.
//!
//! Promises: a stop or a hold is looked at as soon as it is said, whatever else waits; nothing here waits inside a
//! write. Must not be here: any rule of order or time (see `machines::writer`), what the bytes mean.

use super::clock::Clock;
use super::helper;
use super::mailbox::{Mailbox, held};
use super::turn::turn;
use crate::machines::writer::{Doing, Writer as Machine};
use crate::measure::time::Time;
use std::fmt;
use std::io::{self, ErrorKind};
use std::ops::Range;
use std::sync::{Arc, Condvar, Mutex, OnceLock, PoisonError, TryLockError, Weak};
use std::thread::ThreadId;
use std::time::Duration;

/// Bytes handed to the system at once.
const CHUNK: usize = 64;
/// Longest single wait; a moment that never comes is waited for in pieces.
const PIECE: Duration = Duration::from_secs(3600);
/// How often held bytes leave when part of the program broke down: one frame may be lost.
const TIMES: u32 = 3;

/// The end of a wire that is written to.
pub trait WireOut: Send {
    /// Gives the system what it takes of these bytes now, without waiting.
    ///
    /// # Errors
    /// `TimedOut`, `WouldBlock` and `Interrupted` mean: again; anything else: the wire is lost.
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize>;
    /// Another end of the same wire, for a stop that this one can't carry any more.
    ///
    /// # Errors
    /// Where the system gives none.
    fn spare(&self) -> io::Result<Box<dyn WireOut>>;
    /// Bytes that the system holds and has not sent, where it can tell.
    fn pending(&mut self) -> usize {
        0
    }
    /// Bytes that it is handed at once.
    fn at_once(&self) -> usize {
        CHUNK
    }
}

/// Whether an error only means to try again.
pub(super) fn again(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

/// Handle to a writer; its thread ends when it is closed.
#[derive(Debug, Clone)]
pub struct Writer(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    clock: Clock,
    state: Mutex<State>,
    wake: Condvar,
    spare: Mutex<Spare>,
    thread: OnceLock<ThreadId>,
}

/// What is left when the thread itself breaks down: another end of the wire, and the bytes that are held.
#[derive(Default)]
struct Spare {
    out: Option<Box<dyn WireOut>>,
    held: Option<Vec<u8>>,
}

impl fmt::Debug for Spare {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Spare").field("held", &self.held).finish_non_exhaustive()
    }
}

#[derive(Debug)]
struct State {
    machine: Machine,
    ended: bool,
}

impl Writer {
    /// A writer and its thread; `lost` is called once if the wire fails.
    ///
    /// # Errors
    /// Where the system gives no thread, or no spare end.
    pub fn start(
        clock: Clock,
        mailbox: &Mailbox,
        mut out: Box<dyn WireOut>,
        lost: impl Fn() + Send + 'static,
    ) -> io::Result<Self> {
        let state = State { machine: Machine::new(out.at_once()), ended: false };
        let shared = Arc::new(Shared {
            clock,
            state: Mutex::new(state),
            wake: Condvar::new(),
            spare: Mutex::new(Spare { out: Some(out.spare()?), held: None }),
            thread: OnceLock::new(),
        });
        held(&WRITERS).push(Arc::downgrade(&shared));
        let pumped = shared.clone();
        helper::start("writer", mailbox, move || {
            pumped.thread.get_or_init(|| std::thread::current().id());
            let ended = pump(&pumped, &mut *out);
            // An end that stays open keeps the port from others, and a board from coming back under its name.
            *held(&pumped.spare) = Spare::default();
            drop(out);
            if ended.is_err() {
                lost();
            }
            held(&pumped.state).ended = true;
            pumped.wake.notify_all();
            true
        })?;
        Ok(Self(shared))
    }

    /// Bytes after what is queued; those that have not begun to leave `by` then are dropped.
    pub fn send(&self, bytes: Vec<u8>, by: Time) {
        self.tell(|machine| machine.send(bytes, by));
    }

    /// Bytes before what is queued, which is thrown away.
    pub fn stop(&self, bytes: Vec<u8>) {
        self.tell(|machine| machine.stop(bytes));
    }

    /// Sends these bytes through this time, unless renewed or released before.
    pub fn hold(&self, bytes: Vec<u8>, through: Range<Time>) {
        held(&self.0.spare).held = Some(bytes.clone());
        self.tell(|machine| machine.hold(bytes, through));
    }

    /// Ends the hold.
    pub fn release(&self) {
        held(&self.0.spare).held = None;
        self.tell(Machine::release);
    }

    /// Sends what is queued (or, where a hold was not released, its bytes alone) and ends.
    pub fn close(&self) {
        let now = self.0.clock.now();
        self.tell(|machine| machine.close(now));
    }

    /// Waits until the thread has ended, at most this long.
    pub fn wait_end(&self, longest: Duration) {
        let until = self.0.clock.now() + longest;
        let mut state = held(&self.0.state);
        while !state.ended && self.0.clock.now() < until {
            let wait = until.since(self.0.clock.now());
            state = self.0.wake.wait_timeout(state, wait).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    fn tell(&self, what: impl FnOnce(&mut Machine)) {
        what(&mut held(&self.0.state).machine);
        self.0.wake.notify_all();
    }
}

/// Does what the machine says, until the end.
fn pump(shared: &Shared, out: &mut dyn WireOut) -> io::Result<()> {
    loop {
        turn();
        let pending = out.pending();
        let mut state = held(&shared.state);
        let now = shared.clock.now();
        match state.machine.next(now, pending) {
            Doing::End => return Ok(()),
            Doing::Lost => return Err(ErrorKind::TimedOut.into()),
            Doing::Wait(until) => {
                let wait = until.since(now).min(PIECE);
                drop(shared.wake.wait_timeout(state, wait).unwrap_or_else(PoisonError::into_inner));
            }
            Doing::Write(bytes) => {
                // Whoever has something to say need not wait for the system.
                drop(state);
                let count = match out.write(&bytes) {
                    Err(error) if again(&error) => 0,
                    written => written?,
                };
                held(&shared.state).machine.wrote(shared.clock.now(), count);
            }
        }
    }
}

/// Every writer of this process, for the panic hook.
static WRITERS: Mutex<Vec<Weak<Shared>>> = Mutex::new(Vec::new());

/// Makes every writer send its held bytes now, and waits until they have left, at most this long. Called from a panic
/// hook, perhaps on a thread that holds a lock: so it only tries, and where a writer does not answer, sends them itself.
/// Tells whether any writer held bytes, so that motors could turn.
pub(super) fn fire_all(longest: Duration) -> bool {
    let clock = Clock::start();
    let until = clock.now() + longest;
    let Some(mut writers) = try_for(&WRITERS, &clock, until) else { return false };
    writers.retain(|writer| writer.strong_count() > 0);
    let here = std::thread::current().id();
    // A writer that broke down itself is not waited for.
    let (broken, asked): (Vec<_>, Vec<_>) =
        writers.iter().filter_map(Weak::upgrade).partition(|shared| shared.thread.get() == Some(&here));
    drop(writers);
    let mut any = false;
    for shared in &broken {
        any |= shared.fire_spare(&clock, until);
    }
    let mut asked: Vec<(Arc<Shared>, Option<u32>)> = asked.into_iter().map(|shared| (shared, None)).collect();
    loop {
        asked.retain_mut(|(shared, fired)| {
            let Some(mut state) = try_now(&shared.state) else { return true };
            let now = state.machine.fired();
            match *fired {
                None => {
                    let holds = state.machine.fire();
                    any |= holds;
                    *fired = Some(now);
                    shared.wake.notify_all();
                    holds
                }
                Some(before) => now < before + TIMES && !state.ended,
            }
        });
        if asked.is_empty() {
            return any;
        }
        if clock.now() >= until {
            for (shared, _) in &asked {
                any |= shared.fire_spare(&clock, until + longest);
            }
            return any;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

impl Shared {
    /// Sends the held bytes past the writer; whether there were any.
    fn fire_spare(&self, clock: &Clock, until: Time) -> bool {
        let Some(mut spare) = try_for(&self.spare, clock, until) else { return false };
        let Spare { out: Some(out), held: Some(bytes) } = &mut *spare else { return false };
        let all = bytes.repeat(TIMES as usize);
        let mut left = 0;
        while left < all.len() && clock.now() < until {
            match out.write(&all[left..]) {
                Ok(count) => left += count,
                Err(error) if again(&error) => std::thread::sleep(Duration::from_millis(1)),
                Err(_) => break,
            }
        }
        true
    }
}

fn try_now<T>(mutex: &Mutex<T>) -> Option<std::sync::MutexGuard<'_, T>> {
    match mutex.try_lock() {
        Ok(guard) => Some(guard),
        Err(TryLockError::Poisoned(poisoned)) => Some(poisoned.into_inner()),
        Err(TryLockError::WouldBlock) => None,
    }
}

fn try_for<'m, T>(mutex: &'m Mutex<T>, clock: &Clock, until: Time) -> Option<std::sync::MutexGuard<'m, T>> {
    loop {
        if let Some(guard) = try_now(mutex) {
            return Some(guard);
        }
        if clock.now() >= until {
            return None;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}
