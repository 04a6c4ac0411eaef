//! The writer of one wire: a queue, stops that overtake it, and the dead man's hold.
//!
//! Promises: a stop leaves before everything queued, which is thrown away; a hold that is not renewed
//! in time sends its bytes from here, whatever the core is doing, and again every 20 ms; what has
//! begun to leave is finished for at most 20 ms, so that the board is not left in the middle of a
//! frame. Must not be here: what the bytes mean.

use super::mailbox::{Clock, held};
use crate::measure::time::Time;
use std::collections::VecDeque;
use std::io::{self, ErrorKind};
use std::sync::{Arc, Condvar, Mutex, PoisonError, TryLockError, Weak};
use std::time::Duration;

/// Bytes handed to the system at once.
const CHUNK: usize = 64;
/// The system is not given more while it has this many left: they could not be overtaken any more.
/// At 115 200 baud they take 11 ms.
const AHEAD: usize = 128;
/// Between two sendings of a hold that is due.
const AGAIN: Duration = Duration::from_millis(20);
/// How long, and how much, of something begun is finished before a stop.
const FINISH: Duration = Duration::from_millis(20);
const FINISH_BYTES: usize = 512;
/// A wire that takes nothing for this long is lost.
const STUCK: Duration = Duration::from_secs(2);
/// How long a closing wire may still send what is queued.
const CLOSING: Duration = Duration::from_millis(300);
/// Stops that wait at most; the oldest are dropped.
const STOPS: usize = 8;

/// The end of a wire that is written to.
pub trait WireOut: Send {
    /// Writes some bytes, within about 20 ms.
    ///
    /// # Errors
    /// `TimedOut`, `WouldBlock` and `Interrupted` mean: again; anything else: the wire is lost.
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize>;
    /// Bytes that the system holds and has not sent, where it can tell.
    fn pending(&mut self) -> usize;
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
    state: Mutex<WriterState>,
    wake: Condvar,
}

#[derive(Debug, Default)]
struct WriterState {
    queue: VecDeque<Vec<u8>>,
    stops: VecDeque<Vec<u8>>,
    hold: Option<Hold>,
    /// How often held bytes have left.
    fired: u32,
    close_by: Option<Time>,
    ended: bool,
}

#[derive(Debug)]
struct Hold {
    bytes: Vec<u8>,
    due: Time,
}

/// What the writer does next.
enum Job {
    Stop(Vec<u8>, bool),
    Chunk,
    End,
}

impl Writer {
    /// A writer and its thread; `lost` is called once if the wire fails.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub fn start(clock: Clock, out: Box<dyn WireOut>, lost: impl Fn() + Send + 'static) -> io::Result<Self> {
        let shared = Arc::new(Shared { clock, state: Mutex::default(), wake: Condvar::new() });
        held(&WRITERS).push(Arc::downgrade(&shared));
        let mut thread = Thread { shared: shared.clone(), out, current: None, progress: clock.now() };
        std::thread::Builder::new().name("writer".to_owned()).spawn(move || {
            if thread.run().is_err() {
                lost();
            }
            held(&thread.shared.state).ended = true;
            thread.shared.wake.notify_all();
        })?;
        Ok(Self(shared))
    }

    /// Bytes after what is queued.
    pub fn send(&self, bytes: Vec<u8>) {
        self.change(|state| state.queue.push_back(bytes));
    }

    /// Bytes before what is queued, which is thrown away.
    pub fn stop(&self, bytes: Vec<u8>) {
        self.change(|state| {
            state.queue.clear();
            if state.stops.len() == STOPS {
                state.stops.pop_front();
            }
            state.stops.push_back(bytes);
        });
    }

    /// Sends these bytes unless renewed or released before `until`.
    pub fn hold(&self, bytes: Vec<u8>, until: Time) {
        self.change(|state| state.hold = Some(Hold { bytes, due: until }));
    }

    /// Ends the hold.
    pub fn release(&self) {
        self.change(|state| state.hold = None);
    }

    /// Sends what is queued (or, where a hold was not released, its bytes alone) and ends.
    pub fn close(&self) {
        let by = self.0.clock.now() + CLOSING;
        self.change(|state| state.close_by = state.close_by.or(Some(by)));
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

    fn change(&self, change: impl FnOnce(&mut WriterState)) {
        change(&mut held(&self.0.state));
        self.0.wake.notify_all();
    }
}

struct Thread {
    shared: Arc<Shared>,
    out: Box<dyn WireOut>,
    /// What is leaving, and how much of it has left.
    current: Option<(Vec<u8>, usize)>,
    /// When bytes last left.
    progress: Time,
}

impl Thread {
    fn run(&mut self) -> io::Result<()> {
        loop {
            match self.next() {
                Job::End => return Ok(()),
                Job::Stop(bytes, held_back) => {
                    self.finish_begun()?;
                    self.write_stop(&bytes)?;
                    if held_back {
                        held(&self.shared.state).fired += 1;
                    }
                }
                Job::Chunk => self.write_chunk()?,
            }
        }
    }

