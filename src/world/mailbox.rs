//! One clock and one mailbox: every thread posts here, the core takes one event at a time.
//!
//! Promises: what a person or the system says overtakes what boards say; moments never run
//! backwards; bytes that nobody takes do not pile up. Must not be here: what an event means.

use crate::measure::time::Time;
use crate::seam::Event;
use crate::seam::guardian::GuardianEvent;
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Longest single wait; a moment that never comes is waited for in pieces.
const PIECE: Duration = Duration::from_secs(3600);

/// What waits at most before a wire has to wait with its bytes; a board that never pauses must not fill the memory.
const MOST: usize = 256;
/// How long a wire waits before it looks whether it is to be closed.
const LOOK: Duration = Duration::from_millis(20);

/// Locks, whatever became of the thread that held it before: a stop must not die of another's panic.
pub(super) fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The session's clock: monotonic, from zero.
#[derive(Debug, Clone, Copy)]
pub struct Clock(Instant);

impl Clock {
    /// A clock that starts now.
    #[must_use]
    pub fn start() -> Self {
        Self(Instant::now())
    }

    /// The present moment.
    #[must_use]
    pub fn now(&self) -> Time {
        Time(u64::try_from(self.0.elapsed().as_micros()).unwrap_or(u64::MAX))
    }
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Mailbox(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    clock: Clock,
    lanes: Mutex<Lanes>,
    filled: Condvar,
    emptied: Condvar,
}

#[derive(Debug, Default)]
struct Lanes {
    /// Keys, signals and what a guardian says, with the moment at which they came: an answer is judged by it.
    urgent: VecDeque<(Time, Event)>,
    /// All else; its moment is that of delivery, so that a core that slept sees the gap.
    rest: VecDeque<Event>,
    last: Time,
}

impl Mailbox {
    /// An empty mailbox.
    #[must_use]
    pub fn new(clock: Clock) -> Self {
        Self(Arc::new(Inner { clock, lanes: Mutex::default(), filled: Condvar::new(), emptied: Condvar::new() }))
    }

    /// Puts an event in.
    pub fn post(&self, event: Event) {
        let now = self.0.clock.now();
        let mut lanes = held(&self.0.lanes);
        match event {
            Event::Key(_)
            | Event::Paste
            | Event::Line(_)
            | Event::EndOfInput
            | Event::Signal(_)
            | Event::Guardian(_, GuardianEvent::Held(_) | GuardianEvent::Released | GuardianEvent::Fired) => {
                lanes.urgent.push_back((now, event));
            }
            _ => lanes.rest.push_back(event),
        }
        drop(lanes);
        self.0.filled.notify_one();
    }

    /// Puts bytes in once there is room, unless their wire is closed meanwhile: what waits stays with the system.
    pub(super) fn post_bytes(&self, event: Event, closed: &AtomicBool) {
        let mut lanes = held(&self.0.lanes);
        while lanes.rest.len() >= MOST {
            if closed.load(Ordering::SeqCst) {
                return;
            }
            lanes = self.0.emptied.wait_timeout(lanes, LOOK).unwrap_or_else(PoisonError::into_inner).0;
        }
        lanes.rest.push_back(event);
        drop(lanes);
        self.0.filled.notify_one();
    }

    /// The next event, at the latest [`Event::Tick`] at `until`.
    pub fn take(&self, until: Time) -> (Time, Event) {
        let mut lanes = held(&self.0.lanes);
        loop {
            let now = self.0.clock.now();
            let found = lanes.urgent.pop_front().or_else(|| lanes.rest.pop_front().map(|event| (now, event)));
            if let Some((at, event)) = found.or_else(|| (now >= until).then_some((now, Event::Tick))) {
                lanes.last = lanes.last.max(at);
                if lanes.rest.len() < MOST {
                    self.0.emptied.notify_all();
                }
                return (lanes.last, event);
            }
            let wait = until.since(now).min(PIECE);
            lanes = self.0.filled.wait_timeout(lanes, wait).unwrap_or_else(PoisonError::into_inner).0;
        }
    }
}
