//! Helper threads: one that ends without having been told to is an event, so that nobody goes on deaf, blind or mute.
//!
//! Must not be here: what such an end leads to.

use super::mailbox::Mailbox;
use crate::seam::Event;
use std::io;
use std::thread::Builder;

/// Starts a helper. `work` says at its end whether it was told to end, or said itself by another event why it did.
pub(super) fn start(
    name: &'static str,
    mailbox: &Mailbox,
    work: impl FnOnce() -> bool + Send + 'static,
) -> io::Result<()> {
    let mailbox = mailbox.clone();
    Builder::new().name(name.to_owned()).spawn(move || {
        let mut watched = Watched { name, mailbox, told: false };
        watched.told = work();
    })?;
    Ok(())
}

/// Dropped at the end of its thread, by whatever that ended.
struct Watched {
    name: &'static str,
    mailbox: Mailbox,
    told: bool,
}

impl Drop for Watched {
    fn drop(&mut self) {
        if !self.told {
            self.mailbox.post(Event::ThreadEnded(self.name));
        }
    }
}

/// In builds for tests a thread breaks down at its next turn once its name stands in the file that this variable names:
/// only so can a test show, on the real program at a real wire, what the breakdown of each thread leads to.
#[cfg(debug_assertions)]
pub(super) fn turn() {
    use std::path::PathBuf;
    use std::sync::OnceLock;
    static BREAKS: OnceLock<Option<PathBuf>> = OnceLock::new();
    let breaks = BREAKS.get_or_init(|| std::env::var_os("QUADJIG_TEST_BREAKS").map(PathBuf::from));
    let Some(name) = breaks.as_ref().and_then(|file| std::fs::read_to_string(file).ok()) else { return };
    assert!(std::thread::current().name() != Some(name.as_str()), "on purpose, by a test");
}

/// A turn of a thread.
#[cfg(not(debug_assertions))]
pub(super) fn turn() {}

#[cfg(test)]
mod tests {
    use super::start;
    use crate::measure::time::Time;
    use crate::seam::Event;
    use crate::world::clock::Clock;
    use crate::world::mailbox::Mailbox;
    use std::time::Duration;

    /// Where no hook ends the process, as in another program that uses this library, the core is told.
    #[test]
    fn only_an_end_that_nobody_wanted_is_an_event() {
        let clock = Clock::start();
        let mailbox = Mailbox::new(clock);
        start("told", &mailbox, || true).unwrap();
        start("ends", &mailbox, || false).unwrap();
        let later = |clock: &Clock| clock.now() + Duration::from_secs(5);
        assert!(matches!(mailbox.take(later(&clock)).1, Event::ThreadEnded("ends")));
        start("panics", &mailbox, || std::panic::panic_any("on purpose")).unwrap();
        assert!(matches!(mailbox.take(later(&clock)).1, Event::ThreadEnded("panics")));
        assert!(matches!(mailbox.take(Time(0)).1, Event::Tick));
    }
}