    /// Waits for something to do.
    fn next(&mut self) -> Job {
        let shared = self.shared.clone();
        let mut state = held(&shared.state);
        loop {
            let now = shared.clock.now();
            if let Some(stop) = state.stops.pop_front() {
                return Job::Stop(stop, false);
            }
            let closing = state.close_by;
            if let Some(hold) = &mut state.hold
                && (hold.due <= now || closing.is_some())
            {
                hold.due = now + AGAIN;
                let bytes = hold.bytes.clone();
                state.queue.clear();
                if closing.is_some() {
                    state.hold = None;
                }
                return Job::Stop(bytes, true);
            }
            if self.current.is_some() || !state.queue.is_empty() {
                if closing.is_some_and(|by| by <= now) {
                    return Job::End;
                }
                if self.out.pending() < AHEAD {
                    self.current = self.current.take().or_else(|| state.queue.pop_front().map(|bytes| (bytes, 0)));
                    return Job::Chunk;
                }
                state = wait(&shared, state, Duration::from_millis(1));
            } else if closing.is_some() {
                return Job::End;
            } else {
                self.progress = now;
                let due = state.hold.as_ref().map_or(Time::NEVER, |hold| hold.due);
                state = wait(&shared, state, due.since(now).min(Duration::from_secs(3600)));
            }
        }
    }

    fn write_chunk(&mut self) -> io::Result<()> {
        let Some((bytes, left)) = &mut self.current else { return Ok(()) };
        let chunk = &bytes[*left..bytes.len().min(*left + self.out.at_once())];
        match self.out.write(chunk) {
            Ok(written) => {
                *left += written;
                if *left >= bytes.len() {
                    self.current = None;
                }
                self.progress = self.shared.clock.now();
            }
            Err(error) if again(&error) => {
                if self.shared.clock.now().since(self.progress) > STUCK {
                    return Err(error);
                }
            }
            Err(error) => return Err(error),
        }
        Ok(())
    }

    /// Finishes what has begun to leave, if it is short and leaves at once; else drops it.
    fn finish_begun(&mut self) -> io::Result<()> {
        let until = self.shared.clock.now() + FINISH;
        while let Some((bytes, left)) = &self.current
            && *left > 0
            && bytes.len() - left <= FINISH_BYTES
            && self.shared.clock.now() < until
        {
            self.write_chunk()?;
        }
        self.current = None;
        Ok(())
    }

    /// Writes a stop whole, as long as it takes, until the wire is closed or lost.
    fn write_stop(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut left = 0;
        while left < bytes.len() {
            let end = bytes.len().min(left + self.out.at_once());
            match self.out.write(&bytes[left..end]) {
                Ok(written) => left += written,
                Err(error) if again(&error) => {
                    let close_by = held(&self.shared.state).close_by;
                    if close_by.is_some_and(|by| by <= self.shared.clock.now()) {
                        return Ok(());
                    }
                }
                Err(error) => return Err(error),
            }
        }
        self.progress = self.shared.clock.now();
        Ok(())
    }
}

fn wait<'s>(
    shared: &'s Shared,
    state: std::sync::MutexGuard<'s, WriterState>,
    longest: Duration,
) -> std::sync::MutexGuard<'s, WriterState> {
    shared.wake.wait_timeout(state, longest).unwrap_or_else(PoisonError::into_inner).0
}

/// Every writer of this process, for the panic hook.
static WRITERS: Mutex<Vec<Weak<Shared>>> = Mutex::new(Vec::new());

/// Makes every writer send its held bytes now, and waits until they have left, at most this long.
/// Called from a panic hook, perhaps on a thread that holds a lock: so it only tries. Tells whether any writer
/// held bytes, so that motors could turn.
pub(super) fn fire_all(longest: Duration) -> bool {
    let clock = Clock::start();
    let until = clock.now() + longest;
    let mut waiting: Vec<(Arc<Shared>, Option<u32>)> = match try_for(&WRITERS, &clock, until) {
        Some(mut writers) => {
            writers.retain(|writer| writer.strong_count() > 0);
            writers.iter().filter_map(Weak::upgrade).map(|shared| (shared, None)).collect()
        }
        None => return false,
    };
    let mut any = false;
    loop {
        waiting.retain_mut(|(shared, fired)| {
            let Some(mut state) = try_now(&shared.state) else { return true };
            let now = state.fired;
            let Some(hold) = &mut state.hold else { return false };
            any = true;
            match *fired {
                None => {
                    hold.due = Time(0);
                    *fired = Some(now);
                    shared.wake.notify_all();
                    true
                }
                Some(before) => now == before && !state.ended,
            }
        });
        if waiting.is_empty() || clock.now() >= until {
            return any;
        }
        std::thread::sleep(Duration::from_millis(1));
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
