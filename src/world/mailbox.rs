//! One mailbox: every thread posts here, the core takes one event at a time.
//!
//! Must not be here: what overtakes what and what is dropped (see `machines::mailbox`), what an event means.

use super::clock::Clock;
use super::turn::turn;
use crate::machines::mailbox::Lanes;
use crate::measure::time::Time;
use crate::seam::Event;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Longest single wait; a moment that never comes is waited for in pieces.
const PIECE: Duration = Duration::from_secs(3600);
/// How long a wire waits before it looks whether it is to be closed.
const LOOK: Duration = Duration::from_millis(20);

/// Locks, whatever became of the thread that held it before: a stop must not die of another's panic.
pub(super) fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
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

impl Mailbox {
    /// An empty mailbox.
    #[must_use]
    pub fn new(clock: Clock) -> Self {
        Self(Arc::new(Inner { clock, lanes: Mutex::default(), filled: Condvar::new(), emptied: Condvar::new() }))
    }

    /// Puts an event in.
    pub fn post(&self, event: Event) {
        turn();
        let now = self.0.clock.now();
        held(&self.0.lanes).post(now, event);
        self.0.filled.notify_one();
    }

    /// Puts bytes in once there is room, unless their wire is closed meanwhile: what waits stays with the system.
    pub(super) fn post_bytes(&self, event: Event, closed: &AtomicBool) {
        turn();
        let mut lanes = held(&self.0.lanes);
        while !lanes.has_room() {
            if closed.load(Ordering::SeqCst) {
                return;
            }
            lanes = self.0.emptied.wait_timeout(lanes, LOOK).unwrap_or_else(PoisonError::into_inner).0;
        }
        lanes.post(self.0.clock.now(), event);
        drop(lanes);
        self.0.filled.notify_one();
    }

    /// The next event, at the latest [`Event::Tick`] at `until`.
    pub fn take(&self, until: Time) -> (Time, Event) {
        turn();
        let mut lanes = held(&self.0.lanes);
        loop {
            let now = self.0.clock.now();
            if let Some(taken) = lanes.take(now, until) {
                if lanes.has_room() {
                    self.0.emptied.notify_all();
                }
                return taken;
            }
            let wait = until.since(now).min(PIECE);
            lanes = self.0.filled.wait_timeout(lanes, wait).unwrap_or_else(PoisonError::into_inner).0;
        }
    }
}
