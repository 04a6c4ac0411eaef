//! A standard library whose threads, locks and time are a checker's, and the files of `src/world/` that pump the machines
//! compiled upon it, just as they stand there.
//!
//! Time passes whenever the checker has a clock's thread run, which moves it on to the nearest moment that somebody waits
//! for: so every wait may end early or late. One of an hour is without an end, so that a wake-up that is lost shows as a
//! deadlock. Must not be here: what is right (see `checked.rs`).
#![allow(dead_code, missing_docs)]

extern crate self as std;
extern crate std as real;

pub use quadjig::{machines, measure, seam};
pub use real::{fmt, io, ops, time};

/// Time as the checker has it.
pub mod passing {
    use quadjig::measure::time::Time;
    use real::collections::BTreeMap;
    use real::time::Duration;
    use shuttle::sync::{Arc, Condvar, Mutex};

    /// Whoever waits for longer waits for ever.
    const EVER: Duration = Duration::from_secs(3600);

    #[derive(Default)]
    struct Passing {
        now: Time,
        count: u64,
        /// Who waits until when.
        waits: BTreeMap<(Time, u64), Arc<Condvar>>,
        over: bool,
    }

    shuttle::lazy_static! {
        static ref PASSING: Mutex<Passing> = Mutex::default();
        static ref BEGAN: Condvar = Condvar::new();
    }

    pub fn now() -> Time {
        PASSING.lock().unwrap().now
    }

    /// So much later; whoever waited for that is woken.
    pub fn sleep(wait: Duration) {
        let mut passing = PASSING.lock().unwrap();
        passing.now = passing.now + wait;
        drop(passing);
        shuttle::thread::yield_now();
    }

    /// Somebody begins to wait; `None`: without an end.
    pub(super) fn begins(wait: Duration, woken: &Arc<Condvar>) -> Option<(Time, u64)> {
        if wait >= EVER {
            return None;
        }
        let mut passing = PASSING.lock().unwrap();
        passing.count += 1;
        let at = (passing.now + wait, passing.count);
        passing.waits.insert(at, woken.clone());
        BEGAN.notify_all();
        Some(at)
    }

    pub(super) fn ends(wait: Option<(Time, u64)>) {
        if let Some(wait) = wait {
            PASSING.lock().unwrap().waits.remove(&wait);
        }
    }

    /// Runs a body with time beside it.
    pub fn with_time(body: impl FnOnce()) {
        let clock = shuttle::thread::spawn(|| {
            let mut passing = PASSING.lock().unwrap();
            while !passing.over {
                // Whoever begins to wait only now is told again.
                match passing.waits.first_key_value().map(|(wait, woken)| (wait.0, woken.clone())) {
                    Some((at, woken)) => {
                        passing.now = passing.now.max(at);
                        drop(passing);
                        woken.notify_all();
                        shuttle::thread::yield_now();
                        passing = PASSING.lock().unwrap();
                    }
                    None => passing = BEGAN.wait(passing).unwrap(),
                }
            }
        });
        body();
        PASSING.lock().unwrap().over = true;
        BEGAN.notify_all();
        clock.join().unwrap();
    }
}

pub mod sync {
    pub use real::sync::OnceLock;
    pub use shuttle::sync::{Arc, LockResult, Mutex, MutexGuard, PoisonError, TryLockError, Weak, atomic};

    use super::passing;
    use real::time::Duration;

    /// One whose waits end in time.
    #[derive(Debug, Default)]
    pub struct Condvar(Arc<shuttle::sync::Condvar>);

    /// Nobody asks whether a wait ended by its time.
    pub struct Waited;

    impl Condvar {
        pub fn new() -> Self {
            Self::default()
        }

        pub fn notify_one(&self) {
            self.0.notify_one();
        }

        pub fn notify_all(&self) {
            self.0.notify_all();
        }

        pub fn wait_timeout<'a, T>(
            &self,
            guard: MutexGuard<'a, T>,
            wait: Duration,
        ) -> LockResult<(MutexGuard<'a, T>, Waited)> {
            let began = passing::begins(wait, &self.0);
            let guard = self.0.wait(guard).unwrap_or_else(PoisonError::into_inner);
            passing::ends(began);
            Ok((guard, Waited))
        }
    }
}

pub mod thread {
    pub use super::passing::sleep;
    pub use shuttle::thread::{Builder, ThreadId, current};
}

pub mod world;
