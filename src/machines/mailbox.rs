//! The core's mailbox: what a person or the system says overtakes what boards say.
//!
//! Promises: moments never run backwards; a key keeps the moment at which it came, since an answer is judged by it, and
//! all else has that of its delivery, so that a core that slept sees the gap; nothing piles up without end, and neither
//! Ctrl-C nor a signal is ever dropped. Must not be here: what an event means.

use crate::measure::time::Time;
use crate::seam::guardian::GuardianEvent;
use crate::seam::{Event, Key};
use std::collections::VecDeque;

/// What waits at most before a wire has to wait with its bytes; a board that never pauses must not fill the memory.
const MOST: usize = 256;
/// Keys that wait at most; more of them say nothing to a core that does not take them.
const MOST_KEYS: usize = 1024;

/// See the module.
#[derive(Debug, Default)]
pub struct Lanes {
    /// What a person or the system says, with the moment at which it came.
    urgent: VecDeque<(Time, Event)>,
    rest: VecDeque<Event>,
    last: Time,
}

impl Lanes {
    /// Puts an event in.
    pub fn post(&mut self, now: Time, event: Event) {
        match &event {
            // A paste is told for each of its bytes; one that nobody took yet stands for them.
            Event::Paste if matches!(self.urgent.back(), Some((_, Event::Paste))) => {}
            Event::Key(key) if *key != Key::Interrupt && self.urgent.len() >= MOST_KEYS => {}
            Event::Key(_)
            | Event::Paste
            | Event::Line(_)
            | Event::EndOfInput
            | Event::Signal(_)
            | Event::ThreadEnded(_)
            | Event::Guardian(
                GuardianEvent::Held(_) | GuardianEvent::Released | GuardianEvent::Fired | GuardianEvent::TooLate,
            ) => {
                self.urgent.push_back((now, event));
            }
            Event::Bytes(..)
            | Event::Lost
            | Event::AnotherPeer
            | Event::Opened(..)
            | Event::Stored(..)
            | Event::Record(_)
            | Event::Recipe(_)
            | Event::Guardian(GuardianEvent::Gone)
            | Event::Tick => self.rest.push_back(event),
        }
    }

    /// Whether a wire may put bytes in; what waits stays with the system.
    #[must_use]
    pub fn has_room(&self) -> bool {
        self.rest.len() < MOST
    }

    /// The next event; [`Event::Tick`] once it is `until`, `None` before.
    pub fn take(&mut self, now: Time, until: Time) -> Option<(Time, Event)> {
        let found = self.urgent.pop_front().or_else(|| self.rest.pop_front().map(|event| (now, event)));
        let (at, event) = found.or_else(|| (now >= until).then_some((now, Event::Tick)))?;
        self.last = self.last.max(at);
        Some((self.last, event))
    }
}
