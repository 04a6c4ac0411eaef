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
